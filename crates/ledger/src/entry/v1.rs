//! The written form of each fact, version 1.
//!
//! Never changed once released: a fact that says more gets a version of its own. Each table
//! serves both directions, so what is written can be read.

use metrology::decision::DecisionRule;
use trial::base_line::{BaseLine, Restart, RestartCause};
use trial::bench::{Act, DeviceId, Input, Press, SittingId};
use trial::care::{Care, CareInterval, CareNeed, CareTask, DueItem, DueLet};
use trial::commissioning::{Commissioning, Found, PointFound};
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{
    Authorisation, BookKey, BookKind, Calibration, CalibrationNeed, Conditioned, Conditioning,
    Cooling, Equipment, EquipmentKind, Evidence, EvidenceHash, EvidenceKind, Fact, KeyBytes,
    Laboratory, Lot, LotKind, SignatureBytes, Weighing,
};
use trial::film::{FilmRecorded, TonesHeard};
use trial::finding::{Finding, FindingKind, Stage};
use trial::machine::{FaultMet, Validation};
use trial::number::{
    BaseLineNumber, ConfirmationNumber, DeterminationNumber, EntryNumber, EquipmentNumber,
    LotNumber, PersonName, PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::person::{Entrusted, Grant, Role};
use trial::plan::{Customer, Draft, LayerChosen, Part};
use trial::requirement::{Choice, Ordered};
use trial::rules::{Key, Range, RulesHash, RulesId, RulesUsed, VariantName};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed};
use trial::verdict::VerdictStanding;

use super::form::{
    AsItIs, Decimal, Fields, FormError, Written, object, read_text, tagged, text, unknown_word,
    untag, written, written_as, written_by_word,
};
use super::json::Json;

/// Which version of the form this file writes.
pub(crate) const FORM: u32 = 1;

/// One line for each kind of fact: its variant, its kind, what it says in the manual, its fields.
macro_rules! facts {
    (
        named { $($variant:ident $kind:literal $line:literal { $($field:ident: $key:literal),* })* }
        whole { $($single:ident $single_kind:literal $single_line:literal)* }
    ) => {
        /// Each kind of entry with one line on what it says.
        pub(crate) const KINDS: &[(&str, &str)] =
            &[$(($kind, $line),)* $(($single_kind, $single_line),)*];

        /// The kind of a fact, and what its body says.
        pub(crate) fn write(fact: &Fact) -> (&'static str, Json) {
            match fact {
                $(Fact::$variant { $($field),* } => ($kind, object([$(($key, $field.write())),*])),)*
                $(Fact::$single(content) => ($single_kind, content.write()),)*
            }
        }

        /// The fact of a kind and a body.
        pub(crate) fn read(kind: &str, body: Json) -> Result<Fact, FormError> {
            match kind {
                $($kind => {
                    Fields::all(body, |fields| Ok(Fact::$variant { $($field: fields.take($key)?),* }))
                })*
                $($single_kind => Written::read(body).map(Fact::$single),)*
                other => Err(unknown_word(other.to_owned())),
            }
        }
    };
}

facts! {
    named {
        BookOpened "book-opened" "The book was opened for a laboratory; says whether what follows is real."
            { laboratory: "laboratory", kind: "kind" }
        PersonAdmitted "person-admitted" "A person was admitted, authorised for every method; the first one of a book looks after people."
            { person: "person", authorisations: "authorisations" }
        PersonDisabled "person-disabled" "A person was disabled: they do nothing more."
            { person: "person", reason: "reason" }
        EquipmentWithdrawn "equipment-withdrawn" "A piece of equipment was taken out of service."
            { equipment: "equipment", reason: "reason" }
        CautionsAcknowledged "cautions-acknowledged" "A person acknowledged the cautions before the first flame."
            { plan: "plan" }
        PlanDrawnUp "plan-drawn-up" "A plan was drawn up, with the rules of that day as evidence."
            { draft: "draft", rules: "rules" }
        SpecimensAdded "specimens-added" "Further specimens came to a plan."
            { plan: "plan", specimens: "specimens", reason: "reason" }
        ReadinessFound "readiness-found" "Everything was found ready for a plan."
            { plan: "plan" }
        DeterminationVoided "determination-voided" "A determination does not count; it stays visible."
            { number: "number", reason: "reason" }
        FlameConfirmed "flame-confirmed" "The flame was confirmed by the determinations named."
            { number: "number", plan: "plan", determinations: "determinations" }
        RunRecorded "run-recorded" "What was seen of one specimen in the flame."
            { plan: "plan", confirmation: "confirmation", observed: "observed" }
        PressesKept "presses-kept" "Presses at the bench, in order and without a gap, as the device kept them."
            { plan: "plan", specimen: "specimen", device: "device", sitting: "sitting", presses: "presses" }
        TimekeeperTaken "timekeeper-taken" "Another sitting keeps the time of a specimen from here on."
            { plan: "plan", specimen: "specimen", device: "device", sitting: "sitting", reason: "reason" }
        SpecimenPhotographed "specimen-photographed" "A specimen was photographed before the flame came to it."
            { plan: "plan", specimen: "specimen", photo: "photo" }
        FilmKept "film-kept" "A film of a specimen was kept as evidence: recorded at the bench, or added afterwards."
            { plan: "plan", specimen: "specimen", film: "film", recorded: "recorded" }
        FilmHeard "film-heard" "The bench's tones were heard in the sound of a film: where it would lie by them, as a proposal."
            { plan: "plan", specimen: "specimen", film: "film", removed: "removed", tones: "tones" }
        FilmPlaced "film-placed" "It was said at which time of a film the flame is removed: film and presses share one scale."
            { plan: "plan", specimen: "specimen", film: "film", removed: "removed" }
        TimesAccepted "times-accepted" "The doubtful times of a specimen were accepted, with a reason."
            { plan: "plan", specimen: "specimen", reason: "reason" }
        SpecimenSpoilt "specimen-spoilt" "A specimen was spoilt: it is replaced, not judged."
            { plan: "plan", specimen: "specimen", reason: "reason" }
        VerdictReached "verdict-reached" "A verdict was reached; judging again must give the same account."
            { plan: "plan", standing: "standing", account: "account" }
        NumberVerified "number-verified" "A number of the rules was verified against the laboratory's own copy of the standard."
            { rules: "rules", key: "key", text: "text", copy: "copy" }
        FlameCallAnswered "flame-call-answered" "What was done about a call of the flame chart; it closes the call."
            { confirmation: "confirmation", done: "done" }
        Corrected "corrected" "An earlier entry was corrected; it stays visible."
            { entry: "entry", reason: "reason", by: "by" }
        StageRefused "stage-refused" "A stage said no, with all its findings."
            { stage: "stage", plan: "plan", findings: "findings" }
    }
    whole {
        PersonEntrusted "person-entrusted" "A person was admitted with roles and authorisations by method, or these changed, with the reason; who was disabled is back."
        EquipmentRegistered "equipment-registered" "A piece of equipment was registered."
        CalibrationRecorded "calibration-recorded" "A calibration was recorded, with its certificate as evidence where there is one."
        LotOpened "lot-opened" "A lot of gas, tissue or board was opened; a gas lot ends the confirmation."
        ConditioningRecorded "conditioning-recorded" "Specimens or the layer were conditioned."
        DeterminationRecorded "determination-recorded" "One heating of the copper block, with its rise time."
        BaseLineFrozen "base-line-frozen" "The base line of the flame was frozen: the confirmations and determinations that later ones are held against."
        CoolingKept "cooling-kept" "The cooling after a heating was kept as evidence, recorded apart from the heating."
        BlockWeighed "block-weighed" "A copper block was weighed."
        CareDone "care-done" "An act of care of the bench was done."
        CareIntervalSet "care-interval-set" "How often the laboratory wants an act of care done, and whether it is needed for ready."
        DueLetThrough "due-let-through" "An engineer lets a plan be tested although something is due; the reason prints on the report."
        BenchCommissioned "bench-commissioned" "A bench was gone through before its first test, point by point."
        FaultMet "fault-met" "A fault of disk, machine or program was met: what was lost by it, and what was done."
        ProgramValidated "program-validated" "The program was held against its reference cases on this machine; the sheet is evidence."
        ReportIssued "report-issued" "A report was issued; its data and its PDF are evidence."
        KeyBegun "key-begun" "A key began to sign the heads of the book, or took the place of another."
        Signed "signed" "Something was signed: what, in which meaning, and the SHA-256 of the content that the signature covers."
        SentBack "sent-back" "A review was sent back with a note; what was signed before no longer covers it."
        SigningRuled "signing-ruled" "The laboratory set which signatures it asks for before a report, and whether one person may test and approve; with its reason."
    }
}

/// A correction carries the fact that holds instead.
impl Written for Fact {
    fn write(&self) -> Json {
        let (kind, body) = write(self);
        object([("kind", text(kind)), ("says", body)])
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (kind, AsItIs(body)): (String, _) =
            Fields::all(json, |fields| Ok((fields.take("kind")?, fields.take("says")?)))?;
        read(&kind, body)
    }
}

written_as!(
    u32: BaseLineNumber,
    ConfirmationNumber,
    DeterminationNumber,
    PlanNumber,
    ReportNumber,
    SpecimenNumber,
);
written_as!(u64: EntryNumber);
written_as!(String: EquipmentNumber, Key, LotNumber, PersonName, RulesId, VariantName);
written_as!([u8; 32]: EvidenceHash, KeyBytes, RulesHash);
written_as!([u8; 64]: SignatureBytes);
written_by_word!(
    Act,
    Authorisation,
    BookKind,
    Burnt,
    CalibrationNeed,
    CareNeed,
    CareTask,
    EquipmentKind,
    EvidenceKind,
    FindingKind,
    Found,
    Input,
    LayerOutcome,
    LotKind,
    MarkKind,
    RestartCause,
    Role,
    Stage,
);

written! {
    Laboratory { name: "name", address: "address", place: "place" }
    Entrusted { person: "person", roles: "roles", grants: "authorisations", reason: "reason" }
    Grant { act: "act", method: "method", from: "from", until: "until" }
    Equipment {
        number: "number", kind: "kind", description: "description", calibration: "calibration",
    }
    Calibration {
        equipment: "equipment", certificate: "certificate", by: "by", on: "on", due: "due",
        result: "result", evidence: "evidence",
    }
    Lot { number: "number", kind: "kind", description: "description" }
    Care { task: "task", equipment: "equipment", note: "note" }
    CareInterval { task: "task", days: "days", specimens: "specimens", need: "need" }
    DueLet { plan: "plan", item: "item", reason: "reason" }
    Commissioning { bench: "bench", points: "points" }
    PointFound { key: "key", says: "says", found: "found", note: "note" }
    FaultMet { what: "what", lost: "lost", done: "done" }
    Validation {
        version: "version", program: "program", machine: "machine", cases: "cases", off: "off",
        sheet: "sheet",
    }
    Conditioning {
        plan: "plan", what: "what", from: "from", until: "until", temperature: "temperature",
        humidity: "humidity",
    }
    Evidence { name: "name", hash: "hash", bytes: "bytes", kind: "kind" }
    BookKey {
        key: "key", in_place_of: "in_place_of", reason: "reason", by_new: "by_new", by_old: "by_old",
    }
    Finding { stage: "stage", kind: "kind", text: "text", hint: "hint" }
    Draft {
        number: "number", parent: "parent", job: "job", customer: "customer", part: "part",
        ordered: "ordered", specimens: "specimens", points: "points", position: "position",
        layer: "layer", equipment: "equipment", decision_rule: "decision_rule",
        confirmation_rule: "confirmation_rule", confirmation_age_max: "confirmation_age_max",
        sampling: "sampling", deviations: "deviations",
    }
    Customer { name: "name", address: "address" }
    Part {
        description: "description", identification: "identification", received: "received",
        condition: "condition",
    }
    Ordered { method: "method", profile: "profile", variant: "variant", choices: "choices" }
    Choice { key: "key", value: "value", reason: "reason" }
    RulesUsed { id: "id", hash: "hash" }
    Determination {
        number: "number", at: "at", rise_time: "rise_time", start: "start", source: "source",
        remarks: "remarks", block: "block", thermocouple: "thermocouple", gas: "gas",
        flame_height: "flame_height", void: "void",
    }
    BaseLine {
        number: "number", confirmations: "confirmations", determinations: "determinations",
        restart: "restart",
    }
    Restart { cause: "cause", reason: "reason" }
    Cooling { determination: "determination", evidence: "evidence", read_as: "read_as" }
    Weighing { block: "block", mass: "mass", area: "area" }
    Observed {
        specimen: "specimen", began: "began", air: "air", applications: "applications", flames: "flames",
        glow: "glow", surroundings: "surroundings", layer: "layer", burnt: "burnt",
        damaged_length: "damaged_length", marks: "marks", spoilt: "spoilt", observer: "observer",
        timing_uncertainty: "timing_uncertainty", clock_offset: "clock_offset",
        evidence: "evidence", note: "note",
    }
    FilmRecorded { device: "device", sitting: "sitting", began: "began", within: "within" }
    TonesHeard {
        tones: "tones", of: "of", likeness: "likeness", best: "best", second: "second",
        apart: "apart",
    }
    Air { temperature: "temperature", humidity: "humidity" }
    Application { on: "on", removed: "removed" }
    Mark { at: "at", kind: "kind", words: "words" }
    Press {
        sequence: "sequence", at: "at", wall: "wall", act: "act", input: "input", note: "note",
    }
}

impl<Q: Copy + Written> Written for Range<Q> {
    fn write(&self) -> Json {
        object([("from", self.from.write()), ("to", self.to.write())])
    }

    fn read(json: Json) -> Result<Self, FormError> {
        Fields::all(json, |fields| Ok(Self { from: fields.take("from")?, to: fields.take("to")? }))
    }
}

macro_rules! written_hex {
    ($($bytes:literal $expected:literal)*) => {$(
        impl Written for [u8; $bytes] {
            fn write(&self) -> Json {
                text(hex::encode(self))
            }

            fn read(json: Json) -> Result<Self, FormError> {
                read_text(json, $expected, crate::hash::from_hex)
            }
        }
    )*};
}
written_hex!(32 "64 hexadecimal digits" 64 "128 hexadecimal digits");

macro_rules! written_random {
    ($($name:ident),*) => {$(
        impl Written for $name {
            fn write(&self) -> Json {
                text(self)
            }

            fn read(json: Json) -> Result<Self, FormError> {
                read_text(json, "32 hexadecimal digits", Self::parse)
            }
        }
    )*};
}
written_random!(DeviceId, SittingId);

/// The head of the record: the number of an entry and its hash.
impl Written for (EntryNumber, EvidenceHash) {
    fn write(&self) -> Json {
        object([("number", self.0.write()), ("hash", self.1.write())])
    }

    fn read(json: Json) -> Result<Self, FormError> {
        Fields::all(json, |fields| Ok((fields.take("number")?, fields.take("hash")?)))
    }
}

impl Written for Conditioned {
    fn write(&self) -> Json {
        match self {
            Self::Specimens(specimens) => tagged("specimens", specimens.write()),
            Self::Layer => text("layer"),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "specimens" => Written::read(content).map(Self::Specimens),
            "layer" => Ok(Self::Layer),
            _ => Err(unknown_word(word)),
        }
    }
}

impl Written for DueItem {
    fn write(&self) -> Json {
        match self {
            Self::Calibration(number) => tagged("calibration", number.write()),
            Self::Care(task) => tagged("care", task.write()),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "calibration" => Written::read(content).map(Self::Calibration),
            "care" => Written::read(content).map(Self::Care),
            _ => Err(unknown_word(word)),
        }
    }
}

impl Written for LayerChosen {
    fn write(&self) -> Json {
        match self {
            Self::Specified => text("specified"),
            Self::Other(words) => tagged("other", words.write()),
            Self::NotUsed(reason) => tagged("not-used", reason.write()),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "specified" => Ok(Self::Specified),
            "other" => Written::read(content).map(Self::Other),
            "not-used" => Written::read(content).map(Self::NotUsed),
            _ => Err(unknown_word(word)),
        }
    }
}

impl Written for Ending {
    fn write(&self) -> Json {
        match self {
            Self::None => text("none"),
            Self::Out(at) => tagged("out", at.write()),
            Self::PutOutByHand(at) => tagged("put-out-by-hand", at.write()),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "none" => Ok(Self::None),
            "out" => Written::read(content).map(Self::Out),
            "put-out-by-hand" => Written::read(content).map(Self::PutOutByHand),
            _ => Err(unknown_word(word)),
        }
    }
}

impl Written for DeterminationSource {
    fn write(&self) -> Json {
        match self {
            Self::Trace { evidence, read_as } => tagged(
                "trace",
                object([("evidence", evidence.write()), ("read_as", read_as.write())]),
            ),
            Self::Typed { by, seconded } => {
                tagged("typed", object([("by", by.write()), ("seconded", seconded.write())]))
            }
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "trace" => Fields::all(content, |fields| {
                Ok(Self::Trace {
                    evidence: fields.take("evidence")?,
                    read_as: fields.take("read_as")?,
                })
            }),
            "typed" => Fields::all(content, |fields| {
                Ok(Self::Typed { by: fields.take("by")?, seconded: fields.take("seconded")? })
            }),
            _ => Err(unknown_word(word)),
        }
    }
}

impl Written for VerdictStanding {
    fn write(&self) -> Json {
        match self {
            Self::Meets => text("meets"),
            Self::DoesNotMeet => text("does-not-meet"),
            Self::Undecided => text("undecided"),
            Self::NotYet { further } => tagged("not-yet", object([("further", further.write())])),
            Self::NotJudged => text("not-judged"),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "meets" => Ok(Self::Meets),
            "does-not-meet" => Ok(Self::DoesNotMeet),
            "undecided" => Ok(Self::Undecided),
            "not-yet" => {
                Fields::all(content, |fields| Ok(Self::NotYet { further: fields.take("further")? }))
            }
            "not-judged" => Ok(Self::NotJudged),
            _ => Err(unknown_word(word)),
        }
    }
}

impl Written for DecisionRule {
    fn write(&self) -> Json {
        match self {
            Self::SimpleAcceptance => text("simple-acceptance"),
            Self::GuardBand { ratio, coverage_factor } => tagged(
                "guard-band",
                object([
                    ("ratio", Decimal(*ratio).write()),
                    ("coverage_factor", Decimal(*coverage_factor).write()),
                ]),
            ),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let (word, content) = untag(json)?;
        match word.as_str() {
            "simple-acceptance" => Ok(Self::SimpleAcceptance),
            "guard-band" => Fields::all(content, |fields| {
                let (Decimal(ratio), Decimal(coverage_factor)) =
                    (fields.take("ratio")?, fields.take("coverage_factor")?);
                Ok(Self::GuardBand { ratio, coverage_factor })
            }),
            _ => Err(unknown_word(word)),
        }
    }
}
