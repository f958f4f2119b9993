//! The pages in a real browser: found by role and words, driven by keys, touch and mouse.

mod axe;
mod driver;
mod page;
mod pages;
