//! The description of the HTTP interface (`OpenAPI` 3.1), made from the routes themselves.

use axum::routing::get;
use axum::{Json, Router};
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Description;
use utoipa_axum::router::OpenApiRouter;

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
    OpenApiRouter::with_openapi(Title::openapi()).merge(routes).split_for_parts()
}

/// The description as a file, for people of the book (R61).
pub(super) fn routes(description: Description) -> Router<Site> {
    Router::new().route("/api/openapi.json", get(|_: Person| async move { Json(description) }))
}
