//! What the typesetter may see: the template, the report's files and the fonts. Nothing else.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_kit::fonts::FontStore;

const TEMPLATE_NAME: &str = "main.typ";

/// The typefaces of the report: text, and hashes.
const FAMILIES: [&str; 2] = ["Libertinus Serif", "DejaVu Sans Mono"];

static LIBRARY: LazyLock<LazyHash<Library>> =
    LazyLock::new(|| LazyHash::new(Library::builder().build()));

/// The fonts, read once.
pub(super) static FONTS: LazyLock<FontStore> = LazyLock::new(|| {
    let mut fonts = FontStore::new();
    let ours = |info: &typst::text::FontInfo| FAMILIES.contains(&info.family.as_str());
    fonts.extend(typst_kit::fonts::embedded().filter(|(_, info)| ours(info)));
    fonts
});

/// The files of one report, by name.
#[derive(Default)]
pub(super) struct Files(BTreeMap<String, Bytes>);

impl Files {
    pub(super) fn add(&mut self, name: &str, bytes: Vec<u8>) {
        self.0.insert(name.to_owned(), Bytes::new(bytes));
    }
}

/// One report's world.
pub(super) struct ReportWorld {
    files: Files,
    main: Source,
}

impl ReportWorld {
    pub(super) fn new(files: Files, template: &str) -> Self {
        Self { files, main: Source::new(template_id(), template.to_owned()) }
    }
}

#[expect(clippy::expect_used, reason = "the name is a constant of this file")]
fn template_id() -> FileId {
    let path = VirtualPath::new(TEMPLATE_NAME).expect("the template's name is a path");
    RootedPath::new(VirtualRoot::Project, path).intern()
}

impl World for ReportWorld {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        FONTS.book()
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() { Ok(self.main.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let name = id.get().vpath().get_without_slash();
        self.files.0.get(name).cloned().ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.font(index)
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}
