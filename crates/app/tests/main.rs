//! The tests of the program as a whole, and of the house.
#![cfg(test)]

mod access;
mod access_tls;
mod browser;
#[cfg(target_os = "linux")]
mod calls;
mod clocks;
#[cfg(target_os = "linux")]
mod cuts;
mod devices;
#[cfg(target_os = "linux")]
mod disk_faults;
mod docs;
mod drift;
mod drill;
mod gates;
mod german;
mod help;
mod house;
mod kills;
mod made_up;
#[cfg(target_os = "linux")]
mod memory;
mod path;
mod people;
mod people_held;
mod proof;
mod rubbish;
mod served;
mod setup;
mod several;
mod slow;
mod supply;
mod tidy;
mod tidy_map;
mod transcripts;
mod web_around;
mod usual;
mod validated;
mod web_bench;
mod web_care;
mod web_chart;
mod web_closed;
mod web_describe;
mod web_flame;
mod web_flame_files;
mod web_flame_live;
mod web_modules;
mod web_film;
mod web_pages;
mod web_plans;
mod web_schema;
mod web_sign;
mod web_times;
mod web_trains;
mod web_why;
