//! The pages, one file each.

mod bench;
mod bench_before;
mod bench_pass;
mod flame;
mod flame_chart;
mod bench_photo;
mod around;
mod bench_film;
mod sign_in;
mod sign;
mod link;
mod today;
mod alarm;
mod record;
mod plans;
mod plan;
mod plan_new;
mod specimen;
mod describe;
mod review;
mod drafts;
mod shown;
mod reports;
mod equipment;
mod care;
mod certificate;
mod setup;
mod second_factor;
mod device;
mod enrol;
pub(super) mod help;

use utoipa_axum::router::OpenApiRouter;

use super::site::Site;
pub(super) use crate::words::when;
pub(super) use device::ENROLMENT;
pub(super) use second_factor::SECOND_FACTOR;

/// The routes of all pages and of their twins.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .merge(sign_in::routes())
        .merge(sign::routes())
        .merge(link::routes())
        .merge(today::routes())
        .merge(plans::routes())
        .merge(plan::routes())
        .merge(bench::routes())
        .merge(flame::routes())
        .merge(flame_chart::routes())
        .merge(bench_photo::routes())
        .merge(around::routes())
        .merge(bench_film::routes())
        .merge(plan_new::routes())
        .merge(specimen::routes())
        .merge(describe::routes())
        .merge(review::routes())
        .merge(record::routes())
        .merge(reports::routes())
        .merge(equipment::routes())
        .merge(care::routes())
        .merge(certificate::routes())
        .merge(setup::routes())
        .merge(second_factor::routes())
        .merge(device::routes())
        .merge(enrol::routes())
        .merge(help::routes())
}
