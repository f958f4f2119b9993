//! What stands around every page: title, the way about the book, the mark of a made-up one.

use maud::{DOCTYPE, Markup, html};

use super::page::help;
use super::stacked::with_heads;

/// Where the bar leads: name and address.
const BAR: &[(&str, &str)] = &[
    ("Today", "/"),
    ("Bench", "/bench"),
    ("Plans", "/plans"),
    ("Flame", "/flame"),
    ("Reports", "/reports"),
    ("Equipment", "/equipment"),
    ("Record", "/record"),
    ("Set up", "/setup"),
    ("This device", "/device"),
];

/// Where help is.
pub(super) const HELP: &str = "/help";

/// What the bar needs to know.
#[derive(Clone, Debug)]
pub(super) struct Around {
    /// The laboratory's name.
    pub(super) laboratory: String,
    /// Whether the book is made up.
    pub(super) made_up: bool,
    /// Who is signed in.
    pub(super) person: String,
    /// The address of the page in the bar.
    pub(super) here: &'static str,
}

/// A page: `title` in the window, `heading` on it.
pub(super) fn page(title: &str, heading: &str, around: Option<&Around>, main: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Cinderbook" }
                link rel="stylesheet" href="/assets/style.css";
                script type="module" src="/assets/outbox.js" {}
                script type="module" src="/assets/printed.js" {}
                link rel="icon" href="/assets/icon.svg" type="image/svg+xml";
            }
            body {
                a.skip href="#main" { "Skip to the page" }
                @if let Some(around) = around {
                    @if around.made_up {
                        section.made-up aria-label="Made-up book" {
                            p { "Made-up laboratory: nothing here is a test result" }
                        }
                    }
                    (bar(around))
                } @else {
                    header.above { ul { (help(HELP, false)) } }
                }
                main #main tabindex="-1" {
                    h1 { (heading) }
                    (with_heads(main))
                }
            }
        }
    }
}

/// Help, at the end of the list on every page.
fn help(address: &str, here: bool) -> Markup {
    html! { li { a href=(address) aria-current=[here.then_some("page")] { "Help" } } }
}

fn bar(around: &Around) -> Markup {
    html! {
        header.bar {
            p.laboratory { (around.laboratory) }
            nav aria-label="The book" {
                ul {
                    @for (name, address) in BAR {
                        li {
                            a href=(address) aria-current=[(*address == around.here).then_some("page")] {
                                (name)
                            }
                        }
                    }
                    (help(&help::on(around.here), around.here == HELP))
                }
            }
            p.person { (around.person) }
            form method="post" action="/sign-out" { button.second { "Sign out" } }
        }
    }
}
