//! Files of a specimen, handed out.

use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderName, header};
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};
use trial::fact::EvidenceKind;
use trial::number::{PlanNumber, SpecimenNumber};

use super::super::shown;
use super::{File, Specimen, run};
use crate::book::from_ledger;
use crate::photo;
use crate::problem::Problem;
use crate::web::answer::{Refused, sentence};
use crate::web::asked::Given;
use crate::web::site::{Person, Site};
use crate::web::streamed::Streamed;
use crate::web::{download, film, picture};

/// A file of a specimen: a picture, without its place, or a film is shown, in a sandbox; anything else
/// is handed out. The picture as it came is handed out by its entry.
pub(super) async fn file(
    State(site): State<Site>,
    Given(Path((named, sha256))): Given<Path<(String, String)>>,
    _person: Person,
    headers: HeaderMap,
) -> Result<Response, Refused> {
    let (plan, specimen) = shown::specimen_at(&site, &named).await?;
    if let Some(film) = film_at(&site, (plan, specimen), sha256.clone()).await? {
        return film.answer(&headers);
    }
    let asked = sha256.clone();
    let found = site.read(move |book| {
        let history = book.history();
        let after = run(history, plan, specimen).map(|it| &it.run.observed().evidence);
        let mut files =
            history.photos_before(plan, specimen).iter().chain(after.into_iter().flatten());
        let Some(file) = files.find(|it| it.hash.to_string() == asked) else { return Ok(None) };
        let bytes = book.book().evidence(file.hash).map_err(|error| from_ledger(&error))?;
        Ok(Some((file.name.clone(), bytes)))
    });
    let Some((name, bytes)) = found.await? else {
        let problem = Problem::used_wrongly(format!("the specimen has no file `{sha256}`"));
        return Err(Refused::not_found(problem.hint("Take one of those on its page.")));
    };
    let Some(head) = picture::head(&bytes) else {
        return Ok(download::attachment(&name, bytes));
    };
    let headers: [(HeaderName, &str); 2] = [
        (header::CONTENT_TYPE, head.kind),
        (header::CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox"),
    ];
    Ok((headers, photo::without_place(bytes)).into_response())
}

/// A film of a specimen, to be shown by a player or to be taken away.
async fn film_at(
    site: &Site,
    (plan, specimen): (PlanNumber, SpecimenNumber),
    sha256: String,
) -> Result<Option<Streamed>, Refused> {
    let found = site.read(move |book| {
        let mut films = book.history().films(plan, specimen).iter();
        let found = films.find(|film| film.film.hash.to_string() == sha256);
        found.map(|found| Ok((book.open_evidence(&found.film)?, found.film.clone()))).transpose()
    });
    let Some((file, found)) = found.await? else { return Ok(None) };
    let (file, kind) = site.aside(move || film::kind_of(file)).await?;
    let media = kind.map_or("application/octet-stream", |kind| kind.media);
    let headers = vec![
        (header::CONTENT_TYPE, media.to_owned()),
        (header::CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox".to_owned()),
    ];
    Ok(Some(Streamed { file, sha256: found.hash.to_string(), headers }))
}

/// The photographs of a specimen, and other files of its run.
pub(super) fn photographs(specimen: &Specimen) -> Markup {
    let before = specimen.photos_before.iter().map(|file| (file, "before the flame"));
    let files = before.chain(specimen.evidence.iter().map(|file| (file, "after the flame")));
    let address = |file: &File| {
        format!("/specimens/{}-{}/evidence/{}", specimen.plan, specimen.specimen, file.sha256)
    };
    html! {
        @if !specimen.evidence.is_empty() || !specimen.photos_before.is_empty() {
            h2 { "Photographs" }
            @for (file, when) in files {
                @let photo = file.kind == EvidenceKind::Photo.word();
                figure {
                    @if photo {
                        img src=(address(file)) loading="lazy"
                            alt={ "Photograph " (file.name) ", " (when) };
                    }
                    figcaption { p {
                        @if photo { strong { (sentence(when)) } " " }
                        a href=(address(file)) { (file.name) }
                        ", " (file.bytes.div_ceil(1024)) " kB, SHA-256 " (&file.sha256[..16]) "…"
                    } }
                }
            }
        }
    }
}
