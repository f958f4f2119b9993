//! The fields of a page's form: what was typed is kept, and what is wrong with it is said in the
//! same words on top of the page and at its field.

use maud::{Markup, html};

/// What was typed, field by field, in the order it came.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Typed(Vec<(String, String)>);

/// What is wrong with one field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Wrong {
    /// The field's name.
    pub(crate) field: String,
    /// What is wrong, and what to type instead: a sentence.
    pub(crate) words: String,
}

impl Wrong {
    /// Something wrong with `field`.
    pub(crate) fn new(field: impl Into<String>, words: impl Into<String>) -> Self {
        Self { field: field.into(), words: words.into() }
    }
}

impl Typed {
    /// What came from a page.
    pub(crate) const fn new(pairs: Vec<(String, String)>) -> Self {
        Self(pairs)
    }

    /// What was typed into a field, without the spaces around it; empty if nothing was.
    pub(crate) fn text(&self, field: &str) -> &str {
        let typed = self.0.iter().find(|(name, _)| name == field);
        typed.map_or("", |(_, text)| text.trim())
    }

    /// All that was chosen in a field.
    pub(crate) fn all<'t>(&'t self, field: &'t str) -> impl Iterator<Item = &'t str> {
        self.0.iter().filter(move |(name, _)| name == field).map(|(_, text)| text.trim())
    }

    /// Puts `text` into a field instead of what stood there.
    pub(crate) fn put(&mut self, field: &str, text: impl Into<String>) {
        self.0.retain(|(name, _)| name != field);
        self.0.push((field.to_owned(), text.into()));
    }

    /// Adds one more choice to a field.
    pub(crate) fn add(&mut self, field: &str, text: &str) {
        self.0.push((field.to_owned(), text.to_owned()));
    }

    /// Takes what came for a field instead of what stood there.
    pub(crate) fn take(&mut self, field: &str, came: &Self) {
        self.0.retain(|(name, _)| name != field);
        self.0.extend(came.0.iter().filter(|(name, _)| name == field).cloned());
    }

    /// What was typed, or [`Wrong`] if nothing was; `ask` is the sentence that asks for it.
    ///
    /// # Errors
    ///
    /// [`Wrong`] with `ask`.
    pub(crate) fn needed(&self, field: &str, ask: &str) -> Result<&str, Wrong> {
        match self.text(field) {
            "" => Err(Wrong::new(field, ask)),
            text => Ok(text),
        }
    }
}

/// One field of a form.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Field<'a> {
    /// Its name.
    pub(crate) name: &'a str,
    /// What it is called on the page.
    pub(crate) label: &'a str,
    /// What helps to fill it in; may be empty.
    pub(crate) hint: &'a str,
}

/// One answer to choose.
#[derive(Clone, Debug)]
pub(crate) struct Answer<'a> {
    /// What is kept.
    pub(crate) value: &'a str,
    /// What is read.
    pub(crate) label: String,
}

/// A form to show again: what was typed, and what is wrong with it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Filled<'a> {
    /// What was typed.
    pub(crate) typed: &'a Typed,
    /// What is wrong.
    pub(crate) wrong: &'a [Wrong],
}

impl Filled<'_> {
    /// What is wrong, on top of the page, with a link to each field; nothing if nothing is.
    pub(crate) fn summary(&self) -> Markup {
        html! {
            @if !self.wrong.is_empty() {
                div.problems role="alert" aria-labelledby="problems" tabindex="-1" autofocus {
                    h2 #problems { "There is a problem" }
                    ul { @for wrong in self.wrong {
                        li { a href={ "#" (wrong.field) } { (wrong.words) } }
                    } }
                }
            }
        }
    }

    /// The title of the page: it begins with "Error: " if something is wrong.
    pub(crate) fn title(&self, title: &str) -> String {
        if self.wrong.is_empty() { title.to_owned() } else { format!("Error: {title}") }
    }

    /// A line to type into.
    pub(crate) fn line(&self, field: Field<'_>) -> Markup {
        self.input(field, "text", None)
    }

    /// A number with its unit to type.
    pub(crate) fn number(&self, field: Field<'_>) -> Markup {
        self.input(field, "text", Some("decimal"))
    }

    /// Words to type.
    pub(crate) fn words(&self, field: Field<'_>) -> Markup {
        let typed = self.typed.text(field.name);
        self.field(
            field,
            &html! {
                textarea id=(field.name) name=(field.name) rows="4"
                    aria-describedby=[self.described(field)]
                    aria-invalid=[self.is_wrong(field.name)] { (typed) }
            },
        )
    }

    /// One of several answers.
    pub(crate) fn one_of(&self, field: Field<'_>, options: &[Answer<'_>]) -> Markup {
        self.choices(field, "radio", options)
    }

    /// Any of several answers.
    pub(crate) fn any_of(&self, field: Field<'_>, options: &[Answer<'_>]) -> Markup {
        self.choices(field, "checkbox", options)
    }

    /// One of several answers that are too many to stand in a column.
    pub(crate) fn pick(&self, field: Field<'_>, options: &[Answer<'_>]) -> Markup {
        let chosen = self.typed.text(field.name);
        self.field(field, &html! {
            select id=(field.name) name=(field.name) aria-describedby=[self.described(field)] {
                @for option in options {
                    option value=(option.value) selected[option.value == chosen] { (option.label) }
                }
            }
        })
    }

    fn input(&self, field: Field<'_>, kind: &str, mode: Option<&str>) -> Markup {
        self.field(
            field,
            &html! {
                input id=(field.name) name=(field.name) type=(kind) inputmode=[mode]
                    value=(self.typed.text(field.name)) autocomplete="off" spellcheck="false"
                    aria-describedby=[self.described(field)]
                    aria-invalid=[self.is_wrong(field.name)];
            },
        )
    }

    fn field(&self, field: Field<'_>, control: &Markup) -> Markup {
        html! {
            div.field.wrong[self.is_wrong(field.name).is_some()] {
                label for=(field.name) { (field.label) }
                (self.under(field))
                (control)
            }
        }
    }

    fn choices(&self, field: Field<'_>, kind: &str, options: &[Answer<'_>]) -> Markup {
        let chosen: Vec<&str> = self.typed.all(field.name).collect();
        html! {
            fieldset.field.wrong[self.is_wrong(field.name).is_some()]
                aria-describedby=[self.described(field)] {
                legend { (field.label) }
                (self.under(field))
                @for (place, option) in options.iter().enumerate() {
                    div.choice {
                        input id=(choice_id(field.name, place)) name=(field.name) type=(kind)
                            value=(option.value) checked[chosen.contains(&option.value)];
                        label for=(choice_id(field.name, place)) { (option.label) }
                    }
                }
            }
        }
    }

    /// What stands under a label: the hint, and what is wrong.
    fn under(&self, field: Field<'_>) -> Markup {
        let wrong = self.wrong.iter().filter(|wrong| wrong.field == field.name);
        html! {
            @if !field.hint.is_empty() { p.hint id={ (field.name) "-hint" } { (field.hint) } }
            @for (place, wrong) in wrong.enumerate() {
                p.wrong-words id=[(place == 0).then(|| format!("{}-wrong", field.name))] {
                    span.apart { "Error: " } (wrong.words)
                }
            }
        }
    }

    fn is_wrong(&self, field: &str) -> Option<&'static str> {
        self.wrong.iter().any(|wrong| wrong.field == field).then_some("true")
    }

    fn described(&self, field: Field<'_>) -> Option<String> {
        let hint = (!field.hint.is_empty()).then(|| format!("{}-hint", field.name));
        let wrong = self.is_wrong(field.name).map(|_| format!("{}-wrong", field.name));
        let both: Vec<String> = hint.into_iter().chain(wrong).collect();
        (!both.is_empty()).then(|| both.join(" "))
    }
}

/// The first choice bears the field's own name, so that the summary can lead to it.
fn choice_id(field: &str, place: usize) -> String {
    if place == 0 { field.to_owned() } else { format!("{field}-{place}") }
}
