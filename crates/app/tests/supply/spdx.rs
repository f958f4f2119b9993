//! Licences as manifests state them: names joined by `AND`, `OR` and brackets (SPDX, annex D).

/// Whether what is agreed to is enough to use a part.
pub(super) fn allowed(expression: &str, agreed: &[String]) -> bool {
    // Some older manifests write a stroke for `OR`.
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = words.as_slice();
    let enough = any(&mut rest, agreed);
    enough && rest.is_empty() && !words.is_empty()
}

fn any(rest: &mut &[&str], agreed: &[String]) -> bool {
    let mut enough = all(rest, agreed);
    while let [first, after @ ..] = *rest
        && *first == "OR"
    {
        *rest = after;
        enough |= all(rest, agreed);
    }
    enough
}

fn all(rest: &mut &[&str], agreed: &[String]) -> bool {
    let mut enough = one(rest, agreed);
    while let [first, after @ ..] = *rest
        && *first == "AND"
    {
        *rest = after;
        enough &= one(rest, agreed);
    }
    enough
}

fn one(rest: &mut &[&str], agreed: &[String]) -> bool {
    let [first, after @ ..] = *rest else { return false };
    *rest = after;
    if *first == "(" {
        let enough = any(rest, agreed);
        let [")", after @ ..] = *rest else { return false };
        *rest = after;
        return enough;
    }
    let mut name = (*first).to_owned();
    if let ["WITH", exception, after @ ..] = *rest {
        name = format!("{name} WITH {exception}");
        *rest = after;
    }
    agreed.contains(&name)
}

#[test]
fn expressions_are_read_as_the_annex_says() {
    let agreed = ["MIT", "ISC", "Apache-2.0 WITH LLVM-exception"].map(str::to_owned);
    for (expression, enough) in [
        ("MIT", true),
        ("GPL-3.0", false),
        ("MIT OR GPL-3.0", true),
        ("MIT/Apache-2.0", true),
        ("MIT AND GPL-3.0", false),
        ("(MIT OR GPL-3.0) AND ISC", true),
        ("MIT OR GPL-3.0 AND ISC", true),
        ("GPL-3.0 OR MIT AND BSD", false),
        ("Apache-2.0 WITH LLVM-exception", true),
        ("Apache-2.0", false),
        ("", false),
        ("(MIT", false),
        ("MIT ISC", false),
    ] {
        assert_eq!(allowed(expression, &agreed), enough, "{expression}");
    }
}
