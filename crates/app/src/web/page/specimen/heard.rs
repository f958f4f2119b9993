//! What the sound of a film proposed, as the page sends it along with the place that is kept.

use metrology::{Duration, Ratio};
use serde::Deserialize;
use trial::film::TonesHeard;
use trial::moment::Elapsed;
use utoipa::ToSchema;

use super::films::seconds;

/// The field of the page's form.
pub(super) const FIELD: &str = "heard";

/// More tones no bench gives.
const TONES_MOST: u32 = 1000;

/// The longest time that is taken.
const SECONDS_MOST: f64 = 36_000.0;

/// Where a film would lie by the bench's tones in its sound, as the browser that listened found it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Heard {
    /// The time of the film at which the flame would be removed, such as `31.20 s`.
    removed: String,
    /// So many tones were heard where they are expected.
    tones: u32,
    /// So many the bench gave.
    of: u32,
    /// How alike those are to what the bench gives, from 0 to 1.
    likeness: f64,
    /// How much speaks for this place, from 0 to 1.
    best: f64,
    /// How much speaks for the next best place, from 0 to 1.
    second: f64,
    /// By how much the distances of the tones differ from those of the presses, in seconds.
    apart_s: Option<f64>,
}

/// What a form says of it; nothing where the film was not listened to.
pub(super) fn typed(text: &str) -> Result<Option<(Elapsed, TonesHeard)>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    let heard: Heard = serde_json::from_str(text).map_err(|cause| unread(&cause.to_string()))?;
    heard.heard().map(Some)
}

fn unread(why: &str) -> String {
    format!("What the sound proposed cannot be read: {why}. Listen again.")
}

impl Heard {
    /// The same as the record says it.
    pub(super) fn heard(self) -> Result<(Elapsed, TonesHeard), String> {
        let Self { removed, tones, of, likeness, best, second, apart_s } = self;
        let within = |what: &str, value: f64, most: f64| {
            if (0.0..=most).contains(&value) {
                Ok(value)
            } else {
                Err(unread(&format!("`{what}` is {value}, not from 0 to {most}")))
            }
        };
        if tones == 0 || tones > of || of > TONES_MOST {
            return Err(unread(&format!("{tones} of {of} tones are not from 1 to all of them")));
        }
        let apart = apart_s.map(|apart| within("apart_s", apart, SECONDS_MOST)).transpose()?;
        let heard = TonesHeard {
            tones,
            of,
            likeness: Ratio::from_fraction(within("likeness", likeness, 1.0)?),
            best: Ratio::from_fraction(within("best", best, 1.0)?),
            second: Ratio::from_fraction(within("second", second, 1.0)?),
            apart: apart.map(Duration::from_seconds),
        };
        Ok((seconds(&removed)?, heard))
    }
}
