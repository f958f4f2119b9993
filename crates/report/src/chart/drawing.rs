//! Lines, bands and words, written as SVG.

use std::fmt::Write as _;

use crate::words::Words;

/// A picture, and what it shows in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// The picture: one SVG element that needs nothing else.
    pub svg: String,
    /// What it shows, to be read in its place.
    pub told: String,
}

/// Where a picture will be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Ink on white, in the report's typeface.
    Paper,
    /// On a screen, light or dark as the reader has set it.
    Screen,
    /// Inside a page, whose own style gives the colours.
    Page,
}

/// What a line, a band or a word is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ink {
    /// Text and the first curve.
    Black,
    /// Text that stands back.
    Quiet,
    /// Axes and ticks.
    Line,
    /// Lines behind the curves.
    Grid,
    /// The band of what is accepted.
    Band,
    /// The second curve.
    Blue,
    /// The third curve.
    Rust,
    /// The ground.
    Ground,
}

impl Ink {
    const ALL: [Self; 8] = [
        Self::Black,
        Self::Quiet,
        Self::Line,
        Self::Grid,
        Self::Band,
        Self::Blue,
        Self::Rust,
        Self::Ground,
    ];

    /// The colour on white.
    const fn light(self) -> &'static str {
        match self {
            Self::Black => "#1A1A18",
            Self::Quiet => "#55534C",
            Self::Line => "#767468",
            Self::Grid => "#E2E0D8",
            Self::Band => "#EDEBE3",
            Self::Blue => "#0072B2",
            Self::Rust => "#B34700",
            Self::Ground => "#FFFFFF",
        }
    }

    /// The colour on a dark ground.
    const fn dark(self) -> &'static str {
        match self {
            Self::Black => "#E9E6DC",
            Self::Quiet => "#B3AE9F",
            Self::Line => "#8F8A7C",
            Self::Grid => "#33322D",
            Self::Band => "#2B2A26",
            Self::Blue => "#56B4E9",
            Self::Rust => "#E69F00",
            Self::Ground => "#161614",
        }
    }

    const fn class(self) -> &'static str {
        match self {
            Self::Black => "black",
            Self::Quiet => "quiet",
            Self::Line => "line",
            Self::Grid => "grid",
            Self::Band => "band",
            Self::Blue => "blue",
            Self::Rust => "rust",
            Self::Ground => "ground",
        }
    }
}

/// How a line runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Dash {
    Solid,
    Dashed,
    Dotted,
    Fine,
}

/// A pen: colour, width in points, and how its line runs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pen(pub(super) Ink, pub(super) f64, pub(super) Dash);

/// Where a word stands against its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A place, in points from the upper left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct At(pub(super) f64, pub(super) f64);

/// A picture being drawn.
pub(super) struct Drawing {
    look: Look,
    /// A number along an axis as it is printed, of one that is written with a point.
    shown: fn(&str) -> String,
    width: f64,
    height: f64,
    body: String,
}

impl Drawing {
    pub(super) fn new(look: Look, width: f64, height: f64) -> Self {
        let shown = str::to_owned;
        let mut drawing = Self { look, shown, width, height, body: String::new() };
        if look == Look::Screen {
            drawing.rect(At(0.0, 0.0), At(width, height), Ink::Ground);
        }
        drawing
    }

    /// The same on paper, in a report's language.
    pub(super) fn in_words(words: &Words, width: f64, height: f64) -> Self {
        Self { shown: words.shown, ..Self::new(Look::Paper, width, height) }
    }

    /// A number along an axis.
    pub(super) fn mark(&mut self, at: At, anchor: Anchor, number: &str) {
        let number = (self.shown)(number);
        self.text(at, anchor, Ink::Black, &number);
    }

    pub(super) fn line(&mut self, from: At, to: At, pen: Pen) {
        self.path(&[from, to], pen);
    }

    /// One line through all `places`.
    pub(super) fn path(&mut self, places: &[At], pen: Pen) {
        if places.is_empty() {
            return;
        }
        let mut steps = String::new();
        for (index, At(x, y)) in places.iter().enumerate() {
            let step = if index == 0 { "M" } else { "L" };
            steps.push_str(step);
            steps.push_str(&number(*x));
            steps.push(' ');
            steps.push_str(&number(*y));
        }
        let Pen(ink, width, dash) = pen;
        let dash = match dash {
            Dash::Solid => "",
            Dash::Dashed => " stroke-dasharray=\"6 3\"",
            Dash::Dotted => " stroke-dasharray=\"1.2 2.4\"",
            Dash::Fine => " stroke-dasharray=\"3 2\"",
        };
        let paint = self.paint("stroke", ink);
        self.put(format_args!(
            "<path d=\"{steps}\" fill=\"none\" {paint} stroke-width=\"{}\"{dash} \
             stroke-linejoin=\"round\"/>",
            number(width)
        ));
    }

    pub(super) fn rect(&mut self, from: At, to: At, ink: Ink) {
        let paint = self.paint("fill", ink);
        self.put(format_args!("<rect {} {paint}/>", sides(from, to)));
    }

    /// A box with an outline and the ground inside it.
    pub(super) fn frame(&mut self, from: At, to: At, pen: Pen) {
        let Pen(ink, width, _) = pen;
        let (paint, ground) = (self.paint("stroke", ink), self.paint("fill", Ink::Ground));
        let both = merged(&paint, &ground);
        self.put(format_args!(
            "<rect {} {both} stroke-width=\"{}\"/>",
            sides(from, to),
            number(width)
        ));
    }

    /// A round mark, filled or hollow.
    pub(super) fn dot(&mut self, at: At, radius: f64, filled: Filled) {
        let Filled(ink, inside) = filled;
        let both = merged(&self.paint("stroke", ink), &self.paint("fill", inside));
        self.put(format_args!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {both} stroke-width=\"1\"/>",
            number(at.0),
            number(at.1),
            number(radius)
        ));
    }

    /// Words in the size of text.
    pub(super) fn text(&mut self, at: At, anchor: Anchor, ink: Ink, words: &str) {
        self.words(at, anchor, ink, (words, 9.0));
    }

    /// Words that stand back a little.
    pub(super) fn small(&mut self, at: At, anchor: Anchor, ink: Ink, words: &str) {
        self.words(at, anchor, ink, (words, 8.0));
    }

    fn words(&mut self, at: At, anchor: Anchor, ink: Ink, (words, size): (&str, f64)) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let paint = self.paint("fill", ink);
        self.put(format_args!(
            "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\" font-size=\"{}\" {paint}>{}</text>",
            number(at.0),
            number(at.1),
            number(size),
            escaped(words)
        ));
    }

    /// The picture, with its name and what it shows.
    pub(super) fn finish(self, title: &str, told: String) -> Chart {
        let (font, style) = match self.look {
            Look::Paper => ("Libertinus Serif", String::new()),
            Look::Screen => ("system-ui, sans-serif", themes()),
            Look::Page => return self.within_a_page(title, told),
        };
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" \
             aria-labelledby=\"title desc\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" font-family=\"{font}\">\n\
             <title id=\"title\">{}</title>\n<desc id=\"desc\">{}</desc>\n{style}{}</svg>\n",
            escaped(title),
            escaped(&told),
            self.body,
            width = number(self.width),
            height = number(self.height),
        );
        Chart { svg, told }
    }

    /// Without a size and a style of its own, and without names that the page could have too.
    fn within_a_page(self, title: &str, told: String) -> Chart {
        let svg = format!(
            "<svg class=\"drawn\" role=\"img\" aria-label=\"{}: {}\" viewBox=\"0 0 {} {}\">{}</svg>",
            escaped(title),
            escaped(&told),
            number(self.width),
            number(self.height),
            self.body,
        );
        Chart { svg, told }
    }

    fn paint(&self, what: &str, ink: Ink) -> String {
        match self.look {
            Look::Paper => format!("{what}=\"{}\"", ink.light()),
            Look::Screen | Look::Page => {
                format!("{what}=\"{}\" class=\"{what}-{}\"", ink.light(), ink.class())
            }
        }
    }

    fn put(&mut self, element: std::fmt::Arguments<'_>) {
        let written = self.body.write_fmt(element);
        debug_assert!(written.is_ok(), "a string takes everything");
        self.body.push('\n');
    }
}

/// The ink of a mark's edge, and of its inside.
pub(super) struct Filled(pub(super) Ink, pub(super) Ink);

/// Two paints on one element: an element has one list of classes.
fn merged(first: &str, second: &str) -> String {
    match (first.split_once(" class=\""), second.split_once(" class=\"")) {
        (Some((edge, edge_class)), Some((inside, inside_class))) => {
            let edge_class = edge_class.trim_end_matches('"');
            format!("{edge} {inside} class=\"{edge_class} {inside_class}")
        }
        _ => format!("{first} {second}"),
    }
}

fn sides(from: At, to: At) -> String {
    format!(
        "x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
        number(from.0),
        number(from.1),
        number(to.0 - from.0),
        number(to.1 - from.1)
    )
}

/// The second theme, for a reader whose screen is dark.
fn themes() -> String {
    let mut style = String::from("<style>@media (prefers-color-scheme: dark) {");
    for ink in Ink::ALL {
        let (class, colour) = (ink.class(), ink.dark());
        for what in ["fill", "stroke"] {
            style.push_str(&format!(" .{what}-{class} {{ {what}: {colour} }}"));
        }
    }
    style.push_str(" }</style>\n");
    style
}

/// A length with at most two decimals: a hundredth of a point is finer than any printer.
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Words as XML holds them.
pub(super) fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for character in words.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            control if control.is_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_short() {
        assert_eq!(number(1.0), "1");
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(12.346), "12.35");
        assert_eq!(number(100.0), "100");
    }

    #[test]
    fn words_cannot_become_markup() {
        assert_eq!(escaped("<b a='1'>&\"\u{1}"), "&lt;b a=&#39;1&#39;&gt;&amp;&quot; ");
    }
}
