//! Tables on a phone: a row stands as a list, so each cell must know the head of its column.

use maud::{Markup, PreEscaped};

/// The markup with `data-head` on each cell whose column has a head. Spanning cells are not for the
/// pages.
pub(super) fn with_heads(markup: &Markup) -> Markup {
    let mut rest = markup.0.as_str();
    if !rest.contains("<thead") {
        return markup.clone();
    }
    let mut told = String::with_capacity(rest.len() + rest.len() / 4);
    let mut heads: Vec<String> = Vec::new();
    let (mut in_head, mut column) = (false, 0);
    while let Some((before, after)) = rest.split_once('<') {
        told.push_str(before);
        told.push('<');
        rest = after;
        let (name, _) = rest.split_at(rest.find([' ', '>', '<']).unwrap_or(rest.len()));
        match name {
            "table" => heads.clear(),
            "thead" => in_head = true,
            "/thead" => in_head = false,
            "tr" => column = 0,
            "th" | "td" if in_head => heads.push(words(rest)),
            "th" | "td" => {
                if let Some(head) = heads.get(column).filter(|head| !head.is_empty()) {
                    let (tag, after) = rest.split_at(name.len());
                    told.extend([tag, " data-head=\"", head, "\""]);
                    rest = after;
                }
                column += 1;
            }
            _ => {}
        }
    }
    told.push_str(rest);
    PreEscaped(told)
}

/// The words of the cell that begins here, without its marks; still escaped.
fn words(cell: &str) -> String {
    let within = cell.split_once('>').map_or("", |(_, within)| within);
    let within = within.split("</t").next().unwrap_or("");
    let marked = within.split('<').enumerate();
    marked
        .map(|(n, part)| if n == 0 { part } else { part.split_once('>').map_or("", |(_, it)| it) })
        .collect()
}

#[cfg(test)]
mod tests {
    use maud::html;

    use super::with_heads;

    #[test]
    fn each_cell_is_told_the_head_of_its_column() {
        let page = html! {
            p { "before" }
            table {
                thead { tr { th scope="col" { "Mark & \"kind\"" } th { span.apart { "Act" } } th {} } }
                tbody { tr { th scope="row" { "1" } td.number { b { "2 < 3" } } td { "none" } } tr { td { "4" } } }
            }
            table { tbody { tr { td { "no heads" } } } }
        };
        let told = with_heads(&page).into_string();
        let plain = told
            .replace(" data-head=\"Mark &amp; &quot;kind&quot;\"", "")
            .replace(" data-head=\"Act\"", "");
        assert_eq!(plain, page.clone().into_string());
        assert_eq!(told.matches("data-head=\"Mark &amp; &quot;kind&quot;\"").count(), 2);
        assert_eq!(told.matches("<td data-head=\"Act\" class=\"number\">").count(), 1);
        assert_eq!(told.matches("data-head").count(), 3);
    }

    #[test]
    fn a_page_without_a_table_stays_as_it_is() {
        let page = html! { p { "1 < 2" } table { tr { td { "3" } } } };
        assert_eq!(with_heads(&page).into_string(), page.into_string());
    }
}
