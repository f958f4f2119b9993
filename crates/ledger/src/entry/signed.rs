//! The written form of signatures, version 1.

use trial::signature::{
    ContentHash, Identified, Meaning, SamePerson, SentBack, Signature, Signed, SigningRule,
};

use super::form::{
    Fields, FormError, Written, object, read_text, tagged, text, unknown_word, untag, written,
    written_as, written_by_word,
};
use super::json::Json;

written_as!([u8; 32]: ContentHash);
written_by_word!(Identified, Meaning, SamePerson);

written! {
    Signature {
        what: "what", meaning: "meaning", content: "content", last: "last", identified: "identified",
    }
    SentBack { plan: "plan", specimens: "specimens", note: "note" }
    SigningRule { asked: "asked", same_person: "same_person", reason: "reason" }
}

impl Written for Signed {
    fn write(&self) -> Json {
        match self {
            Self::Specimen { plan, specimen } => {
                tagged("specimen", object([("plan", plan.write()), ("specimen", specimen.write())]))
            }
            Self::Plan(plan) => tagged("plan", plan.write()),
            Self::Report(report) => tagged("report", report.write()),
            Self::BaseLine(number) => tagged("base-line", number.write()),
            Self::FlameCall(number) => tagged("flame-call", number.write()),
            Self::Commissioning(entry) => tagged("commissioning", entry.write()),
            Self::Trail { from, until } => {
                tagged("trail", object([("from", from.write()), ("until", until.write())]))
            }
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "specimen" => Fields::all(content, |fields| {
                Ok(Self::Specimen {
                    plan: fields.take("plan")?,
                    specimen: fields.take("specimen")?,
                })
            }),
            "plan" => Written::read(content).map(Self::Plan),
            "report" => Written::read(content).map(Self::Report),
            "base-line" => Written::read(content).map(Self::BaseLine),
            "flame-call" => Written::read(content).map(Self::FlameCall),
            "commissioning" => Written::read(content).map(Self::Commissioning),
            "trail" => Fields::all(content, |fields| {
                Ok(Self::Trail { from: fields.take("from")?, until: fields.take("until")? })
            }),
            _ => Err(unknown_word(word)),
        }
    }
}
