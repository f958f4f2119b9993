//! `about`: which program this is, what it is made of, and under which licences.

mod sbom;

use clap::Args;

use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};

/// The parts, one a line: made from what cargo says, and held to it by a test.
const PARTS: &str = include_str!("parts.tsv");

/// The licence texts of the parts, each once.
const LICENCES: &str = include_str!("licences.txt");

/// Tells which program this is, what it is made of, and under which licences
///
/// Examples:
///   cinderbook about                        version, and how many parts
///   cinderbook about --parts                each part with its version and licence
///   cinderbook about --sbom > parts.json    the same for a program: CycloneDX 1.6
///   cinderbook about --licences             the texts of all licences
///
/// The parts are those of the program on Linux; on another system some few differ.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct About {
    /// List the parts
    #[arg(long, conflicts_with_all = ["sbom", "licences"])]
    parts: bool,
    /// Write the parts as CycloneDX 1.6
    #[arg(long, conflicts_with = "licences")]
    sbom: bool,
    /// Write the licence texts
    #[arg(long)]
    licences: bool,
}

/// One part.
struct Part<'a> {
    name: &'a str,
    version: &'a str,
    licence: &'a str,
    /// Of its package; nothing for our own rooms.
    sha256: &'a str,
    /// The parts it needs, as name and version.
    needs: Vec<&'a str>,
}

impl About {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let all: Vec<Part<'_>> = PARTS.lines().filter_map(Part::of).collect();
        if self.sbom || output.form() == Form::Json {
            output.json(&sbom::of(&all));
        } else if self.licences {
            output.value(LICENCES);
        } else if self.parts {
            for Part { name, version, licence, .. } in &all {
                output.value(&format!("{name} {version}\t{licence}"));
            }
        } else {
            let outside = all.iter().filter(|part| !part.sha256.is_empty()).count();
            output.value(&format!(
                "Cinderbook {}, under {}\n{outside} parts of others, on Linux; `--parts` lists them, \
                 `--licences` holds their texts",
                env!("CARGO_PKG_VERSION"),
                env!("CARGO_PKG_LICENSE"),
            ));
        }
        Ok(Exit::Good)
    }
}

impl<'a> Part<'a> {
    fn of(line: &'a str) -> Option<Self> {
        let mut cells = line.split('\t');
        let (name, version) = cells.next()?.split_once(' ')?;
        let (licence, sha256, needs) = (cells.next()?, cells.next()?, cells.next()?);
        let needs = needs.split(", ").filter(|need| !need.is_empty()).collect();
        Some(Self { name, version, licence, sha256, needs })
    }

    /// What it is called by the parts that need it.
    fn reference(&self) -> String {
        format!("{} {}", self.name, self.version)
    }
}
