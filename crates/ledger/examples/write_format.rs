//! Writes the record that tests keep of this version: `write_format FOLDER`, once a version.

#[expect(clippy::unwrap_used, reason = "the story is the tests' own")]
#[path = "../tests/story.rs"]
mod story;

use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name the folder to write to")?;
    let folder = Path::new(&folder);
    let work = tempfile::tempdir()?;
    let book = story::tell(&work.path().join("book"));
    book.back_up(&folder.join("book"))?;
    book.export(&folder.join("bundle"))?;
    Ok(())
}
