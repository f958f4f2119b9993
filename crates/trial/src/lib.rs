//! The life of a test, in this order: what the standard asks, plan, readiness, confirmation,
//! runs, verdict.
//!
//! This room is pure: it knows no clock, no file and no screen. Each stage's verb takes what the
//! stage before it returned, and only the verbs make those values, so a stage cannot be skipped:
//!
//! ```compile_fail
//! # fn skip(ready: &trial::readiness::Ready, seen: trial::run::Observed) {
//! let run = trial::run::record(ready, seen); // expected `&Confirmed`, found `&Ready`
//! # }
//! ```
//!
//! ```
//! # fn whole(confirmed: &trial::confirmation::Confirmed, seen: trial::run::Observed) {
//! let run = trial::run::record(confirmed, seen); // the same with the stage before it
//! # }
//! ```
//!
//! ```compile_fail
//! # fn forge(plan: trial::plan::Plan) -> trial::readiness::Ready {
//! trial::readiness::Ready { plan } // its fields are private
//! # }
//! ```

pub mod number;
pub mod moment;
pub mod clocks;
pub mod rules;
pub mod method;
pub mod profile;
pub mod requirement;
pub mod finding;
pub mod plan;
pub mod care;
pub mod commissioning;
pub mod readiness;
pub mod confirmation;
pub mod base_line;
pub mod bench;
pub mod run;
pub mod verdict;
pub mod equipment;
pub mod evidence;
pub mod book_key;
pub mod signature;
pub mod machine;
mod issued;
pub mod fact;
pub mod person;
pub mod film;
pub mod around;
pub mod history;
pub mod flame_chart;
pub mod reference_cases;
