//! What a sitting at the block is about, and what its heatings are recorded with.

use metrology::{Length, Temperature};
use trial::moment::Moment;
use trial::number::{PersonName, PlanNumber};

use crate::step::confirm::Heating;

/// What a sitting is about.
#[derive(Clone)]
pub(in crate::web) struct About {
    /// Its number in this run of the program.
    pub(in crate::web) number: u32,
    /// The plan for which the flame is confirmed.
    pub(in crate::web) plan: PlanNumber,
    /// Who began it.
    pub(in crate::web) by: PersonName,
    /// The source, in words.
    pub(in crate::web) source: String,
    /// Why what it gives is no measurement, where it is none.
    pub(in crate::web) made_up: Option<String>,
    /// Whether its heatings are recorded in the book.
    pub(in crate::web) records: bool,
    /// What is stated to read its recordings.
    pub(in crate::web) read_as: Vec<String>,
    /// The temperature of the terminals when it began, where it was measured.
    pub(in crate::web) terminals: Option<Temperature>,
    /// The visible height of the flame, where it was measured.
    pub(in crate::web) flame_height: Option<Length>,
    /// The file of all that the source tells.
    pub(in crate::web) recording: String,
}

impl About {
    /// The same for one heating. Before the first one the block rests at the terminals, and is
    /// held against them; before a later one it does not, and they are remarked on alone.
    pub(super) fn of(&self, first: bool) -> Self {
        let mut about = self.clone();
        if let Some(terminals) = about.terminals.filter(|_| first) {
            about.read_as.push(format!("--terminals={}", terminals.celsius()));
            about.terminals = None;
        }
        about
    }

    /// What is remarked on a heating.
    pub(super) fn remarks(&self) -> Vec<String> {
        let terminals = self.terminals.map(|terminals| {
            format!("The terminals had {terminals:.1} when the sitting at the block began.")
        });
        self.made_up.iter().cloned().chain(terminals).collect()
    }

    pub(super) fn heating(&self) -> Heating<'_> {
        Heating { plan: self.plan, read_as: &self.read_as, flame_height: self.flame_height }
    }

    /// What the recording of a heating is called as evidence.
    pub(super) fn file_name(&self, at: Moment) -> String {
        format!("heating {}.csv", at.to_string().replace(':', "-"))
    }
}
