//! Contributors' prose: a small template language that can quote results and ask `if`, no more.
//!
//! Fuel alone does not stop a list that doubles itself: what is parsed must be on a list of what
//! is allowed before it is run.

use std::collections::BTreeMap;

use minijinja::machinery::ast::{BinOpKind, Expr, Stmt, UnaryOpKind};
use minijinja::machinery::parse;
use minijinja::value::{Value, ValueKind};
use minijinja::{Environment, Error, ErrorKind, UndefinedBehavior};

use crate::content::{Guide, TraitKind};
use crate::diagnostic::{Diagnostic, Placed, nearest};
use crate::names::{Names, PlantId};
use crate::pages::markdown::{self, Markdown};
use crate::pages::sentence::spoken;
use crate::quantity::{days_in_words, decimals};
use crate::reconcile::{Outcome, Reconciled};
use crate::roles::Standings;

/// Longest text that is read, in bytes.
const MAX_BYTES: usize = 16 << 10;

/// Steps that one text may take.
const FUEL: u64 = 20_000;

const FILTERS: &[&str] = &["lower", "upper", "capitalize"];
const TESTS: &[&str] = &["defined", "undefined", "none"];

/// What a text may quote: names, and names within names.
#[derive(Debug, Clone)]
pub(crate) enum Live {
    /// A value; `None` where there is none yet.
    Leaf(Option<String>),
    /// Names within a name.
    Branch(BTreeMap<String, Live>),
}

impl Live {
    fn value(&self) -> Value {
        match self {
            Live::Leaf(None) => Value::from(()),
            Live::Leaf(Some(text)) => Value::from(text.as_str()),
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

fn branch<const N: usize>(names: [(&str, Option<String>); N]) -> Live {
    Live::Branch(
        names
            .into_iter()
            .map(|(name, value)| (name.to_owned(), Live::Leaf(value)))
            .collect(),
    )
}

/// The names that every text may quote.
pub(crate) fn guide_live(guide: &Guide, names: &Names) -> BTreeMap<String, Live> {
    let about = branch([
        ("title", Some(guide.about.title.clone())),
        ("publisher", Some(guide.about.publisher.clone())),
        ("plants", Some(names.plants.len().to_string())),
        ("sources", Some(guide.sources.len().to_string())),
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
    let mut out = guide_live(guide, names);
    out.insert(
        "name".to_owned(),
        Live::Leaf(Some(names.plants[plant].name.clone())),
    );
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
                branch([
                    (
                        "level",
                        grade
                            .and_then(|grade| grade.level)
                            .map(|level| spoken(&guide.scales[on.scale].levels[level].id)),
                    ),
                    (
                        "confidence",
                        grade.map(|grade| grade.confidence.word().to_owned()),
                    ),
                    (
                        "evidence",
                        grade.map(|grade| grade.evidence.word().to_owned()),
                    ),
                    (
                        "agreement",
                        grade.map(|grade| grade.agreement.word().to_owned()),
                    ),
                    ("voices", grade.map(|grade| grade.voices.to_string())),
                    ("doubling", doubling),
                ])
            }
            TraitKind::Span(_) => {
                let span = match outcome {
                    Some(Outcome::Span(span)) => Some(span),
                    _ => None,
                };
                branch([
                    (
                        "low",
                        span.and_then(|span| span.low).map(|low| decimals(low, 1)),
                    ),
                    (
                        "high",
                        span.and_then(|span| span.high)
                            .map(|high| decimals(high, 1)),
                    ),
                    (
                        "confidence",
                        span.map(|span| span.confidence.word().to_owned()),
                    ),
                    ("voices", span.map(|span| span.voices.to_string())),
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
                .map(|standing| standing.word.on_screen().to_owned());
            (of.id.replace('-', "_"), Live::Leaf(word))
        })
        .collect();
    out.insert("standing".to_owned(), Live::Branch(standing));
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
        environment.add_filter("lower", |text: String| text.to_lowercase());
        environment.add_filter("upper", |text: String| text.to_uppercase());
        environment.add_filter("capitalize", |text: String| {
            let mut letters = text.chars();
            letters.next().map_or_else(String::new, |first| {
                first.to_uppercase().chain(letters).collect()
            })
        });
        environment.add_test("defined", |value: &Value| !value.is_undefined());
        environment.add_test("undefined", |value: &Value| value.is_undefined());
        environment.add_test("none", |value: &Value| value.is_none());
        environment.set_formatter(|out, _, value| match value.kind() {
            ValueKind::String | ValueKind::Number => {
                write!(out, "{value}").map_err(|_| Error::new(ErrorKind::WriteFailure, "too long"))
            }
            ValueKind::None => Err(Error::new(
                ErrorKind::InvalidOperation,
                "a result that is quoted has no value yet",
            )),
            _ => Err(Error::new(
                ErrorKind::InvalidOperation,
                "only a single result can be quoted",
            )),
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
        ErrorKind::InvalidOperation if detail.contains("no value yet") => refusal(
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
        Expr::BinOp(op) => match op.op {
            BinOpKind::ScAnd
            | BinOpKind::ScOr
            | BinOpKind::Eq
            | BinOpKind::Ne
            | BinOpKind::Lt
            | BinOpKind::Lte
            | BinOpKind::Gt
            | BinOpKind::Gte => {
                expression(&op.left, live)?;
                expression(&op.right, live).map(|_| None)
            }
            _ => refuse("a sum", op.span().start_line),
        },
        Expr::Compare(compare) => {
            expression(&compare.expr, live)?;
            for op in &compare.ops {
                expression(&op.expr, live)?;
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
        let growth = branch([("level", Some("fast".to_owned())), ("doubling", None)]);
        BTreeMap::from([
            ("growth".to_owned(), growth),
            ("name".to_owned(), Live::Leaf(Some("Planta <b>".to_owned()))),
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
        ] {
            assert!(html(text).is_err(), "{text}: {:?}", html(text));
        }
        let deep = format!("{{{{ {}1{} }}}}", "(".repeat(5000), ")".repeat(5000));
        assert!(html(&deep).is_err());
        assert!(html(&"x".repeat(MAX_BYTES + 1)).is_err());
        assert!(html("{{ growth.levl }}").is_err_and(|why| why.contains("did you mean `level`")));
    }
}
