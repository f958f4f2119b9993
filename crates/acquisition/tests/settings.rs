//! Settings that cannot be used say where and why.

use acquisition::SourceSettings;
use acquisition::settings::{Fault, Speed};

fn refused(text: &str) -> String {
    let error = SourceSettings::from_toml(text).unwrap_err();
    assert!(!error.hint().is_empty());
    error.to_string()
}

const LINES: &str = "source = \"tcp-lines\"\naddress = \"host:4001\"\ninterval_seconds = 0.1\n\
                     [line]\ndelimiter = \"tab\"\ndecimal = \"point\"\n";

#[test]
fn a_wrong_word_is_told_with_its_line() {
    let check = |text: &str, expected: &str| assert_eq!(refused(text), expected);
    check(
        "source = \"gpib\"\n",
        "line 1 of the settings: unknown variant `gpib`, expected one of `tcp-lines`, `serial-lines`, `modbus-rtu`, `modbus-tcp`, `replay`, `practice`",
    );
    check("seed = 1\n", "line 1 of the settings: missing field `source`");
    check(
        &LINES.replace("tab", "colon"),
        "line 5 of the settings: `colon` is none of: comma, semicolon, tab, blank, pipe, none",
    );
    let unit = format!("{LINES}[[channel]]\nname = \"A\"\ncolumn = 1\nunit = \"R\"\n");
    check(
        &unit,
        "line 10 of the settings: unknown variant `R`, expected one of `C`, `°C`, `K`, `F`, `°F`",
    );
}

#[test]
fn a_value_that_cannot_be_meant_is_told_with_its_limits() {
    let check = |text: &str, expected: &str| assert_eq!(refused(text), expected);
    check(LINES, "there are 0 channels; there can be 1 to 64");
    let one = "[[channel]]\nname = \"A\"\ncolumn = 1\nunit = \"C\"\n";
    check(&format!("{LINES}{one}{one}"), "the channel name \"A\" stands twice");
    check(
        &format!("{LINES}{one}").replace("host:4001", "host"),
        "address is \"host\": a host and a port are asked, such as `192.168.1.20:4001`",
    );
    check(
        &format!("{LINES}{one}").replace("= 0.1", "= 0"),
        "interval_seconds is 0 s; it lies between 0.001 s and 3600 s",
    );
    check(
        &format!("{LINES}{one}").replace("column = 1", "column = 0"),
        "column is 0; it lies between 1 and 256",
    );
    check(
        "source = \"practice\"\nseed = 1\nspeed = -2\n",
        "speed is -2 times real time; it lies between 0.01 times real time and 1000 times real time",
    );
}

#[test]
fn registers_that_cannot_be_are_told() {
    let text = "source = \"modbus-rtu\"\nunit_number = 1\ninterval_seconds = 0.1\n\
                [port]\npath = \"/dev/ttyS0\"\nbaud = 9600\n[[channel]]\nname = \"A\"\n\
                table = \"input\"\nregister = 65535\nnumber = \"f32\"\nunit = \"C\"\n";
    assert_eq!(refused(text), "register is 65535; it lies between 0 and 65534");
    let check = |from: &str, to: &str, expected: &str| {
        assert_eq!(refused(&text.replace("65535", "1").replace(from, to)), expected);
    };
    check("unit_number = 1", "unit_number = 0", "unit_number is 0; it lies between 1 and 247");
    check("baud = 9600", "baud = 9", "baud is 9; it lies between 50 and 4000000");
    check(
        "f32",
        "f64",
        "line 11 of the settings: unknown variant `f64`, expected one of `i16`, `u16`, `i32`, `u32`, `f32`",
    );
    check(
        "source",
        "write = true\nsource",
        "line 1 of the settings: unknown field `write`, expected one of `source`, `port`, `unit_number`, `interval_seconds`, `silence_seconds`, `answer_within_seconds`, `channel`",
    );
}

#[test]
fn a_practice_bench_needs_a_seed_alone() {
    let text = "source = \"practice\"\nseed = 3\nspeed = \"at-once\"\nfault = \"stuck\"\n";
    let SourceSettings::Practice(bench) = SourceSettings::from_toml(text).unwrap() else {
        panic!("another source")
    };
    assert_eq!((bench.speed, bench.fault), (Speed::AtOnce, Some(Fault::Stuck)));
    assert_eq!(bench.readings_per_second.to_bits(), 10.0_f64.to_bits());
}
