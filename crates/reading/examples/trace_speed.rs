//! A large logger file to the time between two crossings, for `benches/run trace`.
//!
//! Prints one line of JSON. Crossings are placed as its peer does, by a line through two readings;
//! the program itself places them by a fit (`reading::rise_time`).
#![expect(clippy::disallowed_methods, reason = "a measurement reads a file and its arguments")]
#![expect(clippy::print_stdout, reason = "its output is its purpose")]

use reading::Trace;
use reading::import::{ChannelChoice, ImportOptions, import};

/// The seconds at which `trace` first climbs through each of `levels`, in rising order.
fn crossings(trace: &Trace, levels: [f64; 2]) -> Option<[f64; 2]> {
    let mut points = trace.points().map(|it| (it.at.seconds(), it.temperature.celsius()));
    let mut before = points.next()?;
    let mut found = Vec::new();
    for after in points {
        if let Some(level) = levels.get(found.len())
            && before.1 < *level
            && after.1 >= *level
        {
            let slope = (after.1 - before.1) / (after.0 - before.0);
            found.push(before.0 + (level - before.1) / slope);
        }
        before = after;
    }
    found.try_into().ok()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args().nth(1).ok_or("usage: trace_speed FILE")?;
    let channel = Some(ChannelChoice::Name("T1".to_owned()));
    let options = ImportOptions { channel, ..ImportOptions::default() };
    let trace = import(std::fs::File::open(path)?, &options)?.trace;
    let [bottom, top] =
        crossings(&trace, [100.0, 700.0]).ok_or("the trace does not climb from 100 to 700 °C")?;
    println!("{{\"rise_s\": {:.12}, \"rows\": {}}}", top - bottom, trace.len());
    Ok(())
}
