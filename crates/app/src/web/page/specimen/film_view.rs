//! How films look on a specimen's page.

use maud::{Markup, html};

use super::Specimen;
use super::films::{FilmShown, HeardShown, LIMITS, field};
use crate::form::fields::{Field, Filled, Typed};

/// The films of a specimen, and a form for another.
pub(super) fn films(specimen: &Specimen, filled: Filled<'_>) -> Markup {
    let own = address(specimen);
    html! {
        @if !specimen.films.is_empty() || specimen.takes_films {
            h2 #films { "Film" }
        }
        @for film in &specimen.films { (one(specimen, film, filled)) }
        @if specimen.films.iter().any(|film| film.can_be_shown) {
            script type="module" src="/assets/film.js" {}
        }
        @if specimen.takes_films {
            form method="post" enctype="multipart/form-data" novalidate action={ (own) "/films" } {
                @let wrong = filled.wrong.iter().find(|wrong| wrong.field == "film");
                div.field.wrong[wrong.is_some()] {
                    label for="film" { "Add a film, such as a phone's" }
                    p.hint id="film-hint" { (LIMITS) }
                    @if let Some(wrong) = wrong {
                        p.wrong-words id="film-wrong" { (wrong.words) }
                    }
                    input id="film" name="film" type="file" accept="video/*,.mkv"
                        aria-invalid=[wrong.map(|_| "true")]
                        aria-describedby=(if wrong.is_some() { "film-hint film-wrong" } else { "film-hint" });
                }
                button.second type="submit" { "Keep the film" }
            }
        }
    }
}

fn one(specimen: &Specimen, film: &FilmShown, filled: Filled<'_>) -> Markup {
    let own = address(specimen);
    let Specimen { removed_s, tones, .. } = specimen;
    let tones: Vec<String> =
        tones.iter().map(|tone| format!("{}:{}", tone.name, tone.at_s)).collect();
    let tones = Some(tones.join(" ")).filter(|tones| !tones.is_empty());
    let address = format!("{own}/evidence/{}", film.sha256);
    let field = field(&film.sha256);
    let said = film.placed.as_ref().map_or_else(String::new, |it| format!("{:.2}", it.removed_s));
    let typed = if filled.typed.all(&field).next().is_some() {
        filled.typed.clone()
    } else {
        Typed::new(vec![(field.clone(), said)])
    };
    html! {
        figure.film data-begins-seconds=[film.begins_s] data-removed-seconds=[removed_s]
            data-tones=[tones] data-bytes=(film.bytes) data-seconds=[film.seconds]
            data-frame-seconds=[film.frame_s] data-sound-begins-seconds=[film.sound_begins_s]
        {
            @if film.can_be_shown {
                video controls preload="metadata" playsinline src=(address)
                    aria-label={ "Film " (film.name) } {}
            }
            figcaption {
                p { a href=(address) download=(film.name) { (film.name) }
                    ", " (size(film.bytes)) ", SHA-256 " (&film.sha256[..16]) "…, kept by "
                    (film.who) ", " (film.at) }
                @if let Some(missing) = &film.missing { p { (missing) } }
                @for words in place(film) { p { (words) } }
            }
            @if film.can_be_shown {
                form method="post" novalidate action={ (own) "/films/" (film.sha256) } {
                    (Filled { typed: &typed, ..filled }.number(Field {
                        name: &field,
                        label: "Flame removed at this second of the film",
                        hint: "Where the flame is applied several times, the last time.",
                    }))
                    button.second type="submit" { "Keep the place" }
                }
            }
        }
    }
}

fn address(specimen: &Specimen) -> String {
    format!("/specimens/{}-{}", specimen.plan, specimen.specimen)
}

/// Where a film lies on the scale of the strip, in words.
fn place(film: &FilmShown) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(placed) = &film.placed {
        let begins = film.begins_s.map_or_else(
            || "how it lies beside the presses is told as soon as there are any".to_owned(),
            |begins| format!("it begins {}", from_flame(begins)),
        );
        let removed = placed.removed_s;
        let (who, at) = (&placed.who, &placed.at);
        lines.push(format!(
            "The flame is removed in it at {removed:.2} s, said {who}, {at}: {begins}."
        ));
    }
    if let Some(heard) = &film.heard {
        let begins = heard
            .begins_s
            .map_or_else(String::new, |begins| format!("; it would begin {}", from_flame(begins)));
        let HeardShown { removed_s: removed, words, who, at, .. } = heard;
        lines.push(format!(
            "Proposed by the bench's tones in its sound, listened to by {who}, {at}: the flame is \
             removed at {removed:.2} s{begins}. {words}"
        ));
    }
    if let Some(within) = film.within_s {
        let clock = film.begins_by_clock_s.map_or_else(
            || "nothing was pressed in that sitting".to_owned(),
            |begins| {
                format!("by the device's clock it begins {}, ± {within:.2} s", from_flame(begins))
            },
        );
        lines.push(format!("Recorded at the bench: {clock}."));
    }
    if lines.is_empty() && film.can_be_shown {
        lines.push("It is not said yet when in it the flame is removed.".to_owned());
    }
    lines
}

fn from_flame(begins_s: f64) -> String {
    let what = if begins_s < 0.0 { "before" } else { "after" };
    format!("{:.2} s {what} the first flame", begins_s.abs())
}

/// A size as it is read.
fn size(bytes: u64) -> String {
    if bytes < 10 << 20 {
        format!("{} kB", bytes.div_ceil(1024))
    } else {
        format!("{} MB", bytes.div_ceil(1 << 20))
    }
}
