//! Photographs of a specimen: filed as they come, named in the record when the run is.

use axum::Extension;
use axum::extract::{Multipart, Path, State};
use axum::response::Redirect;
use maud::{Markup, html};
use trial::fact::{Evidence, EvidenceHash, EvidenceKind};

use super::place::Place;
use crate::form::fields::Filled;
use crate::problem::Problem;
use crate::web::answer::Refused;
use crate::web::asked::Given;
use crate::web::download::safe;
use crate::web::kind::sent_as;
use crate::web::page::drafts::Drafts;
use crate::web::picture;
use crate::web::site::{Person, Site};
use crate::web::upload::{broken, turn};

/// The most bytes of one photograph, and of all of one page.
const PHOTO_BYTES: usize = 30 << 20;
pub(super) const PAGE_BYTES: usize = 64 << 20;

/// What may be handed in.
const LIMITS: &str = "JPEG, PNG or WebP, each at most 30 MB and 50 million picture elements, \
    together at most 64 MB. Where a \
    camera makes HEIC, set it to the most compatible form, or choose JPEG.";

/// A photograph as the draft names it: hash, size, name.
pub(super) fn kept(text: &str) -> Option<Evidence> {
    let mut parts = text.splitn(3, ' ');
    let (hash, bytes, name) = (parts.next()?, parts.next()?.parse().ok()?, parts.next()?);
    let hash = ledger::hash::BlobHash::from_hex(hash)?;
    let (name, hash) = (name.to_owned(), EvidenceHash(hash.0));
    Some(Evidence { name, hash, bytes, kind: EvidenceKind::Photo })
}

/// Takes photographs up.
pub(super) async fn take(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Given(Path(named)): Given<Path<String>>,
    person: Person,
    Given(mut parts): Given<Multipart>,
) -> Result<Redirect, Refused> {
    let place = Place::at(&site, &named).await?;
    let _turn = turn().await;
    while let Some(part) = parts.next_field().await.map_err(|error| broken(&error))? {
        let Some(name) = part.file_name().map(str::to_owned) else { continue };
        let (name, sent) = (safe(&name), part.content_type().map(str::to_owned));
        let bytes = part.bytes().await.map_err(|error| broken(&error))?;
        if bytes.is_empty() {
            continue;
        }
        let too_large = (bytes.len() > PHOTO_BYTES)
            .then(|| format!("`{name}` has {} MB, more than 30 MB", bytes.len() >> 20));
        let unfit =
            || picture::fit(&name, &bytes).and_then(|()| sent_as(&name, sent.as_deref(), &bytes));
        if let Some(why) = too_large.or_else(|| unfit().err()) {
            return Err(Problem::used_wrongly(why).hint(LIMITS).into());
        }
        let filed =
            site.read(move |book| book.file_bytes(&name, EvidenceKind::Photo, &mut &*bytes));
        let filed = filed.await?;
        let mut typed = place.draft(&drafts, &person.0);
        let text = format!("{} {} {}", filed.hash, filed.bytes, filed.name);
        if !typed.all("photo").any(|photo| photo == text) {
            typed.add("photo", &text);
        }
        drafts.keep(&person.0, &place.draft_name(), typed);
    }
    Ok(Redirect::to(&place.address(place.with_photos())))
}

/// Those that are kept, and a form for more.
pub(super) fn form(place: &Place, filled: Filled<'_>) -> Markup {
    html! {
        h2 { "Photographs" }
        @for photo in filled.typed.all("photo").filter_map(kept) {
            p { (photo.name) ", " (photo.bytes.div_ceil(1024)) " kB: kept" }
        }
        form method="post" enctype="multipart/form-data" novalidate
            action={ (place.specimen_address()) "/photos" } {
            div.field {
                label for="photo" { "Add photographs" }
                p.hint id="photo-hint" { (LIMITS) }
                input id="photo" name="photo" type="file" accept="image/*" capture="environment"
                    multiple aria-describedby="photo-hint";
            }
            button.second type="submit" { "Keep the photographs" }
        }
    }
}
