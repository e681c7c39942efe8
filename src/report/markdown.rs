//! A page of Markdown: headings, paragraphs, lists, tables. Every text is escaped here and nowhere
//! else, because names of a document may hold anything.

/// A page as it is written.
#[derive(Debug, Default)]
pub(super) struct Page(String);

/// A table as it is filled.
#[derive(Debug)]
pub(super) struct Table {
    head: Vec<String>,
    /// Columns of numbers are set to the right.
    numbers: Vec<bool>,
    rows: Vec<Vec<String>>,
}

impl Page {
    pub(super) fn heading(&mut self, level: usize, text: &str) {
        self.0.push_str(&"#".repeat(level));
        self.0.push(' ');
        self.0.push_str(&escaped(text));
        self.0.push_str("\n\n");
    }

    pub(super) fn paragraph(&mut self, text: &str) {
        self.0.push_str(&at_start(&escaped(text)));
        self.0.push_str("\n\n");
    }

    /// A paragraph that must not be overlooked.
    pub(super) fn warning(&mut self, text: &str) {
        self.0.push_str("**");
        self.0.push_str(&escaped(text));
        self.0.push_str("**\n\n");
    }

    pub(super) fn list<T: AsRef<str>>(&mut self, items: impl IntoIterator<Item = T>) {
        self.lines(items.into_iter().map(|item| (String::from("-"), item)));
    }

    /// A list counted from 1.
    pub(super) fn numbered<T: AsRef<str>>(&mut self, items: impl IntoIterator<Item = T>) {
        let items = (1..).zip(items);
        self.lines(items.map(|(i, item): (usize, T)| (format!("{i}."), item)));
    }

    fn lines<T: AsRef<str>>(&mut self, items: impl Iterator<Item = (String, T)>) {
        let before = self.0.len();
        for (mark, item) in items {
            self.0.push_str(&mark);
            self.0.push(' ');
            self.0.push_str(&at_start(&escaped(item.as_ref())));
            self.0.push('\n');
        }
        if self.0.len() > before {
            self.0.push('\n');
        }
    }

    pub(super) fn picture(&mut self, file: &str, alt: &str) {
        // Within pointed brackets a path may hold blanks; these signs and line ends it may not.
        let path: String = file.chars().filter(|c| !c.is_control()).collect();
        let path = path
            .replace('\\', "\\\\")
            .replace('<', "\\<")
            .replace('>', "\\>");
        self.0
            .push_str(&format!("![{}](<{path}>)\n\n", escaped(alt)));
    }

    /// A table; nothing where it has no rows.
    pub(super) fn table(&mut self, table: &Table) {
        if table.rows.is_empty() {
            return;
        }
        let mut row = |cells: &mut dyn Iterator<Item = String>| {
            self.0.push('|');
            for cell in cells {
                self.0.push(' ');
                self.0.push_str(&cell);
                self.0.push_str(" |");
            }
            self.0.push('\n');
        };
        row(&mut table.head.iter().map(|cell| escaped(cell)));
        let rule = |right: &bool| String::from(if *right { "---:" } else { "---" });
        row(&mut table.numbers.iter().map(rule));
        for cells in &table.rows {
            row(&mut cells.iter().map(|cell| escaped(cell)));
        }
        self.0.push('\n');
    }

    pub(super) fn into_text(self) -> String {
        self.0
    }
}

impl Table {
    /// A table with these columns; those that begin with `>` hold numbers.
    pub(super) fn new<T: Into<String>>(columns: impl IntoIterator<Item = T>) -> Self {
        let columns: Vec<String> = columns.into_iter().map(Into::into).collect();
        Self {
            numbers: columns.iter().map(|name| name.starts_with('>')).collect(),
            head: columns
                .iter()
                .map(|name| name.trim_start_matches('>').to_owned())
                .collect(),
            rows: Vec::new(),
        }
    }

    /// One more row: cells that are missing stay empty, those beyond the last column are dropped.
    pub(super) fn row<T: Into<String>>(&mut self, cells: impl IntoIterator<Item = T>) {
        let mut cells: Vec<String> = cells.into_iter().map(Into::into).collect();
        cells.resize(self.head.len(), String::new());
        self.rows.push(cells);
    }

    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }
}

/// A text whose signs mean nothing to Markdown, on one line.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '~' | '#' | '$' => {
                out.push('\\');
                out.push(c);
            }
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            // Line and paragraph separators end lines in some readers.
            c if c.is_control() || c == '\u{2028}' || c == '\u{2029}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// The same where a line begins: no list, no rule.
fn at_start(escaped: &str) -> String {
    let digits = escaped.chars().take_while(char::is_ascii_digit).count();
    let (number, rest) = escaped.split_at(digits);
    if digits > 0 && rest.starts_with(['.', ')']) {
        return format!("{number}\\{rest}");
    }
    if escaped.starts_with(['-', '+', '=']) {
        return format!("\\{escaped}");
    }
    escaped.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_keeps_its_row_whole() {
        let mut table = Table::new(["name", ">flow"]);
        table.row(["a|b\nc <d> `e` \u{1f600}", "1"]);
        table.row(["short"]);
        let mut page = Page::default();
        page.table(&table);
        insta::assert_snapshot!(page.into_text(), @r"
        | name | flow |
        | --- | ---: |
        | a\|b c &lt;d&gt; \`e\` 😀 | 1 |
        | short |  |
        ");
    }

    #[test]
    fn a_line_begins_no_list_that_nobody_wrote() {
        let mut page = Page::default();
        page.paragraph("1. not a list");
        page.paragraph("- neither");
        page.list(["# no heading"]);
        insta::assert_snapshot!(page.into_text(), @r"
        1\. not a list

        \- neither

        - \# no heading
        ");
    }
}
