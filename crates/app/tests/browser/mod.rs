//! The pages in a real browser: found by role and words, driven by keys, touch and mouse.

mod at_bench;
mod axe;
mod busy;
mod corrected;
mod dark;
mod described;
mod drifted;
mod driver;
mod enrolled;
mod first_report;
mod flame;
mod hands;
mod in_the_dark;
mod lost;
mod newcomer;
mod page;
mod film;
mod film_sound;
mod bench_photo;
mod bench_film;
mod pages;
mod planned;
mod printed;
mod reviewed;
mod rubbish;
mod stored;
