//! What Set up says of the server, of the book's folder, and of the rules that are built in.

use maud::{Markup, html};
use serde::Serialize;
use trial::rules::{Rules, Standing};
use utoipa::ToSchema;

use super::act;
use crate::book::OpenBook;
use crate::copied::LastBackup;
use crate::rules::numbers;
use crate::web::access::Promise;
use crate::web::page::{shown, when};
use crate::web::site::Site;

/// How the book is reached, and how it is kept.
#[derive(Serialize, ToSchema)]
pub(super) struct Reached {
    /// Where the pages are.
    addresses: Vec<String>,
    /// What they are enciphered with; nothing on this machine alone.
    certificate: Option<Shown>,
    /// The book's folder, on the machine that serves it.
    folder: String,
    /// The folder of the security log, there.
    log: String,
    /// The last backup that was made with this program.
    last_backup: Option<LastBackup>,
    /// How many MiB its disk has left, where the system tells.
    disk_left_mib: Option<u64>,
    /// When the program was held against its reference cases last, in words.
    validated: Option<String>,
}

/// The certificate that is shown.
#[derive(Serialize, ToSchema)]
struct Shown {
    /// Who issued it.
    issued_by: String,
    /// Whether that is the book's own authority.
    own: bool,
    /// The day on which it ends.
    until: String,
    /// Whether browsers are told to reach the book enciphered alone (HSTS).
    promise: Promise,
}

/// One set of rules.
#[derive(Serialize, ToSchema)]
pub(super) struct Method {
    /// Its id.
    id: String,
    /// The standard.
    standard: String,
    /// The edition.
    edition: String,
    /// How many numbers it has.
    numbers: usize,
    /// How many of them stand as seen in the edition.
    seen: usize,
    /// How many stand from memory, and were held against no copy of the laboratory's.
    from_memory: usize,
    /// How many the laboratory held against its own copy.
    verified: usize,
}

/// How a book is reached and kept.
pub(super) fn reached(site: &Site, book: &OpenBook) -> Reached {
    let (scheme, folder) = (site.scheme(), book.book().folder());
    Reached {
        addresses: site.names().iter().map(|name| format!("{scheme}://{name}/")).collect(),
        certificate: site.enciphered().map(|enciphered| {
            let certificate = enciphered.certificate();
            Shown {
                issued_by: certificate.issuer,
                own: site.authority().is_some(),
                until: certificate.until.to_string(),
                promise: site.access().promise(),
            }
        }),
        folder: folder.display().to_string(),
        log: site.access().log().folder().display().to_string(),
        last_backup: LastBackup::of(folder),
        disk_left_mib: ledger::room::left(folder).map(|left| left >> 20),
        validated: book.history().validation().map(|last| {
            let it = &last.validation;
            let (at, who) = (when(last.at), &last.who);
            let own = if it.version == env!("CARGO_PKG_VERSION") { "" } else { ": not this one" };
            format!(
                "version {}{own}, {at}, by {who}: {} of {} cases outside their limit",
                it.version, it.off, it.cases
            )
        }),
    }
}

/// The rules that are built in.
pub(super) fn methods(book: &OpenBook) -> Vec<Method> {
    book.library().all().into_iter().map(|rules| method(book, rules)).collect()
}

fn method(book: &OpenBook, rules: &Rules) -> Method {
    let (mut seen, mut from_memory, mut verified) = (0, 0, 0);
    for (_, entry) in numbers(rules) {
        let id = &rules.head.id;
        if book.history().verified(id, &entry.key, &entry.text()).is_some() {
            verified += 1;
        } else if entry.standing == Standing::Memory {
            from_memory += 1;
        } else {
            seen += 1;
        }
    }
    Method {
        id: rules.head.id.to_string(),
        standard: rules.head.standard.clone(),
        edition: rules.head.edition.clone(),
        numbers: numbers(rules).count(),
        seen,
        from_memory,
        verified,
    }
}

/// How the book is reached and kept.
pub(super) fn main(reached: &Reached, mine: bool) -> Markup {
    let folder = &reached.folder;
    html! {
        h2 { "How the book is reached" }
        ul { @for address in &reached.addresses { li { code { (address) } } } }
        @match &reached.certificate {
            None => p {
                "From this machine alone, and not enciphered. For the laboratory's network start it "
                "with " code { "serve --listen 0.0.0.0:4160" } "."
            },
            Some(shown) => {
                p {
                    "Enciphered, by a certificate of " strong { (shown.issued_by) }
                    @if shown.own { ", the book's own authority" } ", which ends on "
                    strong { (shown.until) } ". It is renewed every day while the book is open."
                    @if shown.own {
                        " " a href="/device/certificate" { "How a device trusts it" } "."
                    }
                }
                @if mine { (act("renew", &[], "Renew the certificate", "")) }
                (promise(shown.promise, mine))
            }
        }
        h2 { "How the book is kept" }
        dl.said {
            dt { "Folder" } dd { code { (folder) } }
            dt { "Last backup" }
            dd { @match &reached.last_backup {
                None => "none was made yet",
                Some(last) => {
                    (last.at) ", in " code { (last.to) }
                    @if let Some(head) = &last.head { ", head " code { (head) } }
                }
            } }
            @if let Some(left) = reached.disk_left_mib {
                dt { "Room on its disk" } dd { (room_words(left)) }
            }
            dt { "Program validated" }
            dd { @match &reached.validated {
                Some(words) => (words),
                None => { "not on record: " code { "selfcheck --keep" } },
            } }
            dt { "Security log" }
            dd {
                code { (reached.log) } ", a file a month, kept for a year"
                @if mine { ". " a href="/setup/log" { "Read it" } }
            }
        }
        p { "Make a backup on another disk with this command, also while the book is in use:" }
        pre { "cinderbook --book " (quoted(folder)) " backup FOLDER" }
    }
}

/// Room on a disk as it is read.
fn room_words(mib: u64) -> String {
    const GIB: u64 = 1 << 10;
    if mib < GIB {
        return format!("{mib} MiB");
    }
    let tenths = mib * 10 / GIB;
    format!("{}.{} GiB", tenths / 10, tenths % 10)
}

/// Whether browsers are told to reach the book enciphered alone.
fn promise(promise: Promise, mine: bool) -> Markup {
    html! {
        @if promise == Promise::Given {
            p { "Browsers are told to reach this book's name enciphered alone, for a year." }
            @if mine { (act("no-promise", &[], "Tell them so no longer", "")) }
        } @else if mine {
            p.hint {
                "Once the certificate is known to work on the enrolled devices, their browsers can be told to "
                "reach this book's name enciphered alone (HSTS). Then no warning can be passed by any more."
            }
            (act("enciphered-alone", &[], "Tell browsers to come enciphered alone", ""))
        }
    }
}

/// A folder as a command line takes it.
fn quoted(folder: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "/\\.:_-".contains(c);
    if folder.chars().all(plain) { folder.to_owned() } else { format!("\"{folder}\"") }
}

/// The rules that are built in, with their standing.
pub(super) fn rules(methods: &[Method]) -> Markup {
    let table = html! {
        table {
            thead { tr { th scope="col" { "Rules" } th scope="col" { "Edition" }
                th.number scope="col" { "Numbers" } th.number scope="col" { "Seen" }
                th.number scope="col" { "From memory" } th.number scope="col" { "Verified here" } } }
            tbody { @for it in methods { tr {
                td { (it.standard) " " code { (it.id) } }
                td { (it.edition) }
                td.number { (it.numbers) }
                td.number { (it.seen) }
                td.number { (it.from_memory) }
                td.number { (it.verified) }
            } } }
        }
    };
    html! {
        h2 { "Method editions" }
        p {
            "Hold each number that stands from memory against your own copy, and record it with "
            code { "standards verify" } "; reports say how each stands."
        }
        (shown::wide("Method editions", &table))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_is_read_in_gibibytes_never_more_than_there_is() {
        assert_eq!(room_words(0), "0 MiB");
        assert_eq!(room_words(1023), "1023 MiB");
        assert_eq!(room_words(1024), "1.0 GiB");
        assert_eq!(room_words(2047), "1.9 GiB");
        assert_eq!(room_words(45_949), "44.8 GiB");
    }
}
