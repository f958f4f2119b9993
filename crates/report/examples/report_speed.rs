//! Sets the report of `benches/report`: `report_speed OUT.pdf [--warm | --data DIR]`, with the
//! photographs of `target/report-data` as a camera would give them (JPEG), where there are any.
//!
//! Prints one line of JSON. Alone it sets the report once, to be timed from outside as a whole
//! process. `--warm` sets it once, then times five
//! others, each with its own number and specimens. `--data` writes what the peer needs.
#![expect(clippy::disallowed_methods, reason = "a measurement reads the clock and writes files")]
#![expect(clippy::print_stdout, reason = "the measurement is what it prints")]
#![allow(clippy::unwrap_used, reason = "the sample is shared with the tests")]

#[path = "../tests/sample.rs"]
mod sample;

use std::path::Path;
use std::time::Instant;

use report::content::{Content, Specimen};
use report::pdf::{Attachments, render};

const WARM_RUNS: u32 = 5;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let out = arguments.first().ok_or("name the file to write")?;
    let (mut content, attachments) = six_pages();
    if arguments.get(1).is_some_and(|option| option == "--data") {
        let folder = arguments.get(2).ok_or("name the folder for the data")?;
        return write_data(Path::new(folder), &content, &attachments);
    }
    let mut pdf = render(&content, &attachments)?;
    let mut seconds = 0.0;
    if arguments.get(1).is_some_and(|option| option == "--warm") {
        let start = Instant::now();
        for run in 0..WARM_RUNS {
            content.number = format!("R-{run}");
            for specimen in &mut content.specimens {
                specimen.number += 1;
            }
            pdf = render(&content, &attachments)?;
        }
        seconds = start.elapsed().as_secs_f64() / f64::from(WARM_RUNS);
    }
    std::fs::write(out, &pdf)?;
    let (specimens, photos) = (content.specimens.len(), content.photos.len());
    println!(
        "{{\"seconds\": {seconds}, \"result\": {{\"specimens\": {specimens}, \"photos\": {photos}}}}}"
    );
    Ok(())
}

/// The sample with more specimens and photographs, so that it fills six pages.
fn six_pages() -> (Content, Attachments) {
    let (mut content, mut attachments) = sample::report();
    let first = content.specimens[0].clone();
    content.specimens = (1..=6).map(|number| Specimen { number, ..first.clone() }).collect();
    let more: Vec<_> = content.photos.clone();
    content.photos.extend(more);
    attachments.photos.extend((3..=4).map(|shade| sample::png(640, 480, shade)));
    for (photo, number) in attachments.photos.iter_mut().zip(1..) {
        if let Ok(jpeg) = std::fs::read(format!("target/report-data/photo-{number}.jpg")) {
            *photo = jpeg;
        }
    }
    (content, attachments)
}

fn write_data(
    folder: &Path,
    content: &Content,
    attachments: &Attachments,
) -> Result<(), Box<dyn std::error::Error>> {
    std::fs::create_dir_all(folder)?;
    std::fs::write(folder.join("report.json"), report::json::write(content)?)?;
    for (photo, number) in attachments.photos.iter().zip(1..) {
        std::fs::write(folder.join(format!("photo-{number}.png")), photo)?;
    }
    for curve in &attachments.curves {
        let rows = curve
            .trace
            .points()
            .map(|point| format!("{},{}\n", point.at.seconds(), point.temperature.celsius()));
        let name = format!("curve-{}.csv", curve.determination);
        std::fs::write(folder.join(name), rows.collect::<String>())?;
    }
    Ok(())
}
