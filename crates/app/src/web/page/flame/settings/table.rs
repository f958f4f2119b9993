//! The settings that each kind of instrument has, with what they begin with.

use crate::form::number::{self, Kind as NumberKind};

/// One setting.
pub(super) struct Setting {
    /// Its field, which is its word in the text.
    pub(super) name: &'static str,
    /// The table of the text that it stands in.
    pub(super) table: &'static str,
    pub(super) label: &'static str,
    pub(super) hint: &'static str,
    /// What it begins with.
    pub(super) begins: &'static str,
    pub(super) kind: Kind,
}

/// What a setting is.
#[derive(Clone, Copy)]
pub(super) enum Kind {
    /// Words.
    Words,
    /// Words that may be left out.
    MayBeWords,
    /// A whole number.
    Whole,
    /// A number.
    Number(&'static NumberKind),
    /// A number that may be left out.
    MayBe(&'static NumberKind),
    /// Numbers, none of them too.
    Numbers,
    /// One of several words.
    Choice(&'static [(&'static str, &'static str)]),
}

/// Settings that belong together, under their heading; those that are seldom changed are folded.
pub(super) struct Group {
    pub(super) heading: &'static str,
    pub(super) folded: bool,
    pub(super) settings: &'static [Setting],
}

/// A number without a unit. Settings have narrower limits of their own.
pub(super) const PLAIN: NumberKind =
    NumberKind { unit: "", also: &[], least: -4_294_967_296, most: 4_294_967_296 };
const SECONDS: NumberKind = number::SECONDS;

/// The one channel of a sitting.
pub(super) const CHANNEL: &str = "Block";

const PORT: Group = Group {
    heading: "The port",
    folded: false,
    settings: &[
        Setting {
            name: "path",
            table: "port",
            label: "Port of the server",
            hint: "A path under /dev/serial/by-id stays the same when the plug is moved.",
            begins: "/dev/ttyUSB0",
            kind: Kind::Words,
        },
        Setting {
            name: "baud",
            table: "port",
            label: "Baud rate",
            hint: "As the instrument is set, such as 9600, 19200 or 115200.",
            begins: "9600",
            kind: Kind::Whole,
        },
        Setting {
            name: "parity",
            table: "port",
            label: "Parity",
            hint: "",
            begins: "none",
            kind: Kind::Choice(&[("none", "None"), ("even", "Even"), ("odd", "Odd")]),
        },
    ],
};

const NETWORK: Group = Group {
    heading: "The address",
    folded: false,
    settings: &[Setting {
        name: "address",
        table: "",
        label: "Host and port of the instrument",
        hint: "Such as 192.168.1.20:4001, or 192.168.1.20:502 for Modbus.",
        begins: "",
        kind: Kind::Words,
    }],
};

const UNIT: Setting = Setting {
    name: "unit",
    table: "[channel]",
    label: "Unit of the number",
    hint: "",
    begins: "C",
    kind: Kind::Choice(&[("C", "°C"), ("K", "K"), ("F", "°F")]),
};

/// The readings of an open wire, where the instrument tells it by a number.
const fn open_circuit(hint: &'static str) -> Setting {
    Setting {
        name: "open_circuit",
        table: "[channel]",
        label: "Numbers that say that the wire is open (optional)",
        hint,
        begins: "",
        kind: Kind::Numbers,
    }
}

const LINE: Group = Group {
    heading: "What a line holds",
    folded: false,
    settings: &[
        Setting {
            name: "column",
            table: "[channel]",
            label: "Cell of a line that is the block",
            hint: "Counted from 1.",
            begins: "1",
            kind: Kind::Whole,
        },
        Setting {
            name: "delimiter",
            table: "line",
            label: "What stands between two cells?",
            hint: "",
            begins: "semicolon",
            kind: Kind::Choice(&[
                ("comma", "Comma"),
                ("semicolon", "Semicolon"),
                ("tab", "Tab"),
                ("blank", "Blanks"),
                ("pipe", "Upright line"),
                ("none", "Nothing: a line is one cell"),
            ]),
        },
        Setting {
            name: "decimal",
            table: "line",
            label: "Decimal sign",
            hint: "",
            begins: "point",
            kind: Kind::Choice(&[("point", "Point"), ("comma", "Comma")]),
        },
        UNIT,
        Setting {
            name: "before",
            table: "[channel]",
            label: "Letters before the number (optional)",
            hint: "Such as T=.",
            begins: "",
            kind: Kind::MayBeWords,
        },
        open_circuit("As the instrument's manual says, such as 1372; several with blanks between."),
    ],
};

const REGISTER: Group = Group {
    heading: "The register",
    folded: false,
    settings: &[
        Setting {
            name: "unit_number",
            table: "",
            label: "Unit number of the instrument",
            hint: "From 1 to 247.",
            begins: "1",
            kind: Kind::Whole,
        },
        Setting {
            name: "table",
            table: "[channel]",
            label: "Which registers?",
            hint: "",
            begins: "input",
            kind: Kind::Choice(&[
                ("input", "Input registers (function 4, 30001 on)"),
                ("holding", "Holding registers (function 3, 40001 on)"),
            ]),
        },
        Setting {
            name: "register",
            table: "[channel]",
            label: "Register of the block",
            hint: "As it is sent: what a manual calls 30001 or 40001 is 0.",
            begins: "0",
            kind: Kind::Whole,
        },
        Setting {
            name: "number",
            table: "[channel]",
            label: "What kind of number?",
            hint: "",
            begins: "i16",
            kind: Kind::Choice(&[
                ("i16", "One register, with a sign"),
                ("u16", "One register, without a sign"),
                ("i32", "Two registers, with a sign"),
                ("u32", "Two registers, without a sign"),
                ("f32", "Two registers, a floating-point number"),
            ]),
        },
        Setting {
            name: "scale",
            table: "[channel]",
            label: "Number that it is multiplied by",
            hint: "0.1 where 234 means 23.4.",
            begins: "0.1",
            kind: Kind::Number(&PLAIN),
        },
        UNIT,
        open_circuit("Before they are multiplied, such as 32767; several with blanks between."),
    ],
};

const INTERVAL: Setting = Setting {
    name: "interval_seconds",
    table: "",
    label: "Seconds from one reading to the next",
    hint: "",
    begins: "0.1",
    kind: Kind::Number(&SECONDS),
};

const SILENCE: Setting = Setting {
    name: "silence_seconds",
    table: "",
    label: "Silence is told after so many seconds (optional)",
    hint: "Left out: three readings' time, at least 1 s.",
    begins: "",
    kind: Kind::MayBe(&SECONDS),
};

const LINE_RHYTHM: Group =
    Group { heading: "How often", folded: false, settings: &[INTERVAL, SILENCE] };

const MODBUS_RHYTHM: Group = Group {
    heading: "How often it is asked",
    folded: false,
    settings: &[
        INTERVAL,
        SILENCE,
        Setting {
            name: "answer_within_seconds",
            table: "",
            label: "Seconds that an answer may take (optional)",
            hint: "Left out: 0.5 s.",
            begins: "",
            kind: Kind::MayBe(&SECONDS),
        },
    ],
};

const SELDOM_PORT: Group = Group {
    heading: "Bits of a character",
    folded: true,
    settings: &[
        Setting {
            name: "data_bits",
            table: "port",
            label: "Bits of a character",
            hint: "",
            begins: "8",
            kind: Kind::Choice(&[("8", "8"), ("7", "7")]),
        },
        Setting {
            name: "stop_bits",
            table: "port",
            label: "Bits after it",
            hint: "",
            begins: "1",
            kind: Kind::Choice(&[("1", "1"), ("2", "2")]),
        },
    ],
};

const ORDERS: &[(&str, &str)] =
    &[("high-first", "The higher first, as Modbus has it"), ("low-first", "The lower first")];

const SELDOM_REGISTER: Group = Group {
    heading: "Order of words and bytes",
    folded: true,
    settings: &[
        Setting {
            name: "word_order",
            table: "[channel]",
            label: "Which of two registers comes first?",
            hint: "",
            begins: "high-first",
            kind: Kind::Choice(ORDERS),
        },
        Setting {
            name: "byte_order",
            table: "[channel]",
            label: "Which of the two bytes of a register comes first?",
            hint: "",
            begins: "high-first",
            kind: Kind::Choice(ORDERS),
        },
    ],
};

/// The settings of a kind of instrument, in the order of the page; none of what is no instrument.
pub(super) const fn groups(kind: &str) -> &'static [Group] {
    match kind.as_bytes() {
        b"serial-lines" => &[PORT, LINE, LINE_RHYTHM, SELDOM_PORT],
        b"tcp-lines" => &[NETWORK, LINE, LINE_RHYTHM],
        b"modbus-rtu" => &[PORT, REGISTER, MODBUS_RHYTHM, SELDOM_PORT, SELDOM_REGISTER],
        b"modbus-tcp" => &[NETWORK, REGISTER, MODBUS_RHYTHM, SELDOM_REGISTER],
        _ => &[],
    }
}

pub(super) fn all(kind: &str) -> impl Iterator<Item = &'static Setting> + use<> {
    groups(kind).iter().flat_map(|group| group.settings)
}
