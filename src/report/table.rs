//! Tables as text and as Markdown.

use comfy_table::presets::ASCII_MARKDOWN;
use comfy_table::{CellAlignment, LineStyle, Table, TableStyle};

use super::words::plain;
use crate::names::markdown;

/// Longest name in a cell of a text table, characters.
const LONGEST: usize = 28;

/// How a table is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    /// For a terminal or a text file.
    Text,
    /// For a page.
    Markdown,
}

/// Rows under a head; columns from `numbers_from` on stand to the right. No
/// cell is wrapped; a head may have lines of its own.
pub(crate) fn table(
    form: Form,
    head: &[impl AsRef<str>],
    rows: &[Vec<String>],
    numbers_from: usize,
) -> String {
    let mut table = Table::new();
    table.load_style(match form {
        Form::Text => TableStyle::new().header_separator(LineStyle::none().fill('─')),
        Form::Markdown => ASCII_MARKDOWN,
    });
    table.set_header(head.iter().map(|h| match form {
        Form::Text => h.as_ref().to_owned(),
        Form::Markdown => h.as_ref().replace('\n', " "),
    }));
    for row in rows {
        table.add_row(row.iter().map(|cell| escaped(form, cell)));
    }
    for column in table.column_iter_mut() {
        if column.index >= numbers_from {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let mut text: String = table
        .lines()
        .map(|line| format!("{}\n", line.trim_end()))
        .collect();
    if form == Form::Markdown {
        text.push('\n');
    }
    text
}

fn escaped(form: Form, cell: &str) -> String {
    let cell = plain(cell);
    match form {
        Form::Text if cell.chars().count() > LONGEST => {
            cell.chars().take(LONGEST - 1).chain(['…']).collect()
        }
        Form::Text => cell,
        Form::Markdown => markdown(&cell),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_pipes_are_escaped() {
        let rows = [
            vec!["kit|a".to_owned(), "5".to_owned()],
            vec!["b".to_owned(), "120".to_owned()],
        ];
        let text = table(Form::Text, &["Setup", "Hits"], &rows, 1);
        assert_eq!(
            text,
            " Setup  Hits\n─────────────\n kit|a     5\n b       120\n"
        );
        let page = table(Form::Markdown, &["Setup", "Hits"], &rows, 1);
        assert!(page.contains("| kit\\|a |"), "{page}");
        assert!(page.lines().nth(1).unwrap().starts_with("|---"), "{page}");
    }
}
