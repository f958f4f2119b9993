//! The report as PDF: PDF/A-3a with the JSON attached, tagged to PDF/UA-1.
//!
//! Typst sets the pages. The text of a report reaches it only as data, never as source, so no
//! name can be taken for markup. See `docs/decisions` for why Typst.

mod chart;
mod glyphs;
mod photo;
mod square;
mod validation;
mod world;

pub use chart::{ChartPages, flame_chart};
pub use photo::{PhotoError, smaller};
pub use validation::{ValidationPages, validation_sheet};

use jiff::Timestamp;
use reading::Trace;
use thiserror::Error;
use typst::diag::{SourceDiagnostic, SourceResult};
use typst::ecow::EcoVec;
use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::chart::{confirmation, determinations, strip};
use crate::content::{Content, Photo};
use crate::{json, words};
use world::{Files, ReportWorld};

const TEMPLATE: &str = include_str!("report.typ");

/// Rows of the strip chart that fit on a page together with their heading.
const SPECIMENS_A_CHART: usize = 20;

/// What the typesetter worked out for these last reports is kept: it serves the next one.
const REPORTS_REMEMBERED: usize = 2;

/// What a report shows besides its data.
#[derive(Clone, Debug, Default)]
pub struct Attachments {
    /// The traces of the determinations, by the determination's number.
    pub curves: Vec<Curve>,
    /// The photographs, in the order of [`Content::photos`].
    pub photos: Vec<Vec<u8>>,
}

/// The trace of one determination.
#[derive(Clone, Debug)]
pub struct Curve {
    /// The number of the determination.
    pub determination: u32,
    /// What was recorded.
    pub trace: Trace,
}

/// Why a report cannot be set as PDF.
#[derive(Debug, Error)]
pub enum PdfError {
    /// There are more or fewer pictures than captions.
    #[error("the report has {captions} captions and {photos} photographs")]
    Photos {
        /// How many captions.
        captions: usize,
        /// How many photographs.
        photos: usize,
    },
    /// A photograph is no picture that a PDF can hold.
    #[error("the photograph {name} begins like no JPEG, PNG or WebP file")]
    NotAPicture {
        /// Its name in the record.
        name: String,
    },
    /// The time of issue cannot be read.
    #[error("the time of issue {found:?} is not a UTC time such as 2026-11-25T10:32:00Z")]
    Issued {
        /// What stood there.
        found: String,
    },
    /// The data cannot be written.
    #[error("the report's data cannot be written as JSON")]
    Json(#[from] serde_json::Error),
    /// The typesetter refused.
    #[error("the pages cannot be set: {reason}")]
    Typesetter {
        /// What it said.
        reason: String,
    },
}

impl PdfError {
    /// The way out, where there is one.
    #[must_use]
    pub const fn hint(&self) -> Option<&'static str> {
        match self {
            Self::NotAPicture { .. } => Some("File the photograph as JPEG, PNG or WebP."),
            Self::Photos { .. } => Some("Give one picture for each caption, in the same order."),
            Self::Issued { .. } | Self::Json(_) | Self::Typesetter { .. } => None,
        }
    }
}

/// The report as PDF. The same content and attachments give the same bytes, on any machine.
///
/// Characters that the report's typefaces do not hold are printed as their code, such as
/// `[U+4E2D]`, and the report says so; the attached JSON holds the text itself.
///
/// # Errors
///
/// When the pictures do not match their captions or are no pictures, or the typesetter refuses,
/// for example because a picture is damaged.
pub fn render(content: &Content, attachments: &Attachments) -> Result<Vec<u8>, PdfError> {
    let ident = format!("{} {}", content.laboratory.name, content.number);
    let options = options(ident, &content.record.made_by, &content.issued)?;
    let files = files(content, attachments)?;
    pages(&ReportWorld::new(files, TEMPLATE), &options)
}

/// The pages of a world, with nothing kept of those set before the last ones.
fn pages(world: &ReportWorld, options: &PdfOptions) -> Result<Vec<u8>, PdfError> {
    let result = set(world, options);
    // Without this the typesetter keeps every report it has ever set in memory.
    comemo::evict(REPORTS_REMEMBERED);
    result.map_err(|errors| PdfError::Typesetter { reason: told(&errors) })
}

fn set(world: &ReportWorld, options: &PdfOptions) -> SourceResult<Vec<u8>> {
    let document = typst::compile::<PagedDocument>(world).output?;
    typst_pdf::pdf(&document, options)
}

fn told(errors: &EcoVec<SourceDiagnostic>) -> String {
    let messages: Vec<&str> = errors.iter().map(|error| error.message.as_str()).collect();
    messages.join("; ")
}

/// The files that the template reads. Their names are the same for every report: the typesetter
/// never forgets a name.
fn files(content: &Content, attachments: &Attachments) -> Result<Files, PdfError> {
    let json = json::write(content)?;
    let language = content.in_language();
    let (data, replaced) = glyphs::printable(serde_json::to_value(content)?);
    let strips = content.specimens.chunks(SPECIMENS_A_CHART);
    let strips: Vec<_> = strips.map(|some| strip(some, language)).collect();
    let mut files = Files::default();
    let mut flames = Vec::new();
    for (flame, number) in content.confirmations.iter().zip(1..) {
        let (curves, rises) =
            (confirmation(flame, &attachments.curves, language), determinations(flame, language));
        flames.push(serde_json::json!({
            "curves": curves.as_ref().map(|chart| &chart.told),
            "determinations": rises.as_ref().map(|chart| &chart.told),
        }));
        for (name, chart) in [("curves", curves), ("determinations", rises)] {
            if let Some(chart) = chart {
                files.add(&format!("{name}-{number}.svg"), chart.svg.into_bytes());
            }
        }
    }
    let record = &content.record;
    let printed = record.head_root.as_ref().map(|root| format!("{} {root}", record.head_entry));
    let square = printed.and_then(|head| square::square(&head));
    let look = serde_json::json!({
        "content": data,
        "words": &words::of(language).page,
        "replaced": replaced,
        "square": square.is_some(),
        "flames": flames,
        "strips": strips.iter().map(|chart| &chart.told).collect::<Vec<_>>(),
        "photos": photo_names(content, attachments)?,
    });
    files.add("data.json", serde_json::to_vec(&look)?);
    files.add("report.json", json.into_bytes());
    if let Some(square) = square {
        files.add("head.svg", square.into_bytes());
    }
    for (index, chart) in strips.into_iter().enumerate() {
        files.add(&format!("strip-{}.svg", index + 1), chart.svg.into_bytes());
    }
    for (index, (photo, bytes)) in content.photos.iter().zip(&attachments.photos).enumerate() {
        files.add(&photo_name(index, photo, bytes)?, bytes.clone());
    }
    Ok(files)
}

fn photo_names(content: &Content, attachments: &Attachments) -> Result<Vec<String>, PdfError> {
    let (captions, photos) = (content.photos.len(), attachments.photos.len());
    if captions != photos {
        return Err(PdfError::Photos { captions, photos });
    }
    let pairs = content.photos.iter().zip(&attachments.photos).enumerate();
    pairs.map(|(index, (photo, bytes))| photo_name(index, photo, bytes)).collect()
}

fn photo_name(index: usize, photo: &Photo, bytes: &[u8]) -> Result<String, PdfError> {
    let ending = match bytes {
        [0xff, 0xd8, 0xff, ..] => "jpg",
        [0x89, b'P', b'N', b'G', ..] => "png",
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => "webp",
        _ => return Err(PdfError::NotAPicture { name: photo.name.clone() }),
    };
    Ok(format!("photo-{}.{ending}", index + 1))
}

fn options(ident: String, made_by: &str, issued: &str) -> Result<PdfOptions, PdfError> {
    let unread = || PdfError::Issued { found: issued.to_owned() };
    let at: Timestamp = issued.parse().map_err(|_| unread())?;
    let at = jiff::tz::TimeZone::UTC.to_datetime(at);
    let small = |number: i8| u8::try_from(number).map_err(|_| unread());
    let datetime = Datetime::from_ymd_hms(
        at.year().into(),
        small(at.month())?,
        small(at.day())?,
        small(at.hour())?,
        small(at.minute())?,
        small(at.second())?,
    )
    .ok_or_else(unread)?;
    let standards = PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1])
        .map_err(|reason| PdfError::Typesetter { reason: reason.message().to_string() })?;
    Ok(PdfOptions {
        ident: Smart::Custom(ident),
        creator: Smart::Custom(Some(made_by.to_owned())),
        timestamp: Some(typst_pdf::Timestamp::new_utc(datetime)),
        standards,
        ..PdfOptions::default()
    })
}
