//! The description of the HTTP interface (`OpenAPI` 3.1), made from the routes themselves.

use std::collections::BTreeMap;

use axum::http::Method;
use axum::routing::get;
use axum::{Json, Router};
use serde_json::json;
use trial::person::Act;
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Description;
use utoipa::openapi::extensions::ExtensionsBuilder;
use utoipa_axum::router::OpenApiRouter;

use super::acts::{POSTED, asked};
use super::guard::is_open;
use super::site::{Person, Site};

#[derive(OpenApi)]
#[openapi(info(
    title = "Cinderbook",
    description = "The book over HTTP. Every page has its twin under /api; quantities stand in \
                   numbers whose names end in their unit. /device and /help have none: what a \
                   device can do is known to its own browser alone, and help is words."
))]
struct Title;

/// The routes, and what they are.
pub(super) fn described(routes: OpenApiRouter<Site>) -> (Router<Site>, Description) {
    let described = OpenApiRouter::with_openapi(Title::openapi()).merge(routes);
    let (router, mut description) = described.split_for_parts();
    name_acts(&mut description);
    (router, description)
}

/// Names the acts that each address asks for, those of the pages too.
fn name_acts(description: &mut Description) {
    for (path, item) in &mut description.paths.paths {
        for (method, operation) in [(Method::GET, &mut item.get), (Method::POST, &mut item.post)] {
            let Some(operation) = operation else { continue };
            let named = if is_open(path) { Some(&[][..]) } else { asked(&method, path) };
            let named = ExtensionsBuilder::new().add("x-acts", named.map(words)).build();
            operation.extensions = Some(named);
        }
    }
    let pages = POSTED.iter().filter(|(path, _)| !path.starts_with("/api/"));
    let pages: BTreeMap<&str, Vec<&str>> = pages.map(|(path, acts)| (*path, words(acts))).collect();
    description.extensions =
        Some(ExtensionsBuilder::new().add("x-acts-of-pages", json!(pages)).build());
}

fn words(acts: &[Act]) -> Vec<&'static str> {
    acts.iter().map(|act| act.word()).collect()
}

/// The description as a file, for people of the book (R61).
pub(super) fn routes(description: Description) -> Router<Site> {
    Router::new().route("/api/openapi.json", get(|_: Person| async move { Json(description) }))
}
