//! app
fn main() {}
