//! Contributors' prose: a small template language that can quote results and ask `if`, no more.
//!
//! Fuel alone does not stop a list that doubles itself: what is parsed must be on a list of what
//! is allowed before it is run.

use std::collections::BTreeMap;

use minijinja::machinery::ast::{BinOpKind, CompareOpKind, Expr, Stmt, UnaryOpKind};
use minijinja::machinery::parse;
use minijinja::value::{Value, ValueKind};
use minijinja::{Environment, Error, ErrorKind, UndefinedBehavior};

use crate::content::{Guide, TraitKind};
use crate::diagnostic::{Diagnostic, Placed, nearest};
use crate::names::{Names, PlantId};
use crate::pages::markdown::{self, Markdown};
use crate::pages::sentence::spoken;
use crate::quantity::days_in_words;
use crate::reconcile::{Outcome, Reconciled};
use crate::roles::Standings;

/// Longest text that is read, in bytes.
const MAX_BYTES: usize = 16 << 10;

/// Longest `{{ … }}` or `{% … %}`, in bytes.
///
/// Our choice: what is parsed is walked by recursion, here and in the engine, and a few hundred
/// bytes cannot nest deep enough to use up a small stack.
const MAX_TAG: usize = 240;

/// Most `if` and `elif` within one another.
const MAX_DEPTH: usize = 12;

/// Steps that one text may take.
const FUEL: u64 = 20_000;

const FILTERS: &[&str] = &["lower", "upper", "capitalize"];
const TESTS: &[&str] = &["defined", "undefined", "none"];

/// What is said of a result without a value.
const NO_VALUE: &str = "a result that is quoted has no value yet";

/// What a text may quote: names, and names within names.
#[derive(Debug, Clone)]
pub(crate) enum Live {
    /// A word or words; `None` where there are none yet.
    Leaf(Option<String>),
    /// A number, which may be compared; `None` where there is none yet.
    Number(Option<f64>),
    /// Names within a name.
    Branch(BTreeMap<String, Live>),
}

impl Live {
    fn value(&self) -> Value {
        match self {
            Live::Leaf(None) | Live::Number(None) => Value::from(()),
            Live::Leaf(Some(text)) => Value::from(text.as_str()),
            Live::Number(Some(number)) => {
                // One decimal is shown, none where it is zero.
                let tenths = (number * 10.0).round();
                if (tenths % 10.0).abs() < 0.5 {
                    Value::from((tenths / 10.0) as i64)
                } else {
                    Value::from(tenths / 10.0)
                }
            }
            Live::Branch(names) => values(names),
        }
    }
}

/// Names as a map of the template engine.
fn values(names: &BTreeMap<String, Live>) -> Value {
    let map: BTreeMap<String, Value> = names
        .iter()
        .map(|(name, live)| (name.clone(), live.value()))
        .collect();
    Value::from(map)
}

fn branch<const N: usize>(names: [(&str, Live); N]) -> Live {
    Live::Branch(
        names
            .into_iter()
            .map(|(name, live)| (name.to_owned(), live))
            .collect(),
    )
}

fn words(text: Option<impl Into<String>>) -> Live {
    Live::Leaf(text.map(Into::into))
}

fn count(n: usize) -> Live {
    Live::Number(Some(n as f64))
}

/// The names that every text may quote.
pub(crate) fn guide_live(guide: &Guide, names: &Names) -> BTreeMap<String, Live> {
    let about = branch([
        ("title", words(Some(guide.about.title.as_str()))),
        ("publisher", words(Some(guide.about.publisher.as_str()))),
        ("plants", count(names.plants.len())),
        ("sources", count(guide.sources.len())),
    ]);
    BTreeMap::from([("guide".to_owned(), about)])
}

/// The names that a plant's text may quote; without results, every one is there without a value.
pub(crate) fn plant_live(
    guide: &Guide,
    names: &Names,
    plant: PlantId,
    results: Option<(&Reconciled, &Standings)>,
) -> BTreeMap<String, Live> {
    let mut out = BTreeMap::new();
    for (index, of) in guide.traits.iter().enumerate() {
        let graded =
            results.and_then(|(reconciled, _)| reconciled.plants[plant].traits.get(&index));
        let outcome = graded.map(|graded| &graded.outcome);
        let live = match &of.kind {
            TraitKind::Scale(on) => {
                let (grade, measured) = match outcome {
                    Some(Outcome::Scale {
                        grade, measured, ..
                    }) => (Some(grade), Some(measured)),
                    _ => (None, None),
                };
                let grade = grade.filter(|grade| grade.voices > 0);
                let doubling = measured.and_then(|measured| {
                    let most = measured.values().max_by_key(|pooled| pooled.k)?;
                    most.doubling_days.map(days_in_words)
                });
                let level = grade.and_then(|grade| grade.level);
                branch([
                    (
                        "level",
                        words(level.map(|level| spoken(&guide.scales[on.scale].levels[level].id))),
                    ),
                    (
                        "confidence",
                        words(grade.map(|grade| grade.confidence.word())),
                    ),
                    ("evidence", words(grade.map(|grade| grade.evidence.word()))),
                    (
                        "agreement",
                        words(grade.map(|grade| grade.agreement.word())),
                    ),
                    ("voices", count(grade.map_or(0, |grade| grade.voices))),
                    ("doubling", words(doubling)),
                ])
            }
            TraitKind::Span(_) => {
                let span = match outcome {
                    Some(Outcome::Span(span)) if span.voices > 0 => Some(span),
                    _ => None,
                };
                branch([
                    ("low", Live::Number(span.and_then(|span| span.low))),
                    ("high", Live::Number(span.and_then(|span| span.high))),
                    ("confidence", words(span.map(|span| span.confidence.word()))),
                    ("evidence", words(span.map(|span| span.evidence.word()))),
                    ("agreement", words(span.map(|span| span.agreement.word()))),
                    ("voices", count(span.map_or(0, |span| span.voices))),
                ])
            }
        };
        out.insert(of.id.replace('-', "_"), live);
    }
    let water = guide.about.default_water;
    let standing = guide
        .roles
        .iter()
        .enumerate()
        .map(|(role, of)| {
            let word = results
                .and_then(|(_, standings)| standings.plants[plant].standings[water][role].as_ref())
                .map(|standing| standing.word.on_screen());
            (of.id.replace('-', "_"), words(word))
        })
        .collect();
    // Last, so that no trait takes their names.
    out.insert("standing".to_owned(), Live::Branch(standing));
    out.insert(
        "name".to_owned(),
        words(Some(names.plants[plant].name.as_str())),
    );
    out.extend(guide_live(guide, names));
    out
}

/// A fault in a text: what is wrong, what to do, and the line of the text.
struct Refusal {
    why: String,
    hint: Option<String>,
    line: usize,
}

fn refusal(why: impl Into<String>, hint: Option<&str>, line: usize) -> Refusal {
    Refusal {
        why: why.into(),
        hint: hint.map(str::to_owned),
        line,
    }
}

/// A single result as text; anything else is an error.
fn spoken_value(value: &Value) -> Result<String, Error> {
    match value.kind() {
        ValueKind::String | ValueKind::Number => Ok(value.to_string()),
        ValueKind::None => Err(Error::new(ErrorKind::InvalidOperation, NO_VALUE)),
        _ => Err(Error::new(
            ErrorKind::InvalidOperation,
            "only a single result can be quoted",
        )),
    }
}

/// A text with the signs that mean something in Markdown written so that they stand for
/// themselves: a result is quoted, not set.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '&' | '|' | '~' | '#' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// The environment that runs prose.
pub(crate) struct Prose {
    environment: Environment<'static>,
}

impl Default for Prose {
    fn default() -> Prose {
        Prose::new()
    }
}

impl Prose {
    /// An environment with nothing in it but three filters.
    pub(crate) fn new() -> Prose {
        let mut environment = Environment::empty();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_fuel(Some(FUEL));
        environment.set_recursion_limit(20);
        environment.add_filter("lower", |text: &Value| {
            spoken_value(text).map(|text| text.to_lowercase())
        });
        environment.add_filter("upper", |text: &Value| {
            spoken_value(text).map(|text| text.to_uppercase())
        });
        environment.add_filter("capitalize", |text: &Value| {
            spoken_value(text).map(|text| {
                let mut letters = text.chars();
                letters.next().map_or_else(String::new, |first| {
                    first.to_uppercase().chain(letters).collect()
                })
            })
        });
        environment.add_test("defined", |value: &Value| !value.is_undefined());
        environment.add_test("undefined", |value: &Value| value.is_undefined());
        environment.add_test("none", |value: &Value| value.is_none());
        environment.set_formatter(|out, _, value| {
            let text = plain(&spoken_value(value)?);
            out.write_str(&text)
                .map_err(|_| Error::new(ErrorKind::WriteFailure, "too long"))
        });
        Prose { environment }
    }

    /// Checks a text without results: only what it may say and quote.
    pub(crate) fn check(
        &self,
        text: &Placed<String>,
        live: &BTreeMap<String, Live>,
    ) -> Option<Diagnostic> {
        allowed(&text.value, live)
            .err()
            .map(|refusal| fault(text, refusal))
    }

    /// A text as HTML. Faults are added; a text with one is left out.
    pub(crate) fn html(
        &self,
        text: &Placed<String>,
        live: &BTreeMap<String, Live>,
        how: Markdown<'_>,
        faults: &mut Vec<Diagnostic>,
    ) -> String {
        let quoted = match allowed(&text.value, live).and_then(|()| self.run(&text.value, live)) {
            Ok(quoted) => quoted,
            Err(refusal) => {
                faults.push(fault(text, refusal));
                return String::new();
            }
        };
        markdown::html(&quoted, how, &text.place, faults)
    }

    fn run(&self, text: &str, live: &BTreeMap<String, Live>) -> Result<String, Refusal> {
        self.environment
            .render_str(text, values(live))
            .map_err(|error| from_engine(&error))
    }
}

fn fault(text: &Placed<String>, refusal: Refusal) -> Diagnostic {
    let why = if refusal.line > 1 {
        format!("{} (line {} of the text)", refusal.why, refusal.line)
    } else {
        refusal.why
    };
    Diagnostic::bad_prose(&text.place, &why, refusal.hint)
}

fn from_engine(error: &Error) -> Refusal {
    let line = error.line().unwrap_or(1);
    let detail = error
        .detail()
        .map_or_else(|| error.to_string(), str::to_owned);
    match error.kind() {
        ErrorKind::OutOfFuel => refusal(
            "it takes too many steps",
            Some("write it out, or make it shorter"),
            line,
        ),
        ErrorKind::InvalidOperation if detail == NO_VALUE => refusal(
            detail,
            Some(
                "ask first: `{% if growth.doubling %}doubles in {{ growth.doubling }}{% endif %}`",
            ),
            line,
        ),
        _ => refusal(detail, None, line),
    }
}

const ONLY: &str = "a text may quote results, `{{ growth.level }}`, and ask `{% if … %}`; loops, lists and sums are not read";

/// Whether a text says only what it may.
fn allowed(text: &str, live: &BTreeMap<String, Live>) -> Result<(), Refusal> {
    if text.len() > MAX_BYTES {
        return Err(refusal(
            format!("it is longer than {MAX_BYTES} bytes"),
            Some("move a part of it to a free page"),
            1,
        ));
    }
    short_tags(text)?;
    let parsed = parse(text, "text", Default::default()).map_err(|error| {
        let line = error.line().unwrap_or(1);
        refusal(
            error
                .detail()
                .unwrap_or("the template is broken")
                .to_owned(),
            Some(ONLY),
            line,
        )
    })?;
    statement(&parsed, live)
}

/// Whether every tag is short and no `if` lies too deep, seen before anything is parsed.
///
/// The engine's parser and its walks are recursive: a text of a few thousand `or` or `elif` would
/// use up the stack, which no error can be made of.
fn short_tags(text: &str) -> Result<(), Refusal> {
    // Of each open `if`: itself and its `elif` so far.
    let mut open: Vec<usize> = Vec::new();
    let mut depth = 0;
    let mut at = 0;
    while let Some(found) = text[at..].find('{') {
        let start = at + found;
        let line = || text[..start].matches('\n').count() + 1;
        let rest = &text[start..];
        if let Some(comment) = rest.strip_prefix("{#") {
            at = start + comment.find("#}").map_or(rest.len(), |end| end + 4);
            continue;
        }
        let close = match rest.get(..2) {
            Some("{{") => "}}",
            Some("{%") => "%}",
            _ => {
                at = start + 1;
                continue;
            }
        };
        let end = tag_end(rest, close);
        if end > MAX_TAG {
            return Err(refusal(
                format!(
                    "what stands between `{}` and `{close}` is too long",
                    &rest[..2]
                ),
                Some("say one thing in each; ask with several `if`"),
                line(),
            ));
        }
        if close == "%}" {
            let word: String = rest[2..]
                .trim_start_matches(['-', '+'])
                .trim_start()
                .chars()
                .take_while(|c| c.is_ascii_alphabetic())
                .collect();
            match word.as_str() {
                "if" => {
                    open.push(1);
                    depth += 1;
                }
                "elif" => {
                    if let Some(own) = open.last_mut() {
                        *own += 1;
                    }
                    depth += 1;
                }
                "endif" => depth -= open.pop().unwrap_or(0).min(depth),
                // Every other word is refused by its name later; until then it may hold more.
                "else" | "raw" | "endraw" => {}
                _ => depth += 1,
            }
            if depth > MAX_DEPTH {
                return Err(refusal(
                    "it asks too many questions within one another",
                    Some("ask with several `if`, one after the other"),
                    line(),
                ));
            }
        }
        at = start + end;
    }
    Ok(())
}

/// Where a tag ends: after its closing sign outside of quotes, else at the end of the text.
fn tag_end(tag: &str, close: &str) -> usize {
    let bytes = tag.as_bytes();
    let mut quote = None;
    let mut at = 2;
    while at < bytes.len() {
        match (quote, bytes[at]) {
            (Some(_), b'\\') => at += 1,
            (Some(open), b) if b == open => quote = None,
            (None, b @ (b'\'' | b'"')) => quote = Some(b),
            (None, _) if bytes[at..].starts_with(close.as_bytes()) => return at + 2,
            _ => {}
        }
        at += 1;
    }
    bytes.len()
}

fn statements(list: &[Stmt<'_>], live: &BTreeMap<String, Live>) -> Result<(), Refusal> {
    list.iter().try_for_each(|one| statement(one, live))
}

fn statement(one: &Stmt<'_>, live: &BTreeMap<String, Live>) -> Result<(), Refusal> {
    let (what, line) = match one {
        Stmt::Template(template) => return statements(&template.children, live),
        Stmt::EmitRaw(_) => return Ok(()),
        Stmt::EmitExpr(emit) => return expression(&emit.expr, live).map(|_| ()),
        Stmt::IfCond(cond) => {
            expression(&cond.expr, live)?;
            statements(&cond.true_body, live)?;
            return statements(&cond.false_body, live);
        }
        Stmt::ForLoop(s) => ("a loop", s.span().start_line),
        Stmt::WithBlock(s) => ("`with`", s.span().start_line),
        Stmt::Set(s) => ("`set`", s.span().start_line),
        Stmt::SetBlock(s) => ("`set`", s.span().start_line),
        Stmt::AutoEscape(s) => ("`autoescape`", s.span().start_line),
        Stmt::FilterBlock(s) => ("a filter block", s.span().start_line),
        Stmt::Do(s) => ("`do`", s.span().start_line),
    };
    Err(refusal(
        format!("{what} is not read here"),
        Some(ONLY),
        usize::from(line),
    ))
}

/// Checks an expression; gives what it names, where it is a name.
fn expression<'l>(
    one: &Expr<'_>,
    live: &'l BTreeMap<String, Live>,
) -> Result<Option<&'l Live>, Refusal> {
    let refuse = |what: &str, line: u16| {
        Err(refusal(
            format!("{what} is not read here"),
            Some(ONLY),
            usize::from(line),
        ))
    };
    match one {
        Expr::Var(var) => named(var.id, live, usize::from(var.span().start_line)).map(Some),
        Expr::Const(value) => match value.value.kind() {
            ValueKind::String | ValueKind::Number | ValueKind::Bool | ValueKind::None => Ok(None),
            _ => refuse("a list", value.span().start_line),
        },
        Expr::GetAttr(get) => match expression(&get.expr, live)? {
            Some(Live::Branch(names)) => {
                named(get.name, names, usize::from(get.span().start_line)).map(Some)
            }
            _ => refuse(&format!("`.{}`", get.name), get.span().start_line),
        },
        Expr::UnaryOp(op) => match op.op {
            UnaryOpKind::Not => expression(&op.expr, live).map(|_| None),
            UnaryOpKind::Neg => refuse("a sum", op.span().start_line),
        },
        Expr::BinOp(op) => {
            let line = op.span().start_line;
            let (left, right) = match op.op {
                BinOpKind::Sub if is_name(&op.left) && is_name(&op.right) => {
                    return Err(refusal(
                        "a sum is not read here",
                        Some("if it is a name, write `_` for its `-`: `light_need.level`"),
                        usize::from(line),
                    ));
                }
                BinOpKind::ScAnd
                | BinOpKind::ScOr
                | BinOpKind::Eq
                | BinOpKind::Ne
                | BinOpKind::Lt
                | BinOpKind::Lte
                | BinOpKind::Gt
                | BinOpKind::Gte => (expression(&op.left, live)?, expression(&op.right, live)?),
                _ => return refuse("a sum", line),
            };
            if !matches!(op.op, BinOpKind::ScAnd | BinOpKind::ScOr) {
                let sides = (side(&op.left, left), side(&op.right, right));
                let is_order = !matches!(op.op, BinOpKind::Eq | BinOpKind::Ne);
                comparable(is_order, sides, usize::from(line))?;
            }
            Ok(None)
        }
        Expr::Compare(compare) => {
            let line = usize::from(compare.span().start_line);
            let first = expression(&compare.expr, live)?;
            let mut left = side(&compare.expr, first);
            for op in &compare.ops {
                let named = expression(&op.expr, live)?;
                let right = side(&op.expr, named);
                let is_order = !matches!(op.op, CompareOpKind::Eq | CompareOpKind::Ne);
                comparable(is_order, (left, right), line)?;
                left = right;
            }
            Ok(None)
        }
        Expr::IfExpr(cond) => {
            expression(&cond.test_expr, live)?;
            expression(&cond.true_expr, live)?;
            if let Some(other) = &cond.false_expr {
                expression(other, live)?;
            }
            Ok(None)
        }
        Expr::Filter(filter) => {
            if !FILTERS.contains(&filter.name) || !filter.args.is_empty() {
                return refuse(
                    &format!("the filter `{}`", filter.name),
                    filter.span().start_line,
                );
            }
            if let Some(inner) = &filter.expr {
                expression(inner, live)?;
            }
            Ok(None)
        }
        Expr::Test(test) => {
            if !TESTS.contains(&test.name) || !test.args.is_empty() {
                return refuse(&format!("the test `{}`", test.name), test.span().start_line);
            }
            expression(&test.expr, live).map(|_| None)
        }
        Expr::Slice(e) => refuse("a slice", e.span().start_line),
        Expr::GetItem(e) => refuse("`[…]`", e.span().start_line),
        Expr::Call(e) => refuse("a call", e.span().start_line),
        Expr::List(e) => refuse("a list", e.span().start_line),
        Expr::Tuple(e) => refuse("a list", e.span().start_line),
        Expr::Map(e) => refuse("a map", e.span().start_line),
    }
}

fn is_name(one: &Expr<'_>) -> bool {
    match one {
        Expr::Var(_) => true,
        Expr::GetAttr(get) => is_name(&get.expr),
        _ => false,
    }
}

/// What stands on one side of a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Words,
    Number,
    /// A truth, nothing, or what is known only when it is run.
    Other,
    Several,
}

fn side(one: &Expr<'_>, named: Option<&Live>) -> Side {
    match (named, one) {
        (Some(Live::Leaf(_)), _) | (_, Expr::Filter(_)) => Side::Words,
        (Some(Live::Number(_)), _) => Side::Number,
        (Some(Live::Branch(_)), _) => Side::Several,
        (None, Expr::Const(value)) => match value.value.kind() {
            ValueKind::String => Side::Words,
            ValueKind::Number => Side::Number,
            _ => Side::Other,
        },
        _ => Side::Other,
    }
}

/// Words are the same or not: by their letters, `fast` would be less than `slow`. A number is
/// compared with a number.
fn comparable(is_order: bool, sides: (Side, Side), line: usize) -> Result<(), Refusal> {
    match sides {
        (Side::Several, _) | (_, Side::Several) => Err(refusal(
            "only a single result can be compared",
            Some("name it: `growth.level`"),
            line,
        )),
        (Side::Number, Side::Words) | (Side::Words, Side::Number) => Err(refusal(
            "a number is compared with a word",
            Some("write numbers without quotes: `growth.voices >= 3`"),
            line,
        )),
        (Side::Number, Side::Number) => Ok(()),
        _ if is_order => Err(refusal(
            "words have no more and less",
            Some("ask for each: `growth.level == 'fast' or growth.level == 'very fast'`"),
            line,
        )),
        _ => Ok(()),
    }
}

fn named<'l>(
    name: &str,
    names: &'l BTreeMap<String, Live>,
    line: usize,
) -> Result<&'l Live, Refusal> {
    names.get(name).ok_or_else(|| {
        let hint = match nearest(name, names.keys().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!(
                "it may quote {}",
                crate::diagnostic::listed(names.keys().map(String::as_str), 12)
            ),
        };
        refusal(
            format!("there is no result called `{name}`"),
            Some(&hint),
            line,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostic::Place;

    fn live() -> BTreeMap<String, Live> {
        let growth = branch([
            ("level", words(Some("fast"))),
            ("doubling", words(None::<String>)),
            ("voices", count(5)),
        ]);
        let temperature = branch([
            ("low", Live::Number(Some(18.04))),
            ("high", Live::Number(Some(25.5))),
        ]);
        BTreeMap::from([
            ("growth".to_owned(), growth),
            ("temperature".to_owned(), temperature),
            ("name".to_owned(), words(Some("Planta *a* <b> [x](y) 'Q'"))),
        ])
    }

    fn html(text: &str) -> Result<String, String> {
        let mut faults = Vec::new();
        let placed = Placed::new(text.to_owned(), Place::head("content/x.yaml"));
        let html = Prose::new().html(&placed, &live(), Markdown::default(), &mut faults);
        match faults.into_iter().next() {
            Some(fault) => Err(format!(
                "{} | {}",
                fault.title,
                fault.hint.unwrap_or_default()
            )),
            None => Ok(html),
        }
    }

    #[test]
    fn results_are_quoted_and_asked_for() {
        assert_eq!(
            html("Grows {{ growth.level }}."),
            Ok("<p>Grows fast.</p>\n".to_owned())
        );
        assert_eq!(
            html("{% if growth.doubling %}x{% else %}no figure{% endif %}"),
            Ok("<p>no figure</p>\n".to_owned())
        );
        assert_eq!(
            html("{{ growth.level | upper }}"),
            Ok("<p>FAST</p>\n".to_owned())
        );
    }

    #[test]
    fn whatever_could_run_long_is_refused() {
        for text in [
            "{% for x in growth %}{{ x }}{% endfor %}",
            "{{ [[[1]*1000]*1000]*1000 }}",
            "{{ 'x' * 1000000000 }}",
            "{% set l = [l, l] %}",
            "{{ growth.level ~ growth.level }}",
            "{{ {'a': 1} }}",
            "{{ growth.level[0] }}",
            "{{ range(1000000000) }}",
            "{{ growth.level | replace('a', 'b') }}",
            "{{ growth }}",
            "{{ growth.doubling }}",
            "{{ growth.levl }}",
            "{{ grwth.level }}",
            "{{ growth.level",
            "{% macro m() %}{{ m() }}{% endmacro %}",
            "{% include 'x' %}",
            "{{ growth.doubling | lower }}",
            "{{ growth.level == 'fast' }}",
            "{% if growth == growth %}x{% endif %}",
            "{% if growth.level > 'a' %}x{% endif %}",
            "{% if growth.voices == '5' %}x{% endif %}",
            "{% if 1 < growth.voices < 'x' %}x{% endif %}",
        ] {
            assert!(html(text).is_err(), "{text}: {:?}", html(text));
        }
        let deep = format!("{{{{ {}1{} }}}}", "(".repeat(5000), ")".repeat(5000));
        assert!(html(&deep).is_err());
        assert!(html(&"x".repeat(MAX_BYTES + 1)).is_err());
        assert!(html("{{ growth.levl }}").is_err_and(|why| why.contains("did you mean `level`")));
    }

    #[test]
    fn numbers_are_compared_as_numbers() {
        for (ask, is_so) in [
            ("growth.voices > 2", true),
            ("growth.voices > 20", false),
            ("growth.voices == 5", true),
            ("1 < growth.voices <= 5", true),
            ("temperature.low < 18.5 and temperature.high > 25", true),
            ("growth.level == 'fast'", true),
            ("growth.level != 'fast'", false),
            ("growth.doubling is none", true),
        ] {
            let text = format!("{{% if {ask} %}}yes{{% else %}}no{{% endif %}}");
            let expected = if is_so { "<p>yes</p>\n" } else { "<p>no</p>\n" };
            assert_eq!(html(&text).as_deref(), Ok(expected), "{ask}");
        }
        assert_eq!(
            html("{{ temperature.low }} to {{ temperature.high }}, {{ growth.voices }} voices"),
            Ok("<p>18 to 25.5, 5 voices</p>\n".to_owned())
        );
    }

    #[test]
    fn a_result_is_quoted_not_set() {
        assert_eq!(
            html("{{ name }}"),
            Ok("<p>Planta *a* &lt;b&gt; [x](y) 'Q'</p>\n".to_owned())
        );
    }

    #[test]
    fn faults_name_their_line_and_say_what_to_do() {
        for (text, parts) in [
            ("\n\n{{ grwth.level }}", ["line 3", "`growth`"]),
            (
                "{% for x in y %}{% endfor %}",
                ["a loop", "loops, lists and sums are not read"],
            ),
            ("{{ light-need }}", ["a sum", "`_` for its `-`"]),
            (
                "{% if growth.level >= 'slow' %}{% endif %}",
                ["no more and less", "ask for each"],
            ),
            ("{{ growth.doubling }}", ["no value yet", "ask first"]),
        ] {
            let fault = html(text).expect_err(text);
            assert!(
                parts.iter().all(|part| fault.contains(part)),
                "{text}: {fault}"
            );
        }
    }

    /// On a small stack, as worker threads have; an overflow would end the whole program.
    #[test]
    fn nothing_nests_deep_enough_to_use_up_the_stack() {
        let long = |head: &str, part: &str, tail: &str| {
            let n = (MAX_BYTES - head.len() - tail.len()) / part.len();
            format!("{head}{}{tail}", part.repeat(n))
        };
        let ifs = MAX_BYTES / "{% if 1 %}{% endif %}".len();
        let texts = [
            "{% if 1 %}".repeat(ifs) + &"{% endif %}".repeat(ifs),
            long("", "{% if 1 %}", ""),
            long("", "{%-if 1-%}", ""),
            long("", "{% for x in y %}", ""),
            long("", "{% set x %}", ""),
            long("{% if 0 %}", "{% elif 0 %}", "{% endif %}"),
            long("{{ ", "1 or ", "1 }}"),
            long("{{ '}}' or ", "1 or ", "1 }}"),
            long("{{ \"\\\"}}\" or ", "1 or ", "1 }}"),
            long("{{ ", "not ", "1 }}"),
            long("{{ ", "-", "1 }}"),
            long("{{ name", "|lower", " }}"),
            long("{{ name", " is none", " }}"),
            long("{{ ", "1 if 0 else ", "1 }}"),
            long("{{ name", ".a", " }}"),
            long("{{ name", "[0]", " }}"),
            long("{{ ", "1+", "1 }}"),
            long("{{ ", "(", ""),
            long("{{ ", "[", ""),
            long("{{ ", "{1:", ""),
            long("{# #}", "{", ""),
            long("{% raw %}", "{{", "{% endraw %}"),
            // As deep as one tag goes.
            format!("{{{{ {}1 }}}}", "not ".repeat((MAX_TAG - 10) / 4)),
            format!("{{{{ {}1{} }}}}", "(".repeat(110), ")".repeat(110)),
            format!("{{{{ name{} }}}}", "|lower".repeat((MAX_TAG - 15) / 6)),
        ];
        for text in texts {
            let worker = std::thread::Builder::new().stack_size(2 << 20);
            let done = worker.spawn(move || drop(html(&text))).expect("a thread");
            done.join().expect("no panic");
        }
        let several = "{% if growth.level %}a{% elif name %}b{% else %}c{% endif %} ".repeat(200);
        assert!(html(&several).is_ok(), "one after the other is no nesting");
        let raw = "{% raw %}{{ x }}{% endraw %} ".repeat(50);
        assert!(html(&raw).is_ok(), "what is not read does not nest");
        assert!(html("{# {{ a comment {% if #}x").is_ok());
    }
}
