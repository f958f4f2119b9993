//! Our numbers against packages that others wrote.

use crate::python;

mod budgets;
mod quantiles;
mod thermocouples;
mod trials;

#[test]
fn the_reference_packages_are_those_of_the_list() {
    let list = include_str!("../../../tests/python/requirements.txt");
    let wanted: Vec<&str> = list.lines().filter(|line| line.contains("==")).collect();
    let found = python::run("versions.py", &wanted.join("\n"));
    assert_eq!(found.lines().collect::<Vec<_>>(), wanted);
}
