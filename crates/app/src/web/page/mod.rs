//! The pages, one file each.

mod today;

use utoipa_axum::router::OpenApiRouter;

use super::site::Site;

/// The routes of all pages and of their twins.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().merge(today::routes())
}
