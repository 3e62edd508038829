//! Spreadsheets of observations: a row a claim, the columns named in the first row.

use crate::content::Guide;
use crate::diagnostic::nearest;
use crate::intake::dates::{DateOrder, seen};
use crate::intake::part::Part;
use crate::intake::reading::{self, is_hidden, one_line_end};
use crate::intake::slip::Slip;
use crate::intake::trouble::Trouble;

/// Columns with the key of a claim that each becomes.
const COLUMNS: &[(&str, &str)] = &[
    ("plant", "plant"),
    ("trait", "trait"),
    ("value", "value"),
    ("source", "source"),
    ("date", "seen"),
    ("seen", "seen"),
    ("conditions", "where"),
    ("where", "where"),
    ("remark", "remark"),
    ("as", "as"),
    ("at", "at"),
    ("tank", "tank"),
    ("stage", "stage"),
    ("of", "of"),
    ("bound", "bound"),
    ("se", "se"),
    ("kind", "kind"),
    ("quote", "quote"),
];

/// Cells of a table as text: rows, the first one the heads.
pub type Table = Vec<Vec<String>>;

/// The cells of a CSV file in UTF-8, or in UTF-16 with its mark. Commas, semicolons or tabs part
/// them: what the first row has most of, or what a first line such as `sep=;` says.
pub fn csv_table(bytes: &[u8]) -> Result<Table, Trouble> {
    let text = decoded(bytes).ok_or_else(|| Trouble::not_a_sheet("it is not UTF-8"))?;
    let mut text = text
        .trim_start_matches('\u{feff}')
        .replace("\r\n", "\n")
        .replace('\r', "\n");
    if !text.ends_with('\n') {
        text.push('\n');
    }
    let told = text
        .strip_prefix("sep=")
        .and_then(|rest| rest.chars().next());
    let told = told.filter(|mark| mark.is_ascii() && *mark != '\n');
    if told.is_some() {
        // The line is counted as a row, as a spreadsheet counts it.
        text.drain(..text.find('\n').unwrap_or(0));
    }
    let head = text.trim_start().lines().next().unwrap_or_default();
    let count = |mark: char| head.matches(mark).count();
    let most = [',', ';', '\t']
        .into_iter()
        .max_by_key(|mark| (count(*mark), *mark == ','))
        .unwrap_or(',');
    let mark = told.unwrap_or(most);
    if let Some(line) = open_quotation(&text, mark) {
        return Err(Trouble::open_quotation(line));
    }
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(mark as u8)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    let mut record = csv::StringRecord::new();
    loop {
        let before = reader.position().line();
        let is_there = reader
            .read_record(&mut record)
            .map_err(|fault| Trouble::not_a_sheet(&fault.to_string()))?;
        if !is_there {
            return Ok(rows);
        }
        // The reader passes over blank lines; a spreadsheet counts them. A row of its own may take
        // several lines.
        let lines = (reader.position().line() - before) as usize;
        let own = 1 + record
            .iter()
            .map(|cell| cell.matches('\n').count())
            .sum::<usize>();
        rows.extend((own..lines).map(|_| Vec::new()));
        rows.push(record.iter().map(|cell| cell.trim().to_owned()).collect());
    }
}

/// The text of bytes; `None` where they are none.
fn decoded(bytes: &[u8]) -> Option<String> {
    let is_big = bytes.starts_with(&[0xfe, 0xff]);
    if !is_big && !bytes.starts_with(&[0xff, 0xfe]) {
        return std::str::from_utf8(bytes).ok().map(str::to_owned);
    }
    let pairs = bytes.chunks(2).map(|pair| match *pair {
        [a, b] if is_big => u16::from_be_bytes([a, b]),
        [a, b] => u16::from_le_bytes([a, b]),
        // Half a sign is none.
        _ => 0xd800,
    });
    char::decode_utf16(pairs)
        .collect::<Result<String, _>>()
        .ok()
}

/// The line, from 1, of a cell whose quotation mark is never closed: all the rest would be in it.
fn open_quotation(text: &str, mark: char) -> Option<usize> {
    let mut line = 1;
    let mut opened = None;
    let mut is_start = true;
    let mut signs = text.chars().peekable();
    while let Some(sign) = signs.next() {
        let is_in = opened.is_some();
        match sign {
            '"' if is_in && signs.peek() == Some(&'"') => {
                signs.next();
            }
            '"' if is_in => opened = None,
            '"' if is_start => opened = Some(line),
            _ => {}
        }
        line += usize::from(sign == '\n');
        is_start = !is_in && (sign == mark || sign == '\n');
    }
    opened
}

/// The cells of an .xlsx file: of the first sheet that names its columns, else of the first. Dates are
/// written year-month-day.
#[cfg(feature = "sheets")]
pub fn xlsx_table(bytes: &[u8]) -> Result<Table, Trouble> {
    use calamine::{Reader, Xlsx};
    let bad = |why: String| Trouble::not_a_sheet(&why);
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(std::io::Cursor::new(bytes))
        .map_err(|e: calamine::XlsxError| bad(e.to_string()))?;
    let mut first = None;
    for name in book.sheet_names() {
        let range = book
            .worksheet_range(&name)
            .map_err(|e| bad(e.to_string()))?;
        let formulas = book
            .worksheet_formula(&name)
            .map_err(|e| bad(e.to_string()))?;
        let table = table_of(&range, &formulas);
        let head = table
            .iter()
            .find(|cells| cells.iter().any(|cell| !cell.is_empty()));
        if head.is_some_and(|cells| cells.iter().any(|cell| cell.eq_ignore_ascii_case("plant"))) {
            return Ok(table);
        }
        first = first.or(Some(table));
    }
    first.ok_or_else(|| bad("it has no sheet".to_owned()))
}

/// The cells of one sheet. A formula that was never worked out stands as it is written, so that it
/// is missed.
#[cfg(feature = "sheets")]
fn table_of(range: &calamine::Range<calamine::Data>, formulas: &calamine::Range<String>) -> Table {
    use calamine::Data;
    let Some((first_row, first_column)) = range.start() else {
        return Vec::new();
    };
    // Rows and columns are counted from the sheet's own first, not from the first that is filled.
    let mut rows: Table = vec![Vec::new(); first_row as usize];
    for (at, row) in range.rows().enumerate() {
        let mut cells = vec![String::new(); first_column as usize];
        cells.extend(row.iter().enumerate().map(|(column, cell)| {
            let place = (first_row + at as u32, first_column + column as u32);
            let formula = || {
                let formula = formulas.get_value(place).filter(|text| !text.is_empty());
                formula.map_or_else(String::new, |text| format!("={text}"))
            };
            match cell {
                Data::Empty => formula(),
                Data::String(text) if text.is_empty() => formula(),
                Data::Error(error) => error.to_string(),
                // A time alone has no day.
                Data::DateTime(date) if date.is_datetime() && date.as_f64() >= 1.0 => {
                    let (year, month, day, ..) = date.to_ymd_hms_milli();
                    format!("{year:04}-{month:02}-{day:02}")
                }
                other => other.to_string().trim().to_owned(),
            }
        }));
        rows.push(cells);
    }
    rows
}

/// What comes of a file that is no sheet.
pub fn unread(trouble: Trouble, name: &str) -> (Vec<Slip>, Vec<Trouble>) {
    (vec![Slip::unread(name)], vec![trouble.of(0, name)])
}

/// Reads a table's rows as slips. `name` is the file's, `order` settles doubtful dates, and
/// `source` stands where a row names none.
pub fn sheet(
    table: &Table,
    name: &str,
    guide: &Guide,
    order: Option<DateOrder>,
    has_source: bool,
) -> (Vec<Slip>, Vec<Trouble>) {
    let mut troubles = Vec::new();
    let mut rows = table.iter().enumerate();
    let head = rows.find(|(_, cells)| cells.iter().any(|cell| !cell.is_empty()));
    let Some((head_at, head)) = head else {
        return unread(Trouble::not_a_sheet("it is empty"), name);
    };
    let head_place = format!("{name}, row {}", head_at + 1);
    let mut columns: Vec<(usize, &'static str, String)> = Vec::new();
    for (at, cell) in head.iter().enumerate() {
        let folded = cell.to_lowercase();
        if folded.is_empty() {
            continue;
        }
        match COLUMNS.iter().find(|(column, _)| *column == folded) {
            Some((_, key)) => {
                if columns.iter().any(|(_, other, _)| other == key) {
                    troubles.push(Trouble::twice_column(cell).of(0, &head_place));
                }
                columns.push((at, key, cell.clone()));
            }
            None => {
                let near = nearest(&folded, COLUMNS.iter().map(|(column, _)| *column));
                troubles.push(Trouble::unknown_column(cell, near).of(0, &head_place));
            }
        }
    }
    for column in ["plant", "trait", "value"]
        .into_iter()
        .chain((!has_source).then_some("source"))
    {
        if !columns.iter().any(|(_, key, _)| *key == column) {
            troubles.push(Trouble::no_column(column, &head.join(", ")).of(0, &head_place));
        }
    }
    if !troubles.is_empty() {
        return (vec![Slip::unread(&head_place)], troubles);
    }
    let mut out = Vec::new();
    for (row_at, cells) in rows {
        if cells.iter().all(|cell| cell.is_empty()) {
            continue;
        }
        let slip_at = out.len();
        let place = format!("{name}, row {}", row_at + 1);
        let cell = |key: &str| -> &str {
            let mut of_key = columns.iter().filter(|(_, of, _)| *of == key);
            let cell = of_key.find_map(|(at, ..)| cells.get(*at).filter(|cell| !cell.is_empty()));
            cell.map_or("", String::as_str)
        };
        let mut found: Vec<Trouble> = Vec::new();
        if let Some(cell) = cells.iter().skip(head.len()).find(|cell| !cell.is_empty()) {
            found.push(Trouble::surplus_cell(cell));
        }
        for (at, _, column) in &columns {
            if cells.get(*at).is_some_and(|cell| is_hidden(cell)) {
                found.push(Trouble::control_sign(column));
            }
        }
        for (key, example) in [
            ("plant", "its full name"),
            ("trait", "`growth`"),
            ("value", "`fast` or `12 cm to 17 cm in 20 d`"),
        ] {
            if cell(key).is_empty() {
                found.push(Trouble::missing(key, example));
            }
        }
        let mut keys = Vec::new();
        let mut names: Vec<(String, String)> = columns
            .iter()
            .map(|(_, key, column)| ((*key).to_owned(), column.clone()))
            .collect();
        if let Some(of) = trait_of(guide, cell("trait"))
            && !cell("value").is_empty()
        {
            match reading::value(cell("value"), &guide.traits[of], guide) {
                Ok((key, part)) => {
                    let column = columns.iter().find(|(_, of, _)| *of == "value");
                    let column = column.map_or("value", |(.., column)| column);
                    names.push((key.clone(), column.to_owned()));
                    keys.push((key, part));
                }
                Err(trouble) => found.push(trouble),
            }
        }
        if !cell("seen").is_empty() {
            match seen(cell("seen"), order) {
                Ok(date) => keys.push(("seen".to_owned(), Part::text(date))),
                Err(trouble) => found.push(trouble),
            }
        }
        // With semicolons between columns, a condition may have slid under the remark.
        let remark = cell("remark");
        let is_condition = reading::is_pair(remark) && {
            let id = remark.split(['=', ':']).next().unwrap_or_default().trim();
            guide.conditions.iter().any(|condition| condition.id == id)
        };
        if is_condition {
            found.push(Trouble::slid_condition(remark));
        }
        if !cell("where").is_empty() {
            match reading::conditions(cell("where")) {
                Ok(pairs) => keys.push(("where".to_owned(), Part::Map(pairs))),
                Err(trouble) => found.push(trouble),
            }
        }
        for key in [
            "as", "at", "tank", "stage", "of", "bound", "se", "kind", "quote", "remark",
        ] {
            let text = cell(key);
            if text.is_empty() {
                continue;
            }
            let number = (key == "se").then(|| reading::decimal(text));
            match number.transpose() {
                Ok(number) => keys.push((
                    key.to_owned(),
                    Part::text(number.unwrap_or_else(|| one_line_end(text))),
                )),
                Err(trouble) => found.push(Trouble {
                    column: Some(key.to_owned()),
                    ..trouble
                }),
            }
        }
        for trouble in found {
            let column = trouble.column.clone().map(|column| {
                let mut known = columns.iter().filter(|(_, key, _)| {
                    *key == column
                        || (column == "date" && *key == "seen")
                        || (column == "conditions" && *key == "where")
                });
                known.next().map_or(column, |(.., name)| name.clone())
            });
            troubles.push(Trouble { column, ..trouble }.of(slip_at, &place));
        }
        out.push(Slip {
            place,
            plant: cell("plant").to_owned(),
            of: cell("trait").to_owned(),
            source: Some(cell("source").to_owned()).filter(|source| !source.is_empty()),
            keys,
            columns: names,
        });
    }
    (out, troubles)
}

/// A trait by its id or title.
pub(crate) fn trait_of(guide: &Guide, text: &str) -> Option<usize> {
    let folded = text.trim().to_lowercase();
    guide.traits.iter().position(|of| {
        of.id == folded || of.title.to_lowercase() == folded || of.id.replace('-', " ") == folded
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_may_be_parted_by_commas_semicolons_or_tabs() {
        for text in [
            "plant,value\nA b,\"1,5 cm\"\n",
            "\u{feff}plant;value\r\nA b;1,5 cm\r\n",
            "plant\tvalue\nA b\t1,5 cm",
        ] {
            let table = csv_table(text.as_bytes()).expect("a table");
            assert_eq!(table, [["plant", "value"], ["A b", "1,5 cm"]], "{text}");
        }
        assert!(csv_table(b"plant\xff").is_err());
    }

    #[test]
    fn exports_of_other_programs_are_read() {
        let wide = |text: &str, is_big: bool| -> Vec<u8> {
            let units = "\u{feff}".encode_utf16().chain(text.encode_utf16());
            let pair = |unit: u16| {
                if is_big {
                    unit.to_be_bytes()
                } else {
                    unit.to_le_bytes()
                }
            };
            units.flat_map(pair).collect()
        };
        let want = [["plant", "value"], ["A é", "1,5 cm"]];
        let text = "plant\tvalue\r\nA é\t1,5 cm\r\n";
        for bytes in [
            wide(text, true),
            wide(text, false),
            text.into(),
            text.replace("\r\n", "\r").into(),
        ] {
            assert_eq!(csv_table(&bytes).expect("a table"), want);
        }
        assert!(csv_table(b"\xff\xfea").is_err(), "half a sign");
        let told = csv_table("sep=;\nplant;value\nA é;1,5 cm\n".as_bytes()).expect("a table");
        assert!(told[0].is_empty());
        assert_eq!(told[1..], want);
    }

    #[test]
    fn a_quotation_mark_that_is_never_closed_is_told() {
        let bad = |text: &str| csv_table(text.as_bytes()).expect_err(text).title;
        let line = |n: usize| Trouble::open_quotation(n).title;
        assert_eq!(bad("plant,remark\nA b,\"abc\nC d,x\n"), line(2));
        assert_eq!(bad("plant,remark\nA b,\"a \"\"b\n\nC d,x\n"), line(2));
        assert_eq!(bad("plant,remark\nA b,x\nC d,\"\n"), line(3));
        for sound in [
            "a,b\n\"x\",\"y\"\n",
            "a,b\n5\" tall,x\n",
            "a,b\n\"\",\"\"\"q\"\"\"\n",
        ] {
            assert!(csv_table(sound.as_bytes()).is_ok(), "{sound}");
        }
    }

    #[test]
    fn rows_are_counted_as_a_spreadsheet_counts_them() {
        let table = csv_table(b"plant,value\n\nA b,x\n").expect("a table");
        assert_eq!(table.len(), 3);
        assert!(table[1].is_empty());
        for text in [
            "plant,value\n\nA b,x\n",
            "plant,value\r\n\r\nA b,x",
            "plant,value\n\n\"A b\",x",
            "plant,\"val\n\nue\"\n\nA b,x\n\n",
        ] {
            let table = csv_table(text.as_bytes()).expect("a table");
            assert_eq!(table.len(), 3, "{text}: {table:?}");
            assert!(table[1].is_empty(), "{text}");
            assert_eq!(table[2], ["A b", "x"], "{text}");
        }
        let table = csv_table(b"\n\nplant,\"value\"\n").expect("a table");
        assert_eq!(table.len(), 3, "{table:?}");
    }

    #[test]
    fn no_cell_is_passed_over() {
        let guide = crate::content::read(&crate::content::Input::default()).0;
        let told = |text: &str| {
            let table = csv_table(text.as_bytes()).expect("a table");
            let (_, troubles) = sheet(&table, "notes", &guide, None, true);
            let titles = troubles.into_iter().map(|trouble| trouble.title);
            titles.collect::<Vec<String>>().join("; ")
        };
        let twice = told("plant,trait,value,plant\nA b,growth,slow,C d\n");
        assert_eq!(twice, "this column is there twice");
        let twice = told("plant,trait,value,seen,date\nA b,growth,slow,,\n");
        assert_eq!(twice, "this column is there twice");
        let more = told("plant,trait,value\nA b,growth,slow,small, green\n");
        assert_eq!(more, "`small` stands beyond the last column");
        let odd = told("plant,trait,value,remark\nA b,growth,slow,a\u{202e}b\n");
        assert!(odd.starts_with("there is a sign in it"), "{odd}");
        let odd = told("plant,trait,value,remark\nA b,growth,slow,a\u{0}b\n");
        assert!(odd.starts_with("there is a sign in it"), "{odd}");
        assert_eq!(told("plant,trait,value,,\nA b,growth,slow,,\n"), "");
    }
}
