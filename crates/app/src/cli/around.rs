//! `around`: gas, purge and smoke around the flame. A guide.

use clap::{Args, Subcommand};
use metrology::{Duration, Length, Mass, Ratio, Temperature};
use trial::around::{Chamber, Gas, Smoke};

use crate::form::run::word;
use crate::form::written::Written;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::around::{self, Flame, GUIDE};

/// Tells how much gas burns, how long to purge, and what smoke may hold: a guide
///
/// Examples:
///   cinderbook around flame --gas butane --height "12 mm"
///   cinderbook around flame --gas butane --cartridge "400 g" --burnt "3 h"
///   cinderbook around purge --chamber 0.5 --extraction 100 --mixing 3
///   cinderbook around smoke "PA 66, glass filled" --burnt "1 g" --chamber 0.5
///
/// Needs no book, keeps nothing and judges nothing. Local rules decide.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Around {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand, Debug)]
enum What {
    /// How much gas a flame of a height burns, and what is left of a cartridge
    Flame {
        /// butane or propane
        #[arg(long)]
        gas: String,
        /// The flame's height
        #[arg(long, default_value = "12 mm")]
        height: Written<Length>,
        /// The room's temperature
        #[arg(long, default_value = "23 °C")]
        room: Written<Temperature>,
        /// What the cartridge held when it was new
        #[arg(long, requires = "burnt")]
        cartridge: Option<Written<Mass>>,
        /// How long the flame has burnt from it
        #[arg(long, requires = "cartridge")]
        burnt: Option<Written<Duration>>,
    },
    /// How long a chamber is purged before its door is opened
    Purge {
        /// The chamber's volume in cubic metres
        #[arg(long, value_name = "M3")]
        chamber: f64,
        /// What the extraction takes out, measured, in cubic metres an hour
        #[arg(long, value_name = "M3-PER-HOUR")]
        extraction: f64,
        /// The allowance for air that does not mix: 1 where all of it does [default: the guide's]
        #[arg(long)]
        mixing: Option<f64>,
        /// What may be left of the smoke
        #[arg(long, default_value = "1 %")]
        left: Written<Ratio>,
    },
    /// What the smoke of a material may hold in the closed chamber
    Smoke {
        /// The material, such as "PVC" or "PA 66"
        material: String,
        /// How much of it burns
        #[arg(long, default_value = "1 g")]
        burnt: Written<Mass>,
        /// The chamber's volume in cubic metres
        #[arg(long, value_name = "M3", default_value_t = 0.5)]
        chamber: f64,
    },
}

impl Around {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let told = match &self.what {
            What::Flame { gas, height, room, cartridge, burnt } => around::flame(&Flame {
                gas: word("gas", gas, Gas::of_word, Gas::ALL)?,
                height: height.0,
                room: room.0,
                cartridge: cartridge.zip(*burnt).map(|(held, burnt)| (held.0, burnt.0)),
            })?,
            What::Purge { chamber, extraction, mixing, left } => {
                let chamber = Chamber {
                    cubic_metres: *chamber,
                    cubic_metres_each_hour: *extraction,
                    mixing: around::mixing(*mixing)?,
                };
                around::purge(chamber, left.0)?
            }
            What::Smoke { material, burnt, chamber } => {
                around::smoke(Smoke { material, burnt: burnt.0, cubic_metres: *chamber })?
            }
        };
        if output.form() == Form::Json {
            output.json(&told);
        } else {
            let wide = told.lines.iter().map(|line| line.what.chars().count()).max().unwrap_or(0);
            for line in &told.lines {
                output.value(&format!("{:wide$}  {}", line.what, line.value));
            }
        }
        for words in &told.words {
            output.word(words);
        }
        output.word(GUIDE);
        Ok(Exit::Good)
    }
}
