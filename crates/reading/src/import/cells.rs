//! A row cut into its cells.

use super::options::Delimiter;

/// A quote was opened and not closed on its row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct OpenQuote;

/// Cuts `row` into cells, without the quotes and blanks around them, and puts them into `cells`.
pub(super) fn cut<'row>(
    row: &'row [u8],
    delimiter: Delimiter,
    cells: &mut Vec<&'row [u8]>,
) -> Result<(), OpenQuote> {
    cells.clear();
    let mut rest = row;
    loop {
        if delimiter == Delimiter::Blank {
            rest = rest.trim_ascii_start();
            if rest.is_empty() {
                return Ok(());
            }
        }
        let end = cell_end(rest, delimiter)?;
        cells.push(bare(&rest[..end]));
        if end == rest.len() {
            return Ok(());
        }
        rest = &rest[end + 1..];
    }
}

/// Where the cell that `rest` opens with ends.
fn cell_end(rest: &[u8], delimiter: Delimiter) -> Result<usize, OpenQuote> {
    let lead = rest.iter().position(|byte| *byte != b' ').unwrap_or(0);
    let mut start = 0;
    if rest.get(lead) == Some(&b'"') {
        start = lead + 1;
        loop {
            let close = start + memchr::memchr(b'"', &rest[start..]).ok_or(OpenQuote)?;
            start = close + 1;
            if rest.get(start) != Some(&b'"') {
                break;
            }
            start += 1;
        }
    }
    let tail = &rest[start..];
    let found = match delimiter {
        Delimiter::Nothing => None,
        Delimiter::Blank => memchr::memchr2(b' ', b'\t', tail),
        Delimiter::Comma | Delimiter::Semicolon | Delimiter::Tab | Delimiter::Pipe => {
            memchr::memchr(delimiter.byte(), tail)
        }
    };
    Ok(found.map_or(rest.len(), |position| start + position))
}

/// A cell without the blanks and the quotes around it.
fn bare(cell: &[u8]) -> &[u8] {
    let cell = cell.trim_ascii();
    let inner = cell.strip_prefix(b"\"").and_then(|open| open.strip_suffix(b"\""));
    inner.map_or(cell, <[u8]>::trim_ascii)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(row: &str, delimiter: Delimiter, expected: Result<&str, OpenQuote>) {
        let mut cells = Vec::new();
        let cut = cut(row.as_bytes(), delimiter, &mut cells);
        let text = cells.iter().map(|cell| String::from_utf8_lossy(cell)).collect::<Vec<_>>();
        assert_eq!(cut.map(|()| text.join("|")).as_deref(), expected.as_ref().map(|text| *text));
    }

    #[test]
    fn quotes_and_blanks_fall_away() {
        check(r#"1; "2,6" ;;"a;b";"#, Delimiter::Semicolon, Ok("1|2,6||a;b|"));
        check("  0.5   23.4\t7 ", Delimiter::Blank, Ok("0.5|23.4|7"));
        check("  1 ,2", Delimiter::Comma, Ok("1|2"));
        check("23,5", Delimiter::Nothing, Ok("23,5"));
        check(r#""a ""b"" c",2"#, Delimiter::Comma, Ok(r#"a ""b"" c|2"#));
        check("", Delimiter::Comma, Ok(""));
    }

    #[test]
    fn an_open_quote_is_told() {
        check("1,\"2", Delimiter::Comma, Err(OpenQuote));
    }
}
