//! How long a request may take (R75): an answer has its limit, what is sent has another.

use std::time::Duration;

use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;

use super::answer::Refused;
use crate::problem::Problem;

/// So long nothing may come of what is sent, before its sender is given up.
pub(super) const SILENT: Duration = Duration::from_secs(30);

/// So long an answer may take.
const ANSWERED: Duration = Duration::from_secs(60);

/// Answers within the limit. A film may flow for longer: it is given up when it is silent.
pub(super) async fn answered(request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    if path.ends_with("/films") {
        return next.run(request).await;
    }
    match tokio::time::timeout(ANSWERED, next.run(request)).await {
        Ok(response) => response,
        Err(_) => {
            let problem = Problem::surroundings("the answer took longer than 60 s")
                .hint("Look whether it was done, then ask again.");
            Refused::with(problem, StatusCode::REQUEST_TIMEOUT).to(&path)
        }
    }
}
