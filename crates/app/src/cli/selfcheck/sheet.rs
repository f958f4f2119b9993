//! The validation sheet of one machine: which program, which machine, each case with what was
//! expected and what came, and a place to sign (ISO/IEC 17025, 7.11.2).
#![expect(clippy::disallowed_methods, reason = "the program's own file is read")]

use std::fmt::Write as _;
use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use metrology::reference_cases::ReferenceCase;
use report::pdf::{ValidationPages, validation_sheet};
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use trial::fact::{EvidenceHash, EvidenceKind, Fact};
use trial::machine::Validation;

use super::shown;
use crate::book::{OpenBook, moment_now};
use crate::output::Output;
use crate::problem::Problem;

/// What a sheet says of itself.
const ABOUT: &str = "Published and hand-calculated values, computed again on this machine by this \
                     program. A source from memory was not at hand when its number was written down. \
                     The limit of a case follows from the digits that were printed; for trials it adds \
                     four standard deviations of their own scatter. It is for the laboratory to say \
                     whether the cases cover what it uses the program for.";

/// A sheet.
#[derive(Serialize)]
pub(super) struct Sheet {
    program: Program,
    machine: String,
    at: String,
    by: String,
    result: String,
    about: &'static str,
    off: usize,
    cases: Vec<Case>,
}

/// The program.
#[derive(Serialize)]
struct Program {
    name: String,
    version: &'static str,
    sha256: String,
}

/// One case, its numbers with the digits that matter.
#[derive(Serialize)]
struct Case {
    name: String,
    source: &'static str,
    unit: &'static str,
    expected: String,
    found: String,
    limit: String,
    agrees: bool,
    remark: Option<&'static str>,
}

impl Sheet {
    /// The sheet of these cases on this machine, now.
    ///
    /// # Errors
    ///
    /// Where the program's own file cannot be read.
    pub(super) fn of(cases: &[ReferenceCase], by: Option<&str>) -> Result<Self, Problem> {
        let off = cases.iter().filter(|case| !case.agrees()).count();
        let version = env!("CARGO_PKG_VERSION");
        let result = if off == 0 {
            format!("All {} cases lie within their limit.", cases.len())
        } else {
            format!(
                "{off} of {} cases lie outside their limit: measure nothing with it.",
                cases.len()
            )
        };
        let at = moment_now()?.to_string();
        let whole = at.split(['.', 'Z']).next().unwrap_or_default();
        Ok(Self {
            program: Program {
                name: format!("Cinderbook {version}"),
                version,
                sha256: hex::encode(own_file()?),
            },
            machine: machine(),
            at: format!("{whole}Z"),
            by: by.unwrap_or("not said").to_owned(),
            result,
            about: ABOUT,
            off,
            cases: cases.iter().map(Case::of).collect(),
        })
    }

    /// The sheet in the form that the end of the file's name asks for.
    ///
    /// # Errors
    ///
    /// Where it asks for none that is known here.
    pub(super) fn written(&self, path: &Path) -> Result<Vec<u8>, Problem> {
        let ending = path.extension().and_then(|it| it.to_str()).unwrap_or_default();
        match ending.to_ascii_lowercase().as_str() {
            "pdf" => {
                let pages =
                    ValidationPages { program: &self.program.name, at: &self.at, data: self };
                validation_sheet(&pages).map_err(|error| {
                    Problem::surroundings("cannot set the sheet: this is a bug of ours")
                        .because(&error)
                })
            }
            "json" => Ok(self.json()),
            "txt" => Ok(self.text().into_bytes()),
            _ => Err(Problem::used_wrongly(format!(
                "`{}` names no form of the sheet",
                path.display()
            ))
            .hint("End the name in .pdf, .txt or .json.")),
        }
    }

    fn json(&self) -> Vec<u8> {
        // Its values have text keys only, so this cannot go wrong.
        serde_json::to_vec_pretty(self).unwrap_or_default()
    }

    fn text(&self) -> String {
        let Self { program, machine, at, by, result, about, .. } = self;
        let mut text = format!(
            "Validation sheet\n\n{result}\n\nProgram:  {}\nIts file: SHA-256 {}\nMachine:  {machine}\n\
             When:     {at}\nBy:       {by}\n\n{about}\n",
            program.name, program.sha256
        );
        let mut source = "";
        for case in &self.cases {
            if case.source != source {
                source = case.source;
                let _ = write!(text, "\n{source}\n");
            }
            let Case { name, expected, found, limit, unit, .. } = case;
            let mark = if case.agrees { "agrees" } else { "IS OFF" };
            let unit = if *unit == "1" { "" } else { unit };
            let _ = writeln!(
                text,
                "  {mark}  {name}: expected {expected}, found {found} {unit} (limit {limit})"
            );
        }
        text.push_str(
            "\nName ____________________  Date ____________  Signature ____________________\n",
        );
        text
    }

    /// Keeps in a book that the program was held against its cases, the sheet as evidence.
    ///
    /// # Errors
    ///
    /// As the book says.
    pub(super) fn keep(&self, book: &mut OpenBook, output: &Output) -> Result<(), Problem> {
        let (name, kind) = (
            format!("validation-{}.json", self.at.split('T').next().unwrap_or_default()),
            EvidenceKind::Other,
        );
        let sheet = book.file_bytes(&name, kind, &mut self.json().as_slice())?;
        let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let validation = Validation {
            version: self.program.version.to_owned(),
            program: EvidenceHash(own_file()?),
            machine: self.machine.clone(),
            cases: number(self.cases.len()),
            off: number(self.off),
            sheet,
        };
        book.keep(&Fact::ProgramValidated(validation), output).map(drop)
    }
}

impl Case {
    fn of(case: &ReferenceCase) -> Self {
        let [found, expected, _, limit] = shown(case);
        Self {
            name: case.name.clone(),
            source: case.source,
            unit: case.unit,
            expected,
            found,
            limit,
            agrees: case.agrees(),
            remark: case.remark,
        }
    }
}

/// This machine, in words.
fn machine() -> String {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    format!("{} {}, {cores} cores", std::env::consts::OS, std::env::consts::ARCH)
}

/// The SHA-256 of the file that runs.
fn own_file() -> Result<[u8; 32], Problem> {
    let cannot = |error: std::io::Error| {
        Problem::surroundings("the program's own file cannot be read").because(&error)
    };
    let path = std::env::current_exe().map_err(cannot)?;
    let (mut file, mut sum) = (File::open(path).map_err(cannot)?, Sha256::new());
    let mut piece = vec![0; 1 << 20];
    loop {
        match file.read(&mut piece).map_err(cannot)? {
            0 => return Ok(sum.finalize().into()),
            bytes => sum.update(piece.get(..bytes).unwrap_or_default()),
        }
    }
}
