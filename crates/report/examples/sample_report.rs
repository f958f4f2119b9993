//! Writes the sample report of the tests: `cargo run -p report --example sample_report OUT.pdf`.
#![expect(clippy::disallowed_methods, reason = "an example writes the file it is asked for")]
#![allow(clippy::unwrap_used, reason = "an example that stops has its reason in its panic")]

#[path = "../tests/sample.rs"]
mod sample;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let out = std::env::args().nth(1).ok_or("name the file to write")?;
    let (content, attachments) = sample::report();
    let pdf = report::pdf::render(&content, &attachments)?;
    std::fs::write(out, pdf)?;
    Ok(())
}
