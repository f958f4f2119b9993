//! The written form of an issued report. Its language is written where it is not English: a report of
//! before there was a choice says nothing of it.

use trial::fact::{IssuedReport, Language};

use super::form::{Fields, FormError, Written, read_text, text, unknown_word, written_by_word};
use super::json::Json;

written_by_word!(Language);

impl Written for IssuedReport {
    fn write(&self) -> Json {
        let Self { number, plan, supersedes, content, pdf, head, language } = self;
        let always = [
            ("number", number.write()),
            ("plan", plan.write()),
            ("supersedes", supersedes.write()),
            ("content", content.write()),
            ("pdf", pdf.write()),
            ("head", head.write()),
        ];
        let said = (*language != Language::English).then(|| ("language", language.write()));
        let fields = always.into_iter().chain(said);
        Json::Object(fields.map(|(name, value)| (name.to_owned(), value)).collect())
    }

    fn read(json: Json) -> Result<Self, FormError> {
        Fields::all(json, |fields| {
            Ok(Self {
                number: fields.take("number")?,
                plan: fields.take("plan")?,
                supersedes: fields.take("supersedes")?,
                content: fields.take("content")?,
                pdf: fields.take("pdf")?,
                head: fields.take("head")?,
                language: match fields.take_if_there("language")? {
                    Some(Language::English) => return Err(unknown_word("en".to_owned())),
                    said => said.unwrap_or(Language::English),
                },
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use trial::fact::EvidenceHash;
    use trial::number::{EntryNumber, PlanNumber, ReportNumber};

    fn written(language: Language) -> Json {
        let hash = EvidenceHash([7; 32]);
        let report = IssuedReport {
            number: ReportNumber(1),
            plan: PlanNumber(1),
            supersedes: None,
            content: hash,
            pdf: hash,
            head: (EntryNumber(4), hash),
            language,
        };
        let written = report.write();
        assert_eq!(IssuedReport::read(written.clone()).unwrap(), report);
        written
    }

    #[test]
    fn a_language_is_written_where_it_is_not_english() {
        let (english, german) = (written(Language::English), written(Language::German));
        let (Json::Object(mut english), Json::Object(mut german)) = (english, german) else {
            panic!("a report is an object")
        };
        assert!(!english.contains_key("language"));
        english.insert("language".to_owned(), Language::English.write());
        assert!(IssuedReport::read(Json::Object(english)).is_err(), "never written so");
        assert_eq!(german.remove("language"), Some(text("de")));
    }
}
