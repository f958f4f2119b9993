//! R18: the same random commands on both stores come to the same bundle, to the byte; each command
//! is held against the history first, as the program does, and some are refused.
//!
//! 200 commands in a test run: `CINDERBOOK_COMMANDS` asks for more.

use jiff::civil::date;
use ledger::{Book, library};
use sha2::{Digest as _, Sha256};
use trial::fact::{
    Authorisation, Calibration, CalibrationNeed, Equipment, EquipmentKind, EvidenceKind, Fact, Lot,
    LotKind, Recorded,
};
use trial::history::History;
use trial::number::{EntryNumber, EquipmentNumber, LotNumber, PersonName, PlanNumber};
use trial::rules::Library;

use super::{Made, Server};
use crate::copies::contents;
use crate::damage::Shuffled;
use crate::story::{minute, opened};

/// A program with a book: its history, and what it did.
struct Program {
    book: Book,
    history: History,
    library: Library,
    kept: u64,
    refused: u64,
}

impl Program {
    fn on(book: Book) -> Self {
        let (history, library) = (History::default(), library().unwrap());
        Self { book, history, library, kept: 0, refused: 0 }
    }

    /// Keeps a fact that may follow, and says whether it did.
    fn keep(&mut self, who: &str, fact: Fact) {
        let number = self.book.head().map_or(1, |head| head.number + 1);
        let (entry, at, who) = (EntryNumber(number), minute(number), PersonName::from(who));
        let next = Recorded { entry, at, who: who.clone(), fact: fact.clone() };
        if self.history.follow(&self.library, next).is_err() {
            self.refused += 1;
            return;
        }
        self.book.append(at, &who, &fact).unwrap();
        self.kept += 1;
    }

    /// One random command; the same shuffle gives the same command.
    fn command(&mut self, shuffled: &mut Shuffled) {
        let (kind, nth, other) = (shuffled.below(7), shuffled.below(60), shuffled.below(4));
        let who = ["Ana Ruiz", "Ben\nOdd", "ünïcode \u{1f525}", "D'Arcy \\ \"quoted\""][other];
        let equipment = EquipmentNumber(format!("E-{nth}"));
        let fact = match kind {
            0 => Fact::PersonAdmitted {
                person: PersonName(format!("{who} {nth}")),
                authorisations: vec![Authorisation::Test],
            },
            1 => Fact::EquipmentRegistered(Equipment {
                number: equipment,
                kind: EquipmentKind::Timer,
                description: who.to_owned(),
                calibration: CalibrationNeed::NotNeeded,
            }),
            2 => Fact::EquipmentWithdrawn { equipment, reason: format!("reason {who}") },
            3 => Fact::LotOpened(Lot {
                number: LotNumber(format!("L-{nth}-{other}")),
                kind: LotKind::Gas,
                description: who.to_owned(),
            }),
            4 => {
                let text = format!("certificate {}", nth % 9);
                let kind = EvidenceKind::Certificate;
                let filed = self.book.file_evidence("K-1.pdf", kind, &mut text.as_bytes());
                Fact::CalibrationRecorded(Calibration {
                    equipment,
                    certificate: text,
                    by: who.to_owned(),
                    on: date(2025, 11, 3),
                    due: date(2026, 11, 2),
                    result: "within class 1".to_owned(),
                    evidence: Some(filed.unwrap()),
                })
            }
            5 => Fact::CautionsAcknowledged { plan: PlanNumber(9) },
            // A correction replays the whole book: seldom.
            _ if nth > 3 => Fact::EquipmentWithdrawn { equipment, reason: String::new() },
            _ => Fact::Corrected {
                entry: EntryNumber(u64::try_from(nth + other * 40).unwrap()),
                reason: "taken back".to_owned(),
                by: None,
            },
        };
        self.keep(who, fact);
    }
}

fn bundle_hash(program: &Program) -> String {
    let place = tempfile::tempdir().unwrap();
    let bundle = place.path().join("bundle");
    program.book.export(&bundle).unwrap();
    let mut hasher = Sha256::new();
    for (name, bytes) in contents(&bundle) {
        hasher.update(format!("{name} {}\n", bytes.len()));
        hasher.update(bytes);
    }
    format!("{:x?}", hasher.finalize())
}

#[test]
fn the_same_random_commands_on_both_stores_come_to_the_same_bundle() {
    let asked = std::env::var("CINDERBOOK_COMMANDS");
    let commands: u64 = asked.map_or(200, |text| text.parse().unwrap());
    let (made, place) = (Made::on(Server::shared()), tempfile::tempdir().unwrap());
    let hashes = [made.book(), Book::create(&place.path().join("book")).unwrap()].map(|book| {
        let (mut program, mut shuffled) = (Program::on(book), Shuffled(18));
        program.keep("Ana Ruiz", opened());
        (0..commands).for_each(|_| program.command(&mut shuffled));
        assert!(program.kept > commands / 3 && program.refused > commands / 20);
        eprintln!("{commands} commands: {} kept, {} refused", program.kept, program.refused);
        bundle_hash(&program)
    });
    assert_eq!(hashes[0], hashes[1]);
}
