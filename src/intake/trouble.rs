//! What is unclear about a slip or a row of a sheet. One constructor per message.

use std::fmt;

/// One thing to settle before a claim can be written.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Trouble {
    /// The slip or row: its number among all, from 0.
    pub slip: usize,
    /// Where it stands, such as `notes.csv, row 14`.
    pub place: String,
    /// The column or key it is about.
    pub column: Option<String>,
    /// What is unclear: a lower-case fragment.
    pub title: String,
    /// What to do.
    pub help: String,
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.place)?;
        if let Some(column) = &self.column {
            write!(f, ", {column}")?;
        }
        write!(f, ": {}\n  help: {}", self.title, self.help)
    }
}

/// Most sources that are named to choose from. Our choice: half a screen.
const MOST_IDS: usize = 12;

/// Names one of which may be meant, a line each.
fn one_of(names: &[String]) -> String {
    names
        .iter()
        .map(|name| format!("\n    {name}"))
        .collect::<String>()
}

impl Trouble {
    fn new(column: Option<&str>, title: String, help: impl Into<String>) -> Trouble {
        Trouble {
            slip: 0,
            place: String::new(),
            column: column.map(str::to_owned),
            title,
            help: help.into(),
        }
    }

    pub(crate) fn missing(column: &str, example: &str) -> Trouble {
        Trouble::new(
            Some(column),
            "nothing stands here".to_owned(),
            format!("write it, such as {example}"),
        )
    }

    pub(crate) fn no_column(column: &str, found: &str) -> Trouble {
        Trouble::new(
            None,
            format!("there is no column `{column}`"),
            format!("name the columns in the first row; found {found}"),
        )
    }

    pub(crate) fn unknown_column(column: &str, near: Option<&str>) -> Trouble {
        let help = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => "take it out, or name it as the format does: plant, trait, value, source, date, conditions, remark".to_owned(),
        };
        Trouble::new(Some(column), "unknown column".to_owned(), help)
    }

    pub(crate) fn twice_column(column: &str) -> Trouble {
        Trouble::new(
            Some(column),
            "this column is there twice".to_owned(),
            "keep one of them",
        )
    }

    pub(crate) fn surplus_cell(text: &str) -> Trouble {
        Trouble::new(
            None,
            format!("`{text}` stands beyond the last column"),
            "put a cell that has the sign between columns in it into double quotes",
        )
    }

    pub(crate) fn control_sign(column: &str) -> Trouble {
        Trouble::new(
            Some(column),
            "there is a sign in it that cannot be seen or printed".to_owned(),
            "type it anew",
        )
    }

    pub(crate) fn not_a_sheet(why: &str) -> Trouble {
        Trouble::new(
            None,
            format!("this cannot be read as a sheet: {why}"),
            "save it as CSV in UTF-8, or as .xlsx",
        )
    }

    pub(crate) fn open_quotation(line: usize) -> Trouble {
        Trouble::new(
            None,
            format!("the quotation mark that opens a cell in line {line} is never closed"),
            "close it, or take it out",
        )
    }

    pub(crate) fn not_a_slip(why: &str) -> Trouble {
        Trouble::new(
            None,
            format!("this cannot be read as a slip: {why}"),
            "paste the slip as the guide's own form made it: `claims:` with a claim a line",
        )
    }

    pub(crate) fn unknown_plant(name: &str, near: &[String]) -> Trouble {
        let help = if near.is_empty() {
            "check the spelling; or make its entry first, with `pondweigh enter` and `--new-plant FORM`".to_owned()
        } else {
            format!("is it one of these?{}", one_of(near))
        };
        Trouble::new(
            Some("plant"),
            format!("no plant of this guide is called `{name}`"),
            help,
        )
    }

    pub(crate) fn several_plants(name: &str, plants: &[String]) -> Trouble {
        Trouble::new(
            Some("plant"),
            format!("`{name}` fits several plants"),
            format!("write the full name of one:{}", one_of(plants)),
        )
    }

    pub(crate) fn doubtful_plant(name: &str, plant: &str) -> Trouble {
        Trouble::new(
            Some("plant"),
            format!("`{name}` leaves it in doubt which plant was seen"),
            format!("write `{plant}` if it was that one"),
        )
    }

    pub(crate) fn unknown(column: &str, noun: &str, found: &str, near: &[String]) -> Trouble {
        let help = if near.is_empty() && noun == "source" {
            "check the id, or make the source with `--source` as its id and `--new-source \"Its title\"`".to_owned()
        } else if near.is_empty() {
            format!("add the {noun} to the guide first")
        } else {
            format!("is it one of these?{}", one_of(near))
        };
        Trouble::new(Some(column), format!("unknown {noun} `{found}`"), help)
    }

    pub(crate) fn no_source(ids: &[String]) -> Trouble {
        let shown = &ids[..ids.len().min(MOST_IDS)];
        let more = ids.len() - shown.len();
        let more = if more > 0 {
            format!("\n    and {more} more")
        } else {
            String::new()
        };
        Trouble::new(
            Some("source"),
            "it does not say whose observation this is".to_owned(),
            format!(
                "name the source with `--source`, one of:{}{more}\n  or make one with `--new-source \"Its title\"`",
                one_of(shown)
            ),
        )
    }

    pub(crate) fn doubtful_date(found: &str, day_first: &str, month_first: &str) -> Trouble {
        Trouble::new(
            Some("date"),
            format!("`{found}` is {day_first} or {month_first}"),
            "say which with `--dates day-first` or `--dates month-first`, or write year-month-day",
        )
    }

    pub(crate) fn bad_date(found: &str) -> Trouble {
        Trouble::new(
            Some("date"),
            format!("`{found}` is no date"),
            "write year-month-day, such as 2025-05-01, or two of them with `/` between for a period",
        )
    }

    pub(crate) fn not_yet(column: &str, date: &str) -> Trouble {
        Trouble::new(
            Some(column),
            format!("{date} has not come yet"),
            "look at the year, the month and the day",
        )
    }

    pub(crate) fn given_twice(column: &str, key: &str) -> Trouble {
        let column = if column == key { "conditions" } else { column };
        Trouble::new(
            Some(column),
            format!("`{key}` is given twice"),
            "keep one, or make two claims of it",
        )
    }

    pub(crate) fn two_values(first: &str, second: &str) -> Trouble {
        Trouble::new(
            Some(second),
            format!("it says two things, `{first}` and `{second}`"),
            "make two claims of it, or keep one",
        )
    }

    pub(crate) fn unread_growth(found: &str) -> Trouble {
        Trouble::new(
            Some("value"),
            format!("`{found}` cannot be read as growth"),
            "write two sizes and a time, `12 cm to 17 cm in 20 d`; or `doubles in 9 d`, `0.05 a day`, `trimmed by half every 2 weeks`",
        )
    }

    pub(crate) fn unread_measure(found: &str) -> Trouble {
        Trouble::new(
            Some("value"),
            format!("`{found}` cannot be read as a measurement"),
            "write the figure alone with its unit, such as `25 umol/m2/s`, or from and to, `25..35 umol/m2/s`; `at-least` or `at-most` stands in a column `bound` (`--also bound=at-least`)",
        )
    }

    pub(crate) fn no_span(found: &str) -> Trouble {
        Trouble::new(
            Some("value"),
            format!("`{found}` is no measurement"),
            "write from and to with the unit, such as `18..26 C`",
        )
    }

    pub(crate) fn doubtful_number(found: &str) -> Trouble {
        let (whole, part) = found.split_once(',').unwrap_or((found, ""));
        Trouble::new(
            Some("value"),
            format!("`{found}` is {whole}.{part} or {whole}{part}"),
            "write the number with a point, or without a mark between thousands",
        )
    }

    pub(crate) fn bad_condition(found: &str) -> Trouble {
        Trouble::new(
            Some("conditions"),
            format!("`{found}` is no condition with its value"),
            "write each as `light=low`, with `;` between them",
        )
    }

    pub(crate) fn slid_condition(found: &str) -> Trouble {
        Trouble::new(
            Some("remark"),
            format!("`{found}` is a condition, and stands under the remarks"),
            "put it with the conditions: a comma may stand between them, or double quotes around the cell",
        )
    }

    /// A fault that the guide's own reader finds in the claim.
    pub(crate) fn fault(column: Option<&str>, title: &str, help: &str) -> Trouble {
        Trouble::new(column, title.to_owned(), help)
    }

    pub(crate) fn braces(file: &str) -> Trouble {
        Trouble::new(
            None,
            format!("{file} stands between braces as a whole"),
            "write its keys on lines of their own, or add the claim by hand",
        )
    }

    pub(crate) fn no_way(file: &str) -> Trouble {
        Trouble::new(
            None,
            format!("no way was found to add to {file} and keep the rest as it is"),
            "add the claim by hand",
        )
    }

    /// The same trouble of the slip `slip`, which stands at `place`.
    pub(crate) fn of(mut self, slip: usize, place: &str) -> Trouble {
        self.slip = slip;
        if self.place.is_empty() {
            self.place = place.to_owned();
        }
        self
    }
}
