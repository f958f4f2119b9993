//! Scripts and styles, which are inside the program.

use axum::Router;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use rust_embed::Embed;

use super::asked::Given;
use super::site::Site;

#[derive(Embed)]
#[folder = "src/web/assets"]
struct Assets;

/// The routes to all of them.
pub(super) fn routes() -> Router<Site> {
    Router::new()
        .route("/assets/{*path}", get(asset))
        .route("/sw.js", get(|headers: HeaderMap| async move { answer("sw.js", &headers) }))
}

async fn asset(Given(Path(path)): Given<Path<String>>, headers: HeaderMap) -> Response {
    answer(&path, &headers)
}

fn answer(path: &str, headers: &HeaderMap) -> Response {
    let Some(file) = Assets::get(path) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    let tag: String =
        file.metadata.sha256_hash().iter().map(|byte| format!("{byte:02x}")).collect();
    let tag = format!("\"{tag}\"");
    if headers.get(header::IF_NONE_MATCH).is_some_and(|seen| seen == tag.as_str()) {
        return StatusCode::NOT_MODIFIED.into_response();
    }
    let kind = match path.rsplit('.').next() {
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("webmanifest") => "application/manifest+json",
        _ => "application/octet-stream",
    };
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::ETAG, tag),
        (header::CACHE_CONTROL, "no-cache".to_owned()),
    ];
    (headers, file.data.into_owned()).into_response()
}
