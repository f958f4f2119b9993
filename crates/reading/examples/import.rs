//! Prints what a logger's file is taken for: `cargo run -p reading --example import -- FILE`.
#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "an example reads a file and prints"
)]

use reading::import::{ImportOptions, import};

fn main() -> std::io::Result<()> {
    for path in std::env::args().skip(1) {
        let options = ImportOptions::default();
        match import(std::fs::File::open(&path)?, &options) {
            Ok(imported) => println!("{path}: {}", imported.taken_for),
            Err(error) => {
                println!("{path}: error: {error}");
                if let Some(hint) = error.hint() {
                    println!("hint: {hint}");
                }
            }
        }
    }
    Ok(())
}
