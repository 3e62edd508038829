//! The form at `/desk/`: records one observation, shows what it would move, and writes it.

use axum::http::StatusCode;
use axum::http::header::{CONTENT_TYPE, LOCATION};
use axum::response::{IntoResponse, Response};

use crate::content::{ConditionKind, Guide, Measure, TraitKind};
use crate::desk::clock::Since;
use crate::desk::entering::{self, Fields, NEW, Tried, field};
use crate::desk::forme::Forme;
use crate::desk::guard::Refusal;
use crate::desk::server::Desk;
use crate::desk::{disk, sheets, watch};
use crate::diagnostic::{Severity, counted};
use crate::intake::Edit;
use crate::pages::mark::{escaped, name_html};

/// Most names that are offered at one time.
const MOST_NAMES: usize = 20;

/// Most moves that are shown.
const MOST_MOVES: usize = 60;

/// What stands beside the form.
enum Beside<'a> {
    /// Nothing yet.
    Nothing,
    /// What an observation would come to.
    Tried(Tried),
    /// The same, as the guide has changed since it was shown.
    Again(Tried),
    /// It is written.
    Written(&'a Tried),
    /// It could not be written.
    Failed(String),
}

/// A GET below `/desk/`.
pub(crate) fn got(desk: &Desk, address: &str, query: &str) -> Response {
    if let Some((kind, text)) = sheets::asset(address) {
        return ([(CONTENT_TYPE, kind)], text).into_response();
    }
    match address {
        "" => {
            let forme = desk.read();
            // A plant's page leads here with its address.
            let asked: Fields = form_urlencoded::parse(query.as_bytes())
                .into_owned()
                .collect();
            if let Some(written) = desk.written(field(&asked, "written")) {
                let beside = Beside::Written(&written.tried);
                return form_page(desk, &forme, &written.next, &beside);
            }
            let mut fields = Fields::new();
            if let Some(name) = entering::name_of(field(&asked, "of"), &forme) {
                fields.push(("plant".to_owned(), name));
            }
            form_page(desk, &forme, &fields, &Beside::Nothing)
        }
        "moved.json" => {
            let moves: Vec<[String; 4]> = desk
                .moved()
                .into_iter()
                .map(|moved| [moved.plant, moved.of, moved.from, moved.to])
                .collect();
            let json = serde_json::json!(moves).to_string();
            ([(CONTENT_TYPE, "application/json")], json).into_response()
        }
        "names" => {
            let asked: Fields = form_urlencoded::parse(query.as_bytes())
                .into_owned()
                .collect();
            let wanted: String = field(&asked, "q").chars().take(100).collect();
            let found = entering::names(&wanted, &desk.read(), MOST_NAMES);
            let json = serde_json::json!(found).to_string();
            ([(CONTENT_TYPE, "application/json")], json).into_response()
        }
        _ => sheets::lost(&format!("/desk/{address}"), desk.turn_number()),
    }
}

/// A POST, with its token.
pub(crate) fn posted(desk: &Desk, path: &str, fields: &Fields) -> Result<Response, Refusal> {
    match path {
        "/desk/try" => {
            let mut forme = desk.write();
            let tried = entering::tried(fields, &mut forme, desk.latest());
            Ok(form_page(desk, &forme, fields, &Beside::Tried(tried)))
        }
        "/desk/write" => Ok(written(desk, fields)),
        _ => Err(Refusal::new(
            StatusCode::NOT_FOUND,
            "nothing to write there",
        )),
    }
}

fn written(desk: &Desk, fields: &Fields) -> Response {
    let started = Since::now();
    let (tried, is_inside, turn) = {
        let mut forme = desk.write();
        let turn = desk.turn_number();
        let tried = entering::tried(fields, &mut forme, desk.latest());
        let is_inside = entering::are_inside(forme.input(), &tried.edits);
        (tried, is_inside, turn)
    };
    // What stands beside the form was worked out on another state of the guide.
    let shown_at = field(fields, "turn");
    let is_other = !shown_at.is_empty() && shown_at != turn.to_string();
    if is_other && tried.troubles.is_empty() {
        return form_page(desk, &desk.read(), fields, &Beside::Again(tried));
    }
    let is_clear = tried.troubles.is_empty() && !tried.is_there && !tried.edits.is_empty();
    if !is_clear {
        return form_page(desk, &desk.read(), fields, &Beside::Tried(tried));
    }
    if !is_inside {
        let why = "its folder is no plain folder of the guide".to_owned();
        return form_page(desk, &desk.read(), fields, &Beside::Failed(why));
    }
    if let Err(error) = crate::intake::disk::write(desk.guide(), &tried.edits) {
        let why = error.to_string();
        desk.log().say(&format!("could not write: {why}"));
        watch::catch_up(desk);
        return form_page(desk, &desk.read(), fields, &Beside::Failed(why));
    }
    for edit in &tried.edits {
        desk.log().say(&format!("wrote {}", edit.path));
    }
    // The watcher would see it in a moment; who wrote it sees it at once.
    let paths = tried.edits.iter().map(|edit| edit.path.clone()).collect();
    watch::change(desk, disk::changes(desk.guide(), &paths), started);
    // The next slip is most often of the same source, tank and day.
    let source = match field(fields, "source") {
        NEW => made_source(&tried).unwrap_or_default(),
        id => id.to_owned(),
    };
    let is_kept = |name: &str| matches!(name, "date" | "tank") || name.starts_with("where-");
    let kept = fields.iter().filter(|(name, _)| is_kept(name)).cloned();
    let next = std::iter::once(("source".to_owned(), source))
        .chain(kept)
        .collect();
    let number = desk.set_written(tried, next);
    // A page of its own, so that loading it again sends nothing again.
    let to = format!("/desk/?written={number}#moves");
    (StatusCode::SEE_OTHER, [(LOCATION, to)]).into_response()
}

/// The id of the source that was made with an observation.
fn made_source(tried: &Tried) -> Option<String> {
    let of_source = |edit: &Edit| {
        let file = edit.path.strip_prefix("content/sources/")?;
        let id = file
            .strip_suffix(".yaml")
            .filter(|_| edit.before.is_none())?;
        Some(id.to_owned())
    };
    tried.edits.iter().find_map(of_source)
}

fn form_page(desk: &Desk, forme: &Forme, fields: &Fields, beside: &Beside<'_>) -> Response {
    let Some(weighed) = forme.weighed() else {
        return match beside {
            Beside::Nothing | Beside::Written(_) => {
                sheets::faults(desk, forme, &forme.faults(), desk.turn_number())
            }
            _ => unwritten(desk, forme, fields),
        };
    };
    let guide = &weighed.guide;
    let token = escaped(desk.token());
    let head = format!(
        "<meta name=\"desk-token\" content=\"{token}\">\n<script type=\"module\" src=\"/desk/form.js\"></script>\n"
    );
    let troubles = match beside {
        Beside::Tried(tried) | Beside::Again(tried) => tried.troubles.as_slice(),
        _ => &[],
    };
    let beside_html = shown_beside(beside, fields, forme, &token, desk.turn_number());
    let warnings = state_of(desk, forme);
    let form = form_html(guide, fields, troubles, &token);
    let main = format!(
        "<h1>Record an observation</h1>\n<p class=\"lead\">In {}. One plant, one trait, one source. Nothing is written before you have seen what it would move.</p>\n<div class=\"entry\">\n{form}{beside_html}</div>\n{warnings}<p class=\"quiet\">The guide says what sources report. Check the law where you are before you buy, swap or move a plant, and never put water plants into open water.</p>\n",
        escaped(&guide.about.title)
    );
    let status = match beside {
        Beside::Failed(_) => StatusCode::CONFLICT,
        Beside::Again(_) => StatusCode::CONFLICT,
        Beside::Tried(_) if !troubles.is_empty() => StatusCode::UNPROCESSABLE_ENTITY,
        _ => StatusCode::OK,
    };
    sheets::page(status, "Record an observation", &head, &main)
}

/// The page for an observation that cannot be tried while the guide has errors. It keeps what was
/// typed, and asks nothing by itself.
fn unwritten(desk: &Desk, forme: &Forme, fields: &Fields) -> Response {
    let title = "Nothing was written";
    let kept = kept(fields);
    let token = hidden("token", &escaped(desk.token()));
    let list = sheets::fault_list(desk, forme, &forme.faults(), Severity::Error);
    let main = format!(
        "<h1>{title}</h1>\n<p class=\"lead\">The guide has errors, so nothing can be weighed. Mend what is named here, and go on: what you typed is kept.</p>\n<form method=\"post\" action=\"/desk/try#moves\">\n{token}{kept}<p><button>Back to the form, with what I typed</button></p>\n</form>\n{list}"
    );
    sheets::page(StatusCode::SERVICE_UNAVAILABLE, title, "", &main)
}

/// The fields of a form, to be sent once more.
fn kept(fields: &Fields) -> String {
    let is_own = |name: &str| !matches!(name, "token" | "turn");
    let own = fields.iter().filter(|(name, _)| is_own(name));
    own.map(|(name, text)| hidden(name, text)).collect()
}

/// How many warnings the guide has, and each of them.
fn state_of(desk: &Desk, forme: &Forme) -> String {
    let faults = forme.faults();
    let n = faults
        .iter()
        .filter(|fault| fault.severity == Severity::Warning)
        .count();
    if n == 0 {
        return "<p class=\"quiet\">The guide can be pressed.</p>\n".to_owned();
    }
    let list = sheets::fault_list(desk, forme, &faults, Severity::Warning);
    format!(
        "<details>\n<summary>The guide has {}</summary>\n{list}</details>\n",
        counted(n, "warning", "warnings")
    )
}

fn shown_beside(
    beside: &Beside<'_>,
    fields: &Fields,
    forme: &Forme,
    token: &str,
    turn: u64,
) -> String {
    let inside = match beside {
        Beside::Nothing => String::new(),
        Beside::Tried(tried) if !tried.troubles.is_empty() => {
            let items: String = tried
                .troubles
                .iter()
                .map(|(of, what, help)| {
                    let said = format!("{}: {}", sheets::sentence(what), escaped(help).replace('\n', " "));
                    if has_place(of) {
                        format!("<li><a href=\"#f-{of}\">{said}</a></li>\n")
                    } else {
                        format!("<li>{said}</li>\n")
                    }
                })
                .collect();
            format!("<div class=\"told is-wrong\">\n<h2>To settle first</h2>\n<ul>\n{items}</ul>\n</div>\n")
        }
        Beside::Tried(tried) | Beside::Again(tried) if tried.is_there => {
            "<div class=\"told\">\n<h2>It is there already</h2>\n<p>The guide has a claim of this source that says the same of this plant. Nothing needs to be written.</p>\n</div>\n".to_owned()
        }
        Beside::Tried(tried) | Beside::Again(tried) => {
            let since = match beside {
                Beside::Again(_) => "<p class=\"wrong\">The guide has changed since you looked. Nothing was written yet: look once more.</p>\n",
                _ => "",
            };
            let again = kept(fields);
            format!(
                "<div class=\"told\">\n<h2>What it would move</h2>\n{since}{}{}<form method=\"post\" action=\"/desk/write#moves\">\n{}{again}<p><button class=\"write\">Write it into the entry</button></p>\n</form>\n</div>\n",
                moves_html(tried, ["is now", "would be"]),
                place_html(tried),
                hidden("token", token) + &hidden("turn", &turn.to_string()),
            )
        }
        Beside::Written(tried) => {
            let links: String = tried
                .plants
                .iter()
                .filter_map(|slug| {
                    let plants = &forme.weighed()?.names.plants;
                    let plant = plants.iter().find(|plant| plant.slug == *slug)?;
                    let name = name_html(&plant.name);
                    Some(format!("<li><a href=\"/plants/{slug}/\">{name}</a></li>\n"))
                })
                .take(12)
                .collect();
            format!(
                "<div class=\"told\">\n<h2>Written</h2>\n{}{}<p>See it on the page:</p>\n<ul>\n{links}</ul>\n</div>\n",
                place_html(tried),
                moves_html(tried, ["was", "is"]),
            )
        }
        Beside::Failed(why) => format!(
            "<div class=\"told is-wrong\">\n<h2>Nothing was written</h2>\n<p>{}</p>\n<p>Look at what it would move once more, and write it then.</p>\n</div>\n",
            escaped(why)
        ),
    };
    format!("<div id=\"moves\" role=\"status\">\n{inside}</div>\n")
}

/// Whether the form has a field of that name to lead to.
fn has_place(of: &str) -> bool {
    let own = [
        "plant",
        "trait",
        "value",
        "source",
        "source-title",
        "source-kind",
        "date",
        "conditions",
        "stage",
        "tank",
        "at",
        "as",
        "quote",
        "remark",
    ];
    own.contains(&of)
}

fn moves_html(tried: &Tried, heads: [&str; 2]) -> String {
    if tried.moves.is_empty() {
        return "<p>No level, no confidence and no standing moves: it is one more voice, or one more note of a voice that is there.</p>\n".to_owned();
    }
    let rows: String = tried
        .moves
        .iter()
        .take(MOST_MOVES)
        .map(|moved| {
            let many = if tried.plants.len() > 1 {
                format!("{}: ", name_html(&moved.plant))
            } else {
                String::new()
            };
            format!(
                "<tr><th scope=\"row\">{many}{}</th><td>{}</td><td>{}</td></tr>\n",
                escaped(&moved.of),
                escaped(&moved.from),
                escaped(&moved.to)
            )
        })
        .collect();
    let more = match tried.moves.len().saturating_sub(MOST_MOVES) {
        0 => String::new(),
        n => format!("<p>And {n} more.</p>\n"),
    };
    format!(
        "<div class=\"wide\"><table>\n<thead><tr><th scope=\"col\">What</th><th scope=\"col\">{}</th><th scope=\"col\">{}</th></tr></thead>\n<tbody>\n{rows}</tbody>\n</table></div>\n{more}",
        heads[0], heads[1]
    )
}

fn place_html(tried: &Tried) -> String {
    let Some(added) = &tried.added else {
        return String::new();
    };
    let new = match &tried.edits[..] {
        [source, _, ..]
            if source.before.is_none() && source.path.starts_with("content/sources/") =>
        {
            format!(
                " The source gets a file of its own, <code>{}</code>.",
                escaped(&source.path)
            )
        }
        _ => String::new(),
    };
    let loose = if added.path.ends_with("/genus.yaml") {
        "\n<p>If you know which plant it was, choose its full name: what is said of a loose name weighs less.</p>"
    } else {
        ""
    };
    format!(
        "<p>On {}, in <code>{}:{}</code>.{new}</p>{loose}\n<pre tabindex=\"0\" role=\"region\" aria-label=\"The claim\">- {}</pre>\n",
        escaped(&added.subject),
        escaped(&added.path),
        added.line,
        escaped(&added.claim)
    )
}

fn hidden(name: &str, text: &str) -> String {
    format!(
        "<input type=\"hidden\" name=\"{}\" value=\"{}\">\n",
        escaped(name),
        escaped(text)
    )
}

/// One labelled control with its hint and what is wrong with it.
fn labelled(
    name: &str,
    label: &str,
    hint: &str,
    troubles: &[(String, String, String)],
    control: impl Fn(&str) -> String,
) -> String {
    let wrong: Vec<String> = troubles
        .iter()
        .filter(|(of, ..)| of == name)
        .map(|(_, what, help)| {
            format!(
                "{}: {}",
                sheets::sentence(what),
                escaped(help).replace('\n', " ")
            )
        })
        .collect();
    let mut by = Vec::new();
    let mut extra = String::new();
    if !hint.is_empty() {
        by.push(format!("{name}-hint"));
        extra.push_str(&format!(
            "<p class=\"hint\" id=\"{name}-hint\">{hint}</p>\n"
        ));
    }
    if !wrong.is_empty() {
        by.push(format!("{name}-wrong"));
        extra.push_str(&format!(
            "<p class=\"wrong\" id=\"{name}-wrong\">{}</p>\n",
            wrong.join("<br>")
        ));
    }
    let mut attributes = format!("id=\"f-{name}\" name=\"{name}\"");
    if !by.is_empty() {
        attributes.push_str(&format!(" aria-describedby=\"{}\"", by.join(" ")));
    }
    if !wrong.is_empty() {
        attributes.push_str(" aria-invalid=\"true\"");
    }
    format!(
        "<div class=\"field\"><label for=\"f-{name}\">{label}</label>\n{}\n{extra}</div>\n",
        control(&attributes)
    )
}

fn option(value: &str, label: &str, chosen: &str, extra: &str) -> String {
    let selected = if value == chosen { " selected" } else { "" };
    format!(
        "<option value=\"{}\"{selected}{extra}>{}</option>\n",
        escaped(value),
        escaped(label)
    )
}

/// What can be said of a trait, in words.
fn hint_of(guide: &Guide, kind: &TraitKind) -> String {
    let level = |on: &crate::content::ScaleTrait| {
        let levels = &guide.scales[on.scale].levels;
        levels
            .iter()
            .map(|level| level.id.replace('-', " "))
            .collect::<Vec<_>>()
            .join(", ")
    };
    match kind {
        TraitKind::Scale(on) => match on.measure {
            None => format!("{}, or two of them with “to” between.", level(on)),
            Some(Measure::RelativeGrowthRate) => format!(
                "{}; or 12 cm to 17 cm in 20 d; or doubles in 9 d; or trimmed by half every 2 weeks; or 0.05 a day.",
                level(on)
            ),
            Some(measure) => format!(
                "{}; or a value with its unit, such as {}.",
                level(on),
                example(measure)
            ),
        },
        TraitKind::Span(measure) => format!(
            "From and to with the unit, such as {}.",
            span_example(*measure)
        ),
    }
}

fn example(measure: Measure) -> &'static str {
    match measure {
        Measure::Length => "12 cm",
        Measure::Mass => "3 g",
        Measure::Light => "30 umol/m2/s",
        Measure::Temperature => "22 C",
        Measure::Hardness => "8 dGH",
        Measure::Conductivity => "300 uS/cm",
        Measure::Count => "9 leaves",
        Measure::Share => "40 %",
        Measure::RelativeGrowthRate => "0.05 a day",
    }
}

fn span_example(measure: Measure) -> &'static str {
    match measure {
        Measure::Temperature => "18..26 C",
        Measure::Hardness => "4..12 dGH",
        other => example(other),
    }
}

fn form_html(
    guide: &Guide,
    fields: &Fields,
    troubles: &[(String, String, String)],
    token: &str,
) -> String {
    let has = |name: &str| field(fields, name);
    let text = |name: &str, label: &str, hint: &str, extra: &str| {
        labelled(name, label, hint, troubles, |attributes| {
            format!(
                "<input {attributes} value=\"{}\" autocomplete=\"off\"{extra}>",
                escaped(has(name))
            )
        })
    };
    let select = |name: &str, label: &str, hint: &str, options: &str| {
        labelled(name, label, hint, troubles, |attributes| {
            format!("<select {attributes}>\n{options}</select>")
        })
    };
    let mut traits = option("", "choose", has("trait"), "");
    // Growth first: it is watched most.
    let mut order: Vec<usize> = (0..guide.traits.len()).collect();
    order.sort_by_key(|at| match &guide.traits[*at].kind {
        TraitKind::Scale(on) => on.measure != Some(Measure::RelativeGrowthRate),
        TraitKind::Span(_) => true,
    });
    for at in order {
        let of = &guide.traits[at];
        let levels = match &of.kind {
            TraitKind::Scale(on) => {
                let levels = guide.scales[on.scale].levels.iter();
                levels
                    .map(|level| level.id.as_str())
                    .collect::<Vec<_>>()
                    .join(" ")
            }
            TraitKind::Span(_) => String::new(),
        };
        let extra = format!(
            " data-levels=\"{}\" data-hint=\"{}\"",
            escaped(&levels),
            escaped(&hint_of(guide, &of.kind))
        );
        traits.push_str(&option(&of.id, &of.title, has("trait"), &extra));
    }
    let mut sources = option("", "choose", has("source"), "");
    sources.push_str(&option(NEW, "a new source", has("source"), ""));
    let mut by_title: Vec<_> = guide.sources.iter().collect();
    by_title.sort_by(|a, b| (a.title.to_lowercase(), &a.id).cmp(&(b.title.to_lowercase(), &b.id)));
    for source in by_title {
        let label = format!("{} ({})", source.title, source.kind);
        sources.push_str(&option(&source.id, &label, has("source"), ""));
    }
    let kinds: String = std::iter::once(option("", "choose", has("source-kind"), ""))
        .chain(
            guide
                .weights
                .kinds
                .keys()
                .map(|kind| option(kind, kind, has("source-kind"), "")),
        )
        .collect();
    let conditions: String = guide
        .conditions
        .iter()
        .map(|of| {
            let name = format!("where-{}", of.id);
            let title = escaped(&of.title);
            let words: Vec<String> = match &of.kind {
                ConditionKind::Scale(scale) => {
                    let levels = guide.scales[*scale].levels.iter();
                    levels.map(|level| level.id.clone()).collect()
                }
                ConditionKind::Words(words) => words.clone(),
                ConditionKind::Span(unit) => {
                    let hint = format!(
                        "A value or a span with its unit, such as 20..24 {}.",
                        unit.name
                    );
                    return text(&name, &title, &escaped(&hint), "");
                }
            };
            let options: String = std::iter::once(option("", "not known", has(&name), ""))
                .chain(
                    words
                        .iter()
                        .map(|word| option(word, &word.replace('-', " "), has(&name), "")),
                )
                .collect();
            select(&name, &title, "", &options)
        })
        .collect();
    let wrong_conditions: String = troubles
        .iter()
        .filter(|(of, ..)| of == "conditions")
        .map(|(_, what, help)| {
            format!(
                "<p class=\"wrong\">{}: {}</p>\n",
                sheets::sentence(what),
                escaped(help)
            )
        })
        .collect();
    let stages: String = [
        ("", "not known"),
        ("settled", "settled"),
        ("settling", "still settling in"),
    ]
    .iter()
    .map(|(id, label)| option(id, label, has("stage"), ""))
    .collect();
    let is_more = ["tank", "at", "as", "quote"]
        .iter()
        .any(|name| !has(name).is_empty());
    [
        "<form id=\"observation\" method=\"post\" action=\"/desk/try#moves\">\n".to_owned(),
        hidden("token", token),
        text("plant", "Plant", "Any name that the guide knows: full name, synonym, trade name.", " list=\"plant-names\" required spellcheck=\"false\""),
        "<datalist id=\"plant-names\"></datalist>\n".to_owned(),
        select("trait", "What was watched", "", &traits),
        text("value", "What was seen", "A word of the trait’s scale, or a measurement with its units.", " list=\"value-words\" required"),
        "<datalist id=\"value-words\"></datalist>\n".to_owned(),
        select("source", "Whose observation", "", &sources),
        format!("<fieldset id=\"new-source\" data-when=\"{NEW}\">\n<legend>A new source</legend>\n"),
        text("source-title", "Title", "Such as: Log of the hall tank. Fill this in for a new source only.", ""),
        select("source-kind", "Kind", "", &kinds),
        "</fieldset>\n<fieldset id=\"f-conditions\">\n<legend>Where it grew</legend>\n".to_owned(),
        wrong_conditions,
        conditions,
        "</fieldset>\n<fieldset>\n<legend>When</legend>\n".to_owned(),
        text("date", "Date or period", "Year-month-day, such as 2025-05-01, or two of them with “to” between.", ""),
        select("stage", "The plant was", "A plant that is still changing over from another way of growing is shown and not weighed.", &stages),
        "</fieldset>\n".to_owned(),
        labelled("remark", "Remark", "", troubles, |attributes| {
            format!("<textarea {attributes} rows=\"3\">{}</textarea>", escaped(has("remark")))
        }),
        format!("<details{}>\n<summary>More</summary>\n", if is_more { " open" } else { "" }),
        text("tank", "Tank", "", ""),
        text("at", "Where in the source", "Such as p. 14.", ""),
        text("as", "Name that the source used", "Where it is not the name above.", ""),
        text("quote", "The source’s own words", "", ""),
        "</details>\n<p><button>Show what it would move</button></p>\n</form>\n".to_owned(),
    ]
    .concat()
}
