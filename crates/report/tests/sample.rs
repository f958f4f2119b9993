//! A report of a made-up laboratory about a made-up part. Nothing in it was measured.

use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Temperature};
use reading::{Point, Trace};
use report::content::*;
use report::pdf::{Attachments, Curve};

const HASH: &str = "9f2c01d4c7b86b1e4f1a5ad3c27e90b8d2a4f06e71c35d8890ab12cd34ef5678";

/// A report with three specimens that meets the requirement, and its pictures.
pub(crate) fn report() -> (Content, Attachments) {
    let traces: Vec<Trace> = [21.36, 19.9, 21.52, 21.29].iter().map(|tau| heating(*tau)).collect();
    let content = Content {
        format: FORMAT.into(),
        language: None,
        made_up: Some(MADE_UP.into()),
        title: "Needle-flame test report".into(),
        number: "R-0143".into(),
        issued: "2026-11-25T10:32:07Z".into(),
        amends: None,
        laboratory: Laboratory {
            name: "Larkspur Lane Fire Laboratory (made-up)".into(),
            address: "12 Larkspur Lane, 00000 Nowhere".into(),
            place_of_test: "Test hall 2, bench A, at the laboratory's address".into(),
        },
        customer: Customer {
            name: "Fernmoor Appliance Works (made-up)".into(),
            address: "Quality office, 3 Fernmoor Road, 00000 Elsewhere".into(),
            job: "J-2026-077".into(),
        },
        item: item(),
        method: method(),
        tested_on: vec![Day("2026-11-23".into()), Day("2026-11-24".into())],
        conformity: conformity(),
        conditions: conditions(),
        confirmations: vec![flame(&traces)],
        specimens: specimens(),
        photos: photos(),
        deviations: vec![
            "Specimen 2 was held by a clamp instead of standing free, as agreed with the customer \
             on 2026-11-20; the clamp touched it 60 mm away from the flame."
                .into(),
        ],
        external: vec![],
        remarks: remarks(),
        signatures: Vec::new(),
        amended: Vec::new(),
        authorised_by: Person {
            name: "Ines Okoro (made-up)".into(),
            function: "head of the fire laboratory".into(),
        },
        statements: Content::statements(),
        record: Record {
            head_entry: 57,
            head_sha256: HASH.into(),
            head_root: None,
            to_verify: "Ask the laboratory for the bundle of this report, then run \
                        “cinderbook verify”: it hashes every entry and file again, judges \
                        again, and must end at this head."
                .into(),
            made_by: "cinderbook 0.1.0".into(),
        },
    };
    let curves = traces
        .into_iter()
        .zip(1..)
        .map(|(trace, determination)| Curve { determination, trace })
        .collect();
    let photos = content.photos.iter().zip(1..).map(|(_, shade)| png(640, 480, shade)).collect();
    (content, Attachments { curves, photos })
}

fn item() -> Item {
    Item {
        description: "Terminal holder of a coffee grinder, moulded polyamide, 2.4 mm wall".into(),
        identification: "Drawing FM-2207 rev. C, batch 26-41; specimens marked 1 to 4".into(),
        condition: "New and dry; the bag of specimen 3 was torn, the part itself unharmed".into(),
        received: Some(Day("2026-11-18".into())),
        sampling: "Taken by the customer from one batch; the laboratory was not present".into(),
    }
}

fn method() -> Method {
    Method {
        name: "needle-flame test".into(),
        standard: "IEC 60695-11-5".into(),
        edition: "2016".into(),
        product_standard: Some("IEC 60335-1 Annex E, edition 2010".into()),
        plan: "P-0117, drawn up 2026-11-20".into(),
        rules: vec![
            NamedHash { name: "iec-60695-11-5/2016".into(), sha256: HASH.into() },
            NamedHash { name: "iec-60335-1/5".into(), sha256: HASH.into() },
        ],
    }
}

fn seconds(value: f64, expanded: f64, decimals: usize) -> Value {
    let measured = Measurement {
        value: Duration::from_seconds(value),
        uncertainty: Duration::from_seconds(expanded / 2.0),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    };
    Value::measured(&measured, 2.0, decimals)
}

fn plain(value: f64, decimals: usize) -> Value {
    Value::exact(Duration::from_seconds(value), decimals)
}

fn conformity() -> Conformity {
    let reason = |specimen, value: f64| Reason {
        specimen,
        value: Some(seconds(value, 0.5, 1)),
        stood: Stood::Kept,
        probability_of_conformity: Some(1.0),
    };
    let criterion = |demand: &str, limit: Option<&str>, stands: &str, decided: &str| Criterion {
        demand: demand.into(),
        limit: limit.map(str::to_owned),
        clause: "IEC 60335-1 Annex E, clause 11".into(),
        number_stands: stands.into(),
        stood: Stood::Kept,
        decided_by: decided.into(),
        reasons: vec![reason(1, 12.4), reason(2, 4.1), reason(4, 27.8)],
    };
    Conformity {
        standing: Standing::Meets,
        words: Standing::Meets.words().into(),
        applies_to: "IEC 60695-11-5:2016 with the demands of IEC 60335-1 Annex E, clause 11."
            .into(),
        decided_by: "All three specimens kept all three criteria; the longest duration of burning \
                     was 27.8 s ± 0.5 s (specimen 4) against a limit of 30 s."
            .into(),
        decision_rule: "Simple acceptance: a value is held against its limit as it stands; its \
                        uncertainty is shown beside it."
            .into(),
        risk: "A value exactly at its limit is accepted wrongly with a probability of up to 50 %. \
               For the value nearest to its limit here the probability of conformity is above \
               99.9 %."
            .into(),
        criteria: vec![
            criterion(
                "Duration of burning, each specimen",
                Some("≤ 30 s"),
                "seen in the edition",
                "Longest: 27.8 s ± 0.5 s, specimen 4",
            ),
            criterion(
                "The specified layer does not catch fire",
                None,
                "from memory",
                "Unchanged under all three",
            ),
            criterion(
                "The specimen is not burnt completely",
                None,
                "verified by this laboratory (I. Okoro, 2026-10-02)",
                "Not burnt completely: 1, 2, 4",
            ),
        ],
        what_it_shows: Some(
            "3 of 3 specimens met the requirement. With a confidence of 95 % this alone shows no \
             more than that at least 36.8 % of such parts would."
                .into(),
        ),
        near_limit: Some(
            "Specimen 4 burnt for 27.8 s: 2.2 s below the limit of 30 s, more than four expanded \
             uncertainties away."
                .into(),
        ),
    }
}

fn conditions() -> Conditions {
    let tool = |number: &str, description: &str, dates: Option<(&str, &str)>| Equipment {
        number: number.into(),
        description: description.into(),
        calibrated: dates.map(|(done, _)| Day(done.into())),
        due: dates.map(|(_, due)| Day(due.into())),
        certificate: dates.map(|_| "C-26-118".into()),
    };
    Conditions {
        conditioning: vec![
            Conditioning {
                what: "Specimens".into(),
                from: "2026-11-21T08:00:00Z".into(),
                until: "2026-11-23T09:10:00Z".into(),
                atmosphere: "22.1 °C to 23.4 °C, 48 % to 52 %".into(),
                asked: "24 h at 15 °C to 35 °C, 45 % to 75 %".into(),
            },
            Conditioning {
                what: "Tissue and board".into(),
                from: "2026-11-21T08:00:00Z".into(),
                until: "2026-11-23T09:10:00Z".into(),
                atmosphere: "22.1 °C to 23.4 °C, 48 % to 52 %".into(),
                asked: "24 h at 15 °C to 35 °C, 45 % to 75 %".into(),
            },
        ],
        atmosphere: "22.8 °C, 49 % relative humidity, extraction off while a specimen burnt".into(),
        layer:
            "Wrapping tissue, lot WT-31, on a white pinewood board, lot PB-09, 200 mm below the \
                point of application"
                .into(),
        gas: "Butane, 95 % or purer, cartridge lot G-44, opened 2026-11-23".into(),
        flame_height: Some(Value::exact(Length::from_millimetres(12.0), 1)),
        flame_height_asked: "12 mm ± 1 mm (IEC 60695-11-5:2016, 5.3)".into(),
        position: "As in use: upright, terminals downwards".into(),
        points: vec![
            Placing { name: "A".into(), place: "Lower rim beside terminal L".into() },
            Placing { name: "B".into(), place: "Middle of the rib between the terminals".into() },
        ],
        durations: "One application of 30 s ± 1 s (IEC 60335-1 Annex E)".into(),
        equipment: vec![
            tool("B-02", "Needle burner, bore 0.5 mm", None),
            tool("K-07", "Copper block, 0.58 g, 4 mm", Some(("2026-03-02", "2027-03-02"))),
            tool(
                "TC-11",
                "Thermocouple, type K, class 1, 0.5 mm",
                Some(("2026-06-15", "2027-06-15")),
            ),
            tool("LG-03", "Logger, 10 readings a second", Some(("2026-05-20", "2027-05-20"))),
            tool("SW-01", "Stop-watch", Some(("2026-01-12", "2027-01-12"))),
        ],
    }
}

fn flame(traces: &[Trace]) -> Flame {
    let determinations = traces.iter().zip(1..).map(|(trace, number)| {
        let (bottom, top) = (crossing(trace, 100.0), crossing(trace, 700.0));
        let void = (number == 2).then(|| {
            "begun before the block had cooled: 61 °C, and the method asks for less than 50 °C"
                .to_owned()
        });
        let start = if void.is_some() { 61.2 } else { 23.1 + f64::from(number) };
        Determination {
            number,
            at: format!("2026-11-23T09:{:02}:10Z", 12 + 8 * number),
            start: Value::exact(Temperature::from_celsius(start), 1),
            rise: Some(seconds(top - bottom, 0.42, 2)),
            bottom: Some(Crossing { at_s: bottom, temperature_celsius: 100.0 }),
            top: Some(Crossing { at_s: top, temperature_celsius: 700.0 }),
            source: format!("flame-{number}.csv, thermocouple TC-11"),
            sha256: Some(HASH.into()),
            counts: void.is_none(),
            void,
        }
    });
    Flame {
        number: "C-1".into(),
        window_bottom: Value::exact(Temperature::from_celsius(100.0), 0),
        window_top: Value::exact(Temperature::from_celsius(700.0), 0),
        accepted: Accepted { from: plain(22.5, 1), to: plain(24.5, 1) },
        clause: "IEC 60695-11-5:2016 Annex A".into(),
        standing: Standing::Meets,
        words: "The flame is confirmed: all three determinations that count lie within the \
                accepted band."
            .into(),
        determinations: determinations.collect(),
    }
}

fn specimens() -> Vec<Specimen> {
    let one = |number: u32, flamed: f64, glowed: f64, seen: &[(f64, &str)]| Specimen {
        number,
        at: format!("2026-11-23T1{number}:05:00Z"),
        confirmation: "C-1".into(),
        applications: vec![Application { on_s: 0.0, removed_s: 30.1 }],
        applied: plain(30.1, 1),
        afterflame: Some(seconds(flamed, 0.5, 1)),
        afterglow: Some(seconds(glowed, 0.5, 1)),
        burning: Some(seconds(flamed + glowed, 0.5, 1)),
        burning_limit_s: Some(30.0),
        damaged: None,
        layer: "unchanged".into(),
        stood: Stood::Kept,
        spoilt: None,
        observations: seen
            .iter()
            .map(|(at, text)| Observation { at: plain(*at, 1), text: (*text).into() })
            .collect(),
        observer: "Tomas Vries (made-up)".into(),
    };
    let mut spoilt = one(3, 9.5, 0.0, &[]);
    spoilt.spoilt = Some("the draught door had been left open".into());
    spoilt.stood = Stood::NotJudged;
    vec![
        one(1, 8.2, 4.2, &[(14.2, "The rim catches fire"), (33.4, "A drop falls, not burning")]),
        one(2, 4.1, 0.0, &[(17.9, "The rib catches fire")]),
        spoilt,
        one(4, 21.3, 6.5, &[(12.8, "The rim catches fire"), (36.0, "A drop falls, burning")]),
    ]
}

fn photos() -> Vec<Photo> {
    let photo = |name: &str, caption: &str| Photo {
        caption: caption.into(),
        name: name.into(),
        sha256: HASH.into(),
    };
    vec![
        photo("before.png", "Specimen 1 before the test, with the point of application A"),
        photo("after.png", "Specimen 4 after the test: the rim is charred over about 11 mm"),
    ]
}

fn remarks() -> Vec<Remark> {
    let remark = |entry, at: &str, text: &str| Remark {
        entry,
        at: at.into(),
        who: "Tomas Vries (made-up)".into(),
        text: text.into(),
    };
    vec![
        remark(
            31,
            "2026-11-23T09:31:00Z",
            "Readiness refused: stop-watch SW-01 was not yet entered with its calibration.",
        ),
        remark(
            44,
            "2026-11-23T13:40:00Z",
            "Correction of entry 43: the point of specimen 2 is B and not A.",
        ),
    ]
}

/// A block that heats towards 1000 °C, read ten times a second with a little noise.
pub(crate) fn heating(tau_s: f64) -> Trace {
    let mut noise = Noise(7);
    let mut celsius = 24.0_f64;
    let points = (0..420).map(|reading| {
        let at = f64::from(reading) / 10.0;
        for _ in 0..10 {
            if (5.0..33.0).contains(&at) {
                celsius += 0.01 * (1000.0 - celsius) / tau_s;
            } else if at >= 33.0 {
                celsius -= 0.01 * (celsius - 24.0) / 60.0;
            }
        }
        let shown = celsius + noise.next();
        Point {
            at: Duration::from_seconds(at),
            temperature: Temperature::from_celsius((shown * 10.0).round() / 10.0),
        }
    });
    Trace::new(points.collect::<Vec<_>>()).unwrap()
}

struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 40).unwrap()) / 16_777_216.0 - 0.5
    }
}

fn crossing(trace: &Trace, celsius: f64) -> f64 {
    let points: Vec<Point> = trace.points().collect();
    let pair = points.windows(2).find(|pair| pair[1].temperature.celsius() >= celsius).unwrap();
    let (low, high) = (pair[0].temperature.celsius(), pair[1].temperature.celsius());
    pair[0].at.seconds() + 0.1 * (celsius - low) / (high - low)
}

/// A grey picture as PNG, stored without compression: a part with a charred rim.
pub(crate) fn png(width: usize, height: usize, shade: usize) -> Vec<u8> {
    let mut rows = Vec::with_capacity((width + 1) * height);
    for y in 0..height {
        rows.push(0);
        for x in 0..width {
            let inside = x > width / 4 && x < width * 3 / 4 && y > height / 5 && y < height * 4 / 5;
            let char_line = height / 4 * 3 + (x * shade * 7) % 23;
            let grey = match (inside, y > char_line) {
                (true, true) => 30 + (x * 31 + y * 17) % 25,
                (true, false) => 190 + (x + y) % 12,
                (false, _) => 90 + y * 60 / height,
            };
            rows.push(u8::try_from(grey).unwrap());
        }
    }
    let mut zlib = vec![0x78, 0x01];
    let mut blocks = rows.chunks(65_535).peekable();
    while let Some(block) = blocks.next() {
        zlib.push(u8::from(blocks.peek().is_none()));
        let length = u16::try_from(block.len()).unwrap();
        zlib.extend(length.to_le_bytes());
        zlib.extend((!length).to_le_bytes());
        zlib.extend(block);
    }
    zlib.extend(adler(&rows).to_be_bytes());
    let mut head = Vec::new();
    head.extend(u32::try_from(width).unwrap().to_be_bytes());
    head.extend(u32::try_from(height).unwrap().to_be_bytes());
    head.extend([8, 0, 0, 0, 0]);
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    for (kind, data) in [(b"IHDR", head), (b"IDAT", zlib), (b"IEND", vec![])] {
        png.extend(u32::try_from(data.len()).unwrap().to_be_bytes());
        let mut body = kind.to_vec();
        body.extend(data);
        let check = crc(&body);
        png.extend(body);
        png.extend(check.to_be_bytes());
    }
    png
}

fn adler(bytes: &[u8]) -> u32 {
    let (mut low, mut high) = (1_u32, 0_u32);
    for byte in bytes {
        low = (low + u32::from(*byte)) % 65_521;
        high = (high + low) % 65_521;
    }
    high << 16 | low
}

pub(crate) fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 }
        })
    })
}
