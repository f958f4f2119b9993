//! The pages in a real browser: found by role and words, driven by keys, touch and mouse.

mod axe;
mod described;
mod driver;
mod flame;
mod hands;
mod newcomer;
mod page;
mod film;
mod bench_film;
mod pages;
mod planned;
mod rubbish;
