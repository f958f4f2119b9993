//! Any table, written in any dialect, comes back the same.

use metrology::{Duration, Temperature};
use proptest::prelude::*;
use reading::Point;
use reading::import::{ImportOptions, import};

/// How a table is written.
#[derive(Clone, Debug)]
struct Dialect {
    delimiter: char,
    decimal: char,
    line_end: &'static str,
    encoding: &'static str,
    heading: &'static str,
    time: &'static str,
    quoted: bool,
    padded: bool,
    trailing: bool,
    blank_rows: bool,
    preamble: bool,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    let delimiter = prop::sample::select(vec![',', ';', '\t', '|']);
    let decimal = prop::sample::select(vec!['.', ',']);
    let line_end = prop::sample::select(vec!["\n", "\r\n", "\r"]);
    let encoding = prop::sample::select(vec![
        "utf-8",
        "bom",
        "utf-16le",
        "utf-16be",
        "utf-16le-bare",
        "latin-1",
    ]);
    let heading = prop::sample::select(vec!["in names", "names, units", "units, names"]);
    let time = prop::sample::select(vec!["s", "ms", "clock", "date and clock", "iso"]);
    let flags = prop::array::uniform5(any::<bool>());
    (delimiter, decimal, line_end, encoding, heading, time, flags).prop_map(
        |(delimiter, decimal, line_end, encoding, heading, time, flags)| {
            let [quoted, padded, trailing, blank_rows, preamble] = flags;
            let quoted = quoted || delimiter == decimal;
            Dialect {
                delimiter,
                decimal,
                line_end,
                encoding,
                heading,
                time,
                quoted,
                padded,
                trailing,
                blank_rows,
                preamble,
            }
        },
    )
}

impl Dialect {
    /// The cell of `text`, a number with a point.
    fn cell(&self, text: &str) -> String {
        let text = text.replace('.', &self.decimal.to_string());
        let text = if self.quoted { format!("\"{text}\"") } else { text };
        if self.padded { format!("  {text} ") } else { text }
    }

    /// The cells of a time given in tenths of a second after 23:59:00.
    fn time_cells(&self, tenths: u32) -> Vec<String> {
        let all = 10 * (24 * 3600 - 60) + tenths;
        let (day, of_day) = (13 + all / 864_000, all % 864_000);
        let (hour, minute) = (of_day / 36_000, of_day / 600 % 60);
        let second = format!("{:02}.{}", of_day / 10 % 60, of_day % 10);
        let clock = format!("{hour:02}:{minute:02}:{second}");
        match self.time {
            "s" => vec![self.cell(&format!("{}.{}", tenths / 10, tenths % 10))],
            "ms" => vec![self.cell(&format!("{}", tenths * 100))],
            "clock" => vec![self.cell(&clock)],
            "iso" => vec![self.cell(&format!("2004-03-{day}T{clock}"))],
            _ => vec![format!("{day}/3/2004"), self.cell(&clock)],
        }
    }

    fn write(&self, rows: &[(u32, i32)]) -> Vec<u8> {
        let mut lines: Vec<String> = Vec::new();
        if self.preamble {
            lines.push("A made-up laboratory".to_owned());
            lines.push(String::new());
        }
        let (mut names, mut units) = match self.time {
            "s" => (vec!["Time"], vec!["s"]),
            "ms" => (vec!["Time"], vec!["ms"]),
            "clock" => (vec!["Clock"], vec![""]),
            "iso" => (vec!["Stamp"], vec![""]),
            _ => (vec!["Date", "Clock"], vec!["", ""]),
        };
        names.extend(["Block", "Remark"]);
        units.extend(["°C", ""]);
        let join = |cells: &[String]| cells.join(&self.delimiter.to_string());
        let named: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
        let united: Vec<String> = units.iter().map(|unit| (*unit).to_owned()).collect();
        match self.heading {
            "in names" => lines.push(join(
                &names
                    .iter()
                    .zip(&units)
                    .map(|(name, unit)| {
                        if unit.is_empty() {
                            (*name).to_owned()
                        } else {
                            format!("{name} ({unit})")
                        }
                    })
                    .collect::<Vec<_>>(),
            )),
            "names, units" => lines.extend([join(&named), join(&united)]),
            _ => lines.extend([join(&united), join(&named)]),
        }
        for (number, (tenths, value)) in rows.iter().enumerate() {
            let mut cells = self.time_cells(*tenths);
            let sign = if *value < 0 { "-" } else { "" };
            let size = value.unsigned_abs();
            cells.push(self.cell(&format!("{sign}{}.{}", size / 10, size % 10)));
            cells.push(if number % 3 == 0 { "gas lit".to_owned() } else { String::new() });
            if self.trailing {
                cells.push(String::new());
            }
            lines.push(join(&cells));
            if self.blank_rows && number % 5 == 2 {
                lines.push(String::new());
            }
        }
        let text = lines.iter().map(|line| format!("{line}{}", self.line_end)).collect::<String>();
        self.spell(&text)
    }

    fn spell(&self, text: &str) -> Vec<u8> {
        let wide = |mark: Option<u16>| mark.into_iter().chain(text.encode_utf16());
        match self.encoding {
            "utf-8" => text.as_bytes().to_vec(),
            "bom" => [b"\xef\xbb\xbf", text.as_bytes()].concat(),
            "utf-16le" => wide(Some(0xfeff)).flat_map(u16::to_le_bytes).collect(),
            "utf-16be" => wide(Some(0xfeff)).flat_map(u16::to_be_bytes).collect(),
            "utf-16le-bare" => wide(None).flat_map(u16::to_le_bytes).collect(),
            _ => text.chars().map(|letter| u8::try_from(u32::from(letter)).unwrap()).collect(),
        }
    }
}

proptest! {
    #[test]
    fn any_table_in_any_dialect_comes_back_the_same(
        dialect in dialects(),
        steps in prop::collection::vec((1_u32..40, -300_i32..9000), 3..60),
    ) {
        let mut tenths = 0;
        let rows: Vec<(u32, i32)> = steps
            .iter()
            .map(|(step, value)| {
                tenths += step;
                // No code for a missing value, and no start like a room in kelvin.
                (tenths, if *value % 10 == 9 { value - 1 } else { *value })
            })
            .collect();
        let file = dialect.write(&rows);
        let imported = import(file.as_slice(), &ImportOptions::default());
        let imported = match imported {
            Ok(imported) => imported,
            Err(error) => {
                return Err(TestCaseError::fail(format!(
                    "{error}\n{dialect:?}\n{}",
                    String::from_utf8_lossy(&file)
                )));
            }
        };
        let counted = !matches!(dialect.time, "s" | "ms");
        let start = if counted { rows[0].0 } else { 0 };
        let expected: Vec<Point> = rows
            .iter()
            .map(|(tenths, value)| Point {
                at: Duration::from_seconds(f64::from(tenths - start) / 10.0),
                temperature: Temperature::from_celsius(f64::from(*value) / 10.0),
            })
            .collect();
        let found: Vec<Point> = imported.trace.points().collect();
        prop_assert_eq!(found, expected, "{}", imported.taken_for);
    }
}
