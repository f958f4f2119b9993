//! What is noted on the disk of a sitting while it is on, and what instruments were set to: a
//! program that is killed in the middle of a heating knows of it when it starts again.
#![expect(clippy::disallowed_methods, reason = "keeps files beside the record")]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{BufRead as _, BufReader};
use std::path::Path;

use metrology::{Duration, Length, Temperature};
use serde::{Deserialize, Serialize};
use trial::moment::Moment;
use trial::number::{PersonName, PlanNumber};

use super::course::BEFORE;
use super::recordings::FOLDER;
use super::{About, Sitting};
use crate::problem::Problem;
use crate::web::access::put;

const SITTING: &str = "sitting.json";
const INSTRUMENTS: &str = "instruments.json";

/// So many bytes of a recording are read again at most.
const READ_MOST: usize = 64 << 20;

/// What is noted of the sitting.
#[derive(Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Noted {
    /// It is on, or the program was killed during it.
    Sitting(Note),
    /// It was interrupted.
    Interrupted {
        /// What happened, in words.
        said: String,
        /// What has yet to be put into the book, where that could not be done.
        yet: Option<Note>,
    },
}

/// A sitting, as far as it is needed to record an interrupted heating.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct Note {
    plan: u32,
    by: String,
    source: String,
    made_up: Option<String>,
    records: bool,
    read_as: Vec<String>,
    terminals_celsius: Option<f64>,
    flame_height_mm: Option<f64>,
    /// The file of all readings, in the book's folder.
    pub(super) recording: String,
    /// The heating at work, or the one that is not in the book yet.
    pub(super) heating: Option<HeatingNote>,
}

/// A heating at work.
#[derive(Clone, Serialize, Deserialize)]
pub(super) struct HeatingNote {
    /// Who put the flame on.
    pub(super) by: String,
    moment: String,
    on_seconds: f64,
    start_celsius: f64,
    /// Whether it is the first of the sitting.
    #[serde(default)]
    pub(super) first: bool,
}

impl Note {
    /// What is to be noted of a sitting now; nothing of one whose source has ended.
    pub(super) fn of(sitting: &Sitting) -> Option<Self> {
        let about = &sitting.about;
        let heating = sitting.course.heating().map(|heating| HeatingNote {
            by: heating.by.to_string(),
            moment: heating.moment.to_string(),
            on_seconds: heating.on.seconds(),
            start_celsius: heating.start.celsius(),
            first: heating.first,
        });
        (!sitting.over).then(|| Self {
            plan: about.plan.0,
            by: about.by.to_string(),
            source: about.source.clone(),
            made_up: about.made_up.clone(),
            records: about.records,
            read_as: about.read_as.clone(),
            terminals_celsius: about.terminals.map(Temperature::celsius),
            flame_height_mm: about.flame_height.map(Length::millimetres),
            recording: about.recording.clone(),
            heating,
        })
    }

    /// What the sitting was about.
    pub(super) fn about(&self) -> About {
        About {
            number: 0,
            plan: PlanNumber(self.plan),
            by: PersonName::from(self.by.as_str()),
            source: self.source.clone(),
            made_up: self.made_up.clone(),
            records: self.records,
            read_as: self.read_as.clone(),
            terminals: self.terminals_celsius.map(Temperature::from_celsius),
            flame_height: self.flame_height_mm.map(Length::from_millimetres),
            recording: self.recording.clone(),
        }
    }
}

impl HeatingNote {
    /// When the flame was put on: on the calendar, and on the source's clock.
    pub(super) fn put_on(&self) -> Option<(Moment, Duration)> {
        Some((Moment::parse(&self.moment).ok()?, Duration::from_seconds(self.on_seconds)))
    }

    /// How warm the block was then.
    pub(super) fn start(&self) -> Temperature {
        Temperature::from_celsius(self.start_celsius)
    }
}

/// Notes it; nothing to note takes the note away.
///
/// # Errors
///
/// As the disk says.
pub(super) fn write(book: &Path, noted: Option<&Noted>) -> Result<(), Problem> {
    let file = book.join(FOLDER).join(SITTING);
    let done = match noted {
        Some(noted) => put(&file, &serde_json::to_vec_pretty(noted).unwrap_or_default()),
        None if file.exists() => fs::remove_file(&file),
        None => Ok(()),
    };
    done.map_err(|error| cannot(&file, &error))
}

/// What is noted; a note that cannot be read says so.
pub(super) fn read(book: &Path) -> Option<Noted> {
    let file = book.join(FOLDER).join(SITTING);
    let bytes = fs::read(&file).ok()?;
    Some(serde_json::from_slice(&bytes).unwrap_or_else(|error| Noted::Interrupted {
        said: format!(
            "The note of the last sitting at the block cannot be read: {error}. What its source \
             told is in {FOLDER} of the book's folder."
        ),
        yet: None,
    }))
}

/// The recording of a heating out of all that the source told: from a little before the flame on.
/// A last line that was not written to its end is left out: half a number is another one.
pub(super) fn cut(book: &Path, recording: &str, on: Duration) -> Vec<u8> {
    let name = Path::new(recording).file_name().unwrap_or_default();
    let Ok(file) = File::open(book.join(FOLDER).join(name)) else { return Vec::new() };
    let (mut from, mut kept, mut line) = (BufReader::new(file), Vec::new(), Vec::new());
    while kept.len() < READ_MOST {
        line.clear();
        let read = from.read_until(b'\n', &mut line).unwrap_or(0);
        if read == 0 || line.last() != Some(&b'\n') {
            break;
        }
        if kept.is_empty() || at(&line).is_none_or(|at| at >= (on - BEFORE).seconds()) {
            kept.extend_from_slice(&line);
        }
    }
    kept
}

/// The seconds that a line of a recording begins with.
fn at(line: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(line).ok()?;
    text.trim_start_matches("# ").split([',', ' ']).next()?.parse().ok()
}

/// The last reading in a recording, on the source's clock.
pub(super) fn last(recording: &[u8]) -> Option<Duration> {
    recording.split(|byte| *byte == b'\n').filter_map(at).next_back().map(Duration::from_seconds)
}

/// What instruments were set to the last time.
#[derive(Clone, Default, Serialize, Deserialize)]
#[serde(default)]
pub(in crate::web) struct Instruments {
    /// The kind of source that was read last.
    pub(in crate::web) last: String,
    of: BTreeMap<String, Vec<(String, String)>>,
}

impl Instruments {
    /// Those of the book in this folder. Without a file that can be read there are none: they are
    /// a help, and nothing rests on them.
    pub(in crate::web) fn of(book: &Path) -> Self {
        let bytes = fs::read(book.join(FOLDER).join(INSTRUMENTS)).unwrap_or_default();
        serde_json::from_slice(&bytes).unwrap_or_default()
    }

    /// The settings of a kind of source, field by field.
    pub(in crate::web) fn settings(&self, kind: &str) -> &[(String, String)] {
        self.of.get(kind).map_or(&[], Vec::as_slice)
    }

    /// Keeps what a kind of source was set to.
    ///
    /// # Errors
    ///
    /// As the disk says.
    pub(in crate::web) fn keep(
        book: &Path,
        kind: &str,
        settings: Vec<(String, String)>,
    ) -> Result<(), Problem> {
        let mut kept = Self::of(book);
        kind.clone_into(&mut kept.last);
        if !settings.is_empty() {
            kept.of.insert(kind.to_owned(), settings);
        }
        let file = book.join(FOLDER).join(INSTRUMENTS);
        let bytes = serde_json::to_vec_pretty(&kept).unwrap_or_default();
        put(&file, &bytes).map_err(|error| cannot(&file, &error))
    }
}

fn cannot(file: &Path, error: &std::io::Error) -> Problem {
    Problem::surroundings(format!("cannot write `{}`", file.display()))
        .because(error)
        .hint("Check that the book's folder may be written to and has room.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_recording_is_cut_from_before_the_flame_to_its_last_whole_line() {
        let book = tempfile::tempdir().unwrap();
        fs::create_dir(book.path().join(FOLDER)).unwrap();
        let head = "time (s),Block (°C),raw\n";
        let early = "1.000000,23,\n# 2.000000 s, silence: No reading has come for 1.0 s.\n";
        let late =
            "5.000000,23.1,\n# 6.500000 s, returned: the source after 4.500\n12.000000,91,\n";
        let whole = format!("{head}{early}{late}");
        fs::write(book.path().join(FOLDER).join("a.csv"), format!("{whole}12.300000,9")).unwrap();
        let bytes = cut(book.path(), "recordings/a.csv", Duration::from_seconds(10.0));
        assert_eq!(String::from_utf8(bytes.clone()).unwrap(), format!("{head}{late}"));
        assert_eq!(last(&bytes), Some(Duration::from_seconds(12.0)));
        assert!(cut(book.path(), "recordings/none.csv", Duration::ZERO).is_empty());
        assert_eq!(last(head.as_bytes()), None);
    }

    #[test]
    fn what_was_set_is_there_again_and_a_note_that_is_none_says_so() {
        let book = tempfile::tempdir().unwrap();
        let baud = vec![("baud".to_owned(), "19200".to_owned())];
        Instruments::keep(book.path(), "serial-lines", baud.clone()).unwrap();
        Instruments::keep(book.path(), "practice", Vec::new()).unwrap();
        let again = Instruments::of(book.path());
        assert_eq!((again.last.as_str(), again.settings("serial-lines")), ("practice", &baud[..]));
        assert!(read(book.path()).is_none());
        fs::write(book.path().join(FOLDER).join(SITTING), "{").unwrap();
        let Some(Noted::Interrupted { said, yet: None }) = read(book.path()) else { panic!() };
        assert!(said.contains("cannot be read"), "{said}");
        write(book.path(), None).unwrap();
        assert!(read(book.path()).is_none());
    }
}
