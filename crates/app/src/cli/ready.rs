//! `ready`: may it begin?

use clap::{Args, Subcommand};
use metrology::{Ratio, Temperature};
use trial::fact::{Conditioned, Conditioning, Fact};
use trial::moment::Moment;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::readiness::CAUTIONS;
use trial::rules::Range;

use super::Global;
use crate::book::OpenBook;
use crate::form::written::Written;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step;

/// Checks whether a test may begin
///
/// Examples:
///   cinderbook ready conditioned 1 --specimens 1,2,3 --from 2026-11-24T08:00:00Z \
///       --until 2026-11-25T09:00:00Z --temperature "22 °C to 24 °C" --humidity "48 % to 52 %"
///   cinderbook ready conditioned 1 --layer --from … --until … --temperature … --humidity …
///   cinderbook ready cautions 1              read them, and acknowledge them
///   cinderbook ready check 1
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Ready {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Records how specimens or the layer were conditioned
    Conditioned {
        /// The plan
        plan: u32,
        /// Which specimens, such as 1,2,3
        #[arg(long, value_delimiter = ',', required_unless_present = "layer")]
        specimens: Vec<u32>,
        /// The layer below
        #[arg(long, conflicts_with = "specimens")]
        layer: bool,
        /// When it began
        #[arg(long)]
        from: Written<Moment>,
        /// When it ended
        #[arg(long)]
        until: Written<Moment>,
        /// The temperature kept, such as "22 °C to 24 °C"
        #[arg(long)]
        temperature: Written<Range<Temperature>>,
        /// The relative humidity kept, such as "48 % to 52 %"
        #[arg(long)]
        humidity: Written<Range<Ratio>>,
    },
    /// Shows the cautions, and records that they were read
    Cautions {
        /// The plan
        plan: u32,
    },
    /// Checks everything, and records what was found
    Check {
        /// The plan
        plan: u32,
    },
}

impl Ready {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        match &self.what {
            What::Conditioned { plan, specimens, layer, from, until, temperature, humidity } => {
                let specimens = specimens.iter().copied().map(SpecimenNumber).collect();
                let what =
                    if *layer { Conditioned::Layer } else { Conditioned::Specimens(specimens) };
                let conditioning = Conditioning {
                    plan: PlanNumber(*plan),
                    what,
                    from: from.0,
                    until: until.0,
                    temperature: temperature.0,
                    humidity: humidity.0,
                };
                book.keep(&Fact::ConditioningRecorded(conditioning), output)?;
                output.word(&format!("Next: `cinderbook ready check {plan}`."));
            }
            What::Cautions { plan } => {
                for caution in CAUTIONS {
                    output.value(&format!("- {caution}"));
                }
                book.keep(&Fact::CautionsAcknowledged { plan: PlanNumber(*plan) }, output)?;
                output.word(&format!("Next: `cinderbook ready check {plan}`."));
            }
            What::Check { plan } => {
                step::ready::ready(&mut book, PlanNumber(*plan), output)?;
                output.value(&format!("plan {} is ready", PlanNumber(*plan)));
                output.word(&format!("Next: `cinderbook confirm files {plan} FILE…`."));
            }
        }
        Ok(Exit::Good)
    }
}
