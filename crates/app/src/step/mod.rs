//! The stages of a test on an open book, in their order. Each calls one verb of `trial`, keeps one
//! entry, and says what came of it. No rule lives here.

pub(crate) mod plan;
pub(crate) mod ready;
pub(crate) mod confirm;
pub(crate) mod base_line;
pub(crate) mod block;
pub(crate) mod budget;
pub(crate) mod why;
pub(crate) mod press;
pub(crate) mod people;
pub(crate) mod photo;
pub(crate) mod film;
pub(crate) mod run;
pub(crate) mod amend;
pub(crate) mod accept;
pub(crate) mod judge;
pub(crate) mod sign;
pub(crate) mod review;
pub(crate) mod clocks;
pub(crate) mod report;
pub(crate) mod proof;
pub(crate) mod rests;
pub(crate) mod scrub;
pub(crate) mod trail;
pub(crate) mod verify;
pub(crate) mod chart;
pub(crate) mod tested;
pub(crate) mod care;
pub(crate) mod around;
