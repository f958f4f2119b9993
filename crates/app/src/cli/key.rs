//! `key`: the book's own key, which signs its heads.

use clap::{Args, Subcommand};

use super::Global;
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::{Exit, Problem};
use crate::step::proof::{Lost, keys, renew};

/// Shows the key that signs the heads of the book, and lets another take its place
///
/// Examples:
///   cinderbook --book my-book key show                               its public half, for customers
///   cinderbook --book my-book key renew --reason "yearly"
///   cinderbook --book my-book key renew --lost --reason "the disk broke"
///
/// The key is the file `key` in the book's folder, for its owner alone. No backup and no bundle
/// holds it: keep a copy of it in a safe place.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Key {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Writes the public half of the key
    Show,
    /// Makes another key, which is recorded as taking the place of this one
    Renew {
        /// Why
        #[arg(long)]
        reason: String,
        /// The earlier key is lost and cannot sign
        #[arg(long)]
        lost: bool,
    },
}

impl Key {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        match &self.what {
            What::Show => {
                let keys = keys(&book)?;
                let current = keys.as_ref().and_then(|keys| keys.current()).ok_or_else(|| {
                    Problem::used_wrongly("the book has no key yet")
                        .hint("One begins by itself with the first report or with `record head`.")
                })?;
                output.value(&current.to_string());
                output.word("Next: give it to your customers, in another way than the reports.");
            }
            What::Renew { reason, lost } => {
                let lost = if *lost { Lost::Yes } else { Lost::No };
                let key = renew(&mut book, reason, lost, output)?;
                output.value(&key);
                output.word("Next: give it to your customers, and keep a copy of the file `key`.");
            }
        }
        Ok(Exit::Good)
    }
}
