//! Numbers with units: the only parser, the only conversions, the only number formatting.

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dimension {
    /// Base unit cm.
    Length,
    /// Base unit g.
    Mass,
    /// Base unit cm².
    Area,
    /// Percent: a share, or a cover of an area.
    Percent,
    /// A number of things of one kind.
    Count,
    /// Base unit day.
    Time,
    /// Base unit litre.
    Volume,
    /// Base unit °C.
    Temperature,
    /// µmol m⁻² s⁻¹.
    Light,
    /// Base unit degree of general hardness.
    GeneralHardness,
    /// Base unit degree of carbonate hardness.
    CarbonateHardness,
    /// mg/l: a hardness as CaCO₃, or a concentration in readings.
    Concentration,
    /// µS/cm.
    Conductivity,
}

impl Dimension {
    /// A quantity of it, as an example.
    pub fn example(self) -> &'static str {
        match self {
            Dimension::Length => "12 cm",
            Dimension::Mass => "3 g",
            Dimension::Area => "40 cm2",
            Dimension::Percent => "30 %",
            Dimension::Count => "6 plants",
            Dimension::Time => "20 d",
            Dimension::Volume => "54 l",
            Dimension::Temperature => "22 C",
            Dimension::Light => "35 umol/m2/s",
            Dimension::GeneralHardness => "8 dGH",
            Dimension::CarbonateHardness => "6 dKH",
            Dimension::Concentration => "10 mg/l",
            Dimension::Conductivity => "400 uS/cm",
        }
    }

    /// The dimension in words.
    pub fn noun(self) -> &'static str {
        match self {
            Dimension::Length => "a length",
            Dimension::Mass => "a mass",
            Dimension::Area => "an area",
            Dimension::Percent => "a percentage",
            Dimension::Count => "a count",
            Dimension::Time => "a time",
            Dimension::Volume => "a volume",
            Dimension::Temperature => "a temperature",
            Dimension::Light => "a light level",
            Dimension::GeneralHardness => "a general hardness",
            Dimension::CarbonateHardness => "a carbonate hardness",
            Dimension::Concentration => "a concentration",
            Dimension::Conductivity => "a conductivity",
        }
    }

    /// The units of the dimension, for a hint.
    pub fn units(self) -> String {
        let names: Vec<String> = UNITS
            .iter()
            .filter(|unit| unit.dimension == self)
            .map(|unit| format!("`{}`", unit.name))
            .collect();
        names.join(", ")
    }
}

/// A unit of the format: `base = value × factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// As written.
    pub name: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// To the base unit of the dimension.
    pub factor: f64,
    /// To the base unit of the dimension; only °F has one.
    pub offset: f64,
    /// For counts, the thing counted, in the plural.
    pub thing: Option<&'static str>,
}

const fn unit(name: &'static str, dimension: Dimension, factor: f64) -> Unit {
    Unit {
        name,
        dimension,
        factor,
        offset: 0.0,
        thing: None,
    }
}

const fn count(name: &'static str, thing: &'static str) -> Unit {
    Unit {
        name,
        dimension: Dimension::Count,
        factor: 1.0,
        offset: 0.0,
        thing: Some(thing),
    }
}

/// Milligrams of CaCO₃ per litre in one degree of hardness.
///
/// Source: from memory (one German degree is 10 mg CaO per litre); the ratio of molar masses
/// gives 17.848.
pub const MG_PER_DEGREE: f64 = 17.848;

/// All units, in the order in which the format lists them.
///
/// Source: inch = 2.54 cm, international yard and pound agreement of 1959; US gallon =
/// 231 in³, UK gallon = 4.54609 l; month = 30.4375 d and year = 365.25 d are the format's.
pub const UNITS: &[Unit] = &[
    unit("mm", Dimension::Length, 0.1),
    unit("cm", Dimension::Length, 1.0),
    unit("m", Dimension::Length, 100.0),
    unit("in", Dimension::Length, 2.54),
    unit("ft", Dimension::Length, 30.48),
    unit("mg", Dimension::Mass, 0.001),
    unit("g", Dimension::Mass, 1.0),
    unit("kg", Dimension::Mass, 1000.0),
    unit("oz", Dimension::Mass, 28.349_523_125),
    unit("cm2", Dimension::Area, 1.0),
    unit("m2", Dimension::Area, 10_000.0),
    unit("%", Dimension::Percent, 1.0),
    count("leaves", "leaves"),
    count("leaf", "leaves"),
    count("shoots", "shoots"),
    count("shoot", "shoots"),
    count("stems", "stems"),
    count("stem", "stems"),
    count("fronds", "fronds"),
    count("frond", "fronds"),
    count("plants", "plants"),
    count("plant", "plants"),
    count("rosettes", "rosettes"),
    count("rosette", "rosettes"),
    count("nodes", "nodes"),
    count("node", "nodes"),
    unit("h", Dimension::Time, 1.0 / 24.0),
    unit("hours", Dimension::Time, 1.0 / 24.0),
    unit("hour", Dimension::Time, 1.0 / 24.0),
    unit("d", Dimension::Time, 1.0),
    unit("days", Dimension::Time, 1.0),
    unit("day", Dimension::Time, 1.0),
    unit("weeks", Dimension::Time, 7.0),
    unit("week", Dimension::Time, 7.0),
    unit("months", Dimension::Time, 30.4375),
    unit("month", Dimension::Time, 30.4375),
    unit("years", Dimension::Time, 365.25),
    unit("year", Dimension::Time, 365.25),
    unit("ml", Dimension::Volume, 0.001),
    unit("l", Dimension::Volume, 1.0),
    unit("gal-us", Dimension::Volume, 3.785_411_784),
    unit("gal-uk", Dimension::Volume, 4.546_09),
    unit("C", Dimension::Temperature, 1.0),
    Unit {
        name: "F",
        dimension: Dimension::Temperature,
        factor: 5.0 / 9.0,
        offset: -160.0 / 9.0,
        thing: None,
    },
    unit("umol/m2/s", Dimension::Light, 1.0),
    unit("dGH", Dimension::GeneralHardness, 1.0),
    unit("dKH", Dimension::CarbonateHardness, 1.0),
    unit("mg/l", Dimension::Concentration, 1.0),
    unit("uS/cm", Dimension::Conductivity, 1.0),
];

impl Unit {
    /// The unit of a name, as written.
    pub fn of(name: &str) -> Option<Unit> {
        UNITS.iter().copied().find(|unit| unit.name == name)
    }

    /// A value in this unit, in the base unit of its dimension.
    pub fn to_base(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }

    /// A value in the base unit of the dimension, in this unit.
    pub fn from_base(&self, base: f64) -> f64 {
        (base - self.offset) / self.factor
    }
}

/// A number with its unit, as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// In `unit`.
    pub value: f64,
    /// The unit as written.
    pub unit: Unit,
}

impl Quantity {
    /// In the base unit of the dimension.
    pub fn base(&self) -> f64 {
        self.unit.to_base(self.value)
    }
}

/// A span of quantities in one unit; an end may be open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Lower end in `unit`.
    pub low: Option<f64>,
    /// Upper end in `unit`.
    pub high: Option<f64>,
    /// The unit as written.
    pub unit: Unit,
    /// Whether it was written as one value.
    pub is_single: bool,
}

/// Why a quantity cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuantityFault {
    /// A fragment that goes on after "cannot read `…`:".
    pub why: String,
    /// What to do.
    pub hint: Option<String>,
    /// It has a unit that is none of the format's: the hint may list those that fit.
    pub is_unknown_unit: bool,
    /// What the unit that may be meant measures.
    pub near: Option<Dimension>,
}

fn fault(why: impl Into<String>, hint: Option<String>) -> QuantityFault {
    QuantityFault {
        why: why.into(),
        hint,
        is_unknown_unit: false,
        near: None,
    }
}

/// A finite decimal number: digits with at most one point, an optional sign and exponent.
/// Words such as `inf` and `nan`, blanks and thousands marks are refused.
pub fn number(text: &str) -> Option<f64> {
    let is_plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'))
        && text.bytes().any(|b| b.is_ascii_digit());
    if !is_plain {
        return None;
    }
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

/// Splits `12 cm` at the end of its number.
fn split(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let mut end = 0;
    while end < bytes.len() {
        let b = bytes[end];
        // An `e` belongs to the number only where an exponent follows.
        let is_exponent = matches!(b, b'e' | b'E')
            && end > 0
            && bytes.get(end + 1).is_some_and(|n| {
                n.is_ascii_digit()
                    || (matches!(n, b'+' | b'-')
                        && bytes.get(end + 2).is_some_and(u8::is_ascii_digit))
            });
        if b.is_ascii_digit() || matches!(b, b'.' | b',' | b'+' | b'-') || is_exponent {
            end += 1;
        } else {
            break;
        }
    }
    (text[..end].trim_end(), text[end..].trim())
}

fn read_number(text: &str) -> Result<f64, QuantityFault> {
    number(text).ok_or_else(|| {
        if text.contains(',') {
            fault(
                "a comma is no decimal point",
                Some("write the decimals after a point: `1.5`, not `1,5`".to_owned()),
            )
        } else if text.is_empty() {
            fault(
                "it does not start with a number",
                Some("write a number and a unit, such as `12 cm`".to_owned()),
            )
        } else {
            fault(format!("`{text}` is not a number"), None)
        }
    })
}

fn read_unit(text: &str) -> Result<Unit, QuantityFault> {
    if text.is_empty() {
        return Err(fault(
            "it has no unit",
            Some("write a number and a unit, such as `12 cm`".to_owned()),
        ));
    }
    if let Some(unit) = Unit::of(text) {
        return Ok(unit);
    }
    // The common spellings of the same units, offered, never read: one spelling keeps the
    // files alike.
    let plain = text
        .replace(['µ', 'μ'], "u")
        .replace('²', "2")
        .replace('°', "");
    let near = UNITS
        .iter()
        .find(|unit| unit.name.eq_ignore_ascii_case(&plain))
        .map(|unit| unit.name)
        .or_else(|| {
            // `mol/m2/d` is three letters from `umol/m2/s`, and another quantity.
            let is_plain = !plain.contains('/');
            let close = |name: &&str| {
                is_plain && strsim::osa_distance(name, &plain) <= name.len().max(3) / 3
            };
            UNITS
                .iter()
                .map(|unit| unit.name)
                .filter(close)
                .min_by_key(|name| strsim::osa_distance(name, &plain))
        });
    Err(QuantityFault {
        why: format!("`{text}` is not a unit of the format"),
        hint: Some(match near {
            Some(near) => format!("did you mean `{near}`?"),
            None => "the units are listed in content/README.md".to_owned(),
        }),
        is_unknown_unit: true,
        near: near.and_then(Unit::of).map(|unit| unit.dimension),
    })
}

/// Reads `12 cm`.
pub fn quantity(text: &str) -> Result<Quantity, QuantityFault> {
    let (digits, rest) = split(text.trim());
    let value = read_number(digits)?;
    let unit = read_unit(rest)?;
    Ok(Quantity { value, unit })
}

/// Reads `12 cm`, `18..26 C`, `..40 umol/m2/s` or `50.. umol/m2/s`.
///
/// Ends in the wrong order are not an error here: the caller knows the place.
pub fn span(text: &str) -> Result<Span, QuantityFault> {
    let text = text.trim();
    let Some((left, right)) = text.split_once("..") else {
        let one = quantity(text)?;
        return Ok(Span {
            low: Some(one.value),
            high: Some(one.value),
            unit: one.unit,
            is_single: true,
        });
    };
    let left = left.trim();
    let (digits, rest) = split(right.trim());
    let unit = read_unit(rest)?;
    let end = |digits: &str| -> Result<Option<f64>, QuantityFault> {
        if digits.is_empty() {
            Ok(None)
        } else {
            read_number(digits).map(Some)
        }
    };
    let (low, high) = (end(left)?, end(digits)?);
    if low.is_none() && high.is_none() {
        return Err(fault("a span needs at least one end", None));
    }
    Ok(Span {
        low,
        high,
        unit,
        is_single: false,
    })
}

/// A number rounded to `digits` significant figures, without an exponent and without trailing
/// zeros after the point.
pub fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor() as i32;
    let decimals = (digits as i32 - 1 - magnitude).clamp(0, 9) as usize;
    let scale = 10f64.powi(digits as i32 - 1 - magnitude);
    let rounded = (value * scale).round() / scale;
    trimmed(&format!("{rounded:.decimals$}"))
}

/// A number with a fixed number of decimals at most; trailing zeros dropped.
pub fn decimals(value: f64, most: usize) -> String {
    trimmed(&format!("{value:.most$}"))
}

fn trimmed(text: &str) -> String {
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        text
    };
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A proportion as whole percent.
pub fn percent(share: f64) -> String {
    format!("{} %", decimals(share * 100.0, 0))
}

/// A doubling time in the words a keeper uses: days up to a month, then weeks, months, years.
pub fn days_in_words(days: f64) -> String {
    let (value, one, many) = if days < 1.5 {
        (days * 24.0, "hour", "hours")
    } else if days < 30.0 {
        (days, "day", "days")
    } else if days < 100.0 {
        (days / 7.0, "week", "weeks")
    } else if days < 730.0 {
        (days / 30.4375, "month", "months")
    } else {
        (days / 365.25, "year", "years")
    };
    let shown = if value < 10.0 {
        significant(value, 2)
    } else {
        decimals(value, 0)
    };
    format!("{shown} {}", if shown == "1" { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_read_with_their_unit() {
        for (text, base) in [
            ("12 cm", 12.0),
            ("1 in", 2.54),
            ("3ft", 91.44),
            ("1e2 mm", 10.0),
            ("12 weeks", 84.0),
            ("68 F", 20.0),
            ("-2 C", -2.0),
        ] {
            let got = quantity(text).expect(text).base();
            assert!((got - base).abs() < 1e-9, "{text}: {got}");
        }
    }

    #[test]
    fn spans_may_have_an_open_end() {
        let open = span("..40 umol/m2/s").expect("open below");
        assert_eq!((open.low, open.high), (None, Some(40.0)));
        let open = span("50.. umol/m2/s").expect("open above");
        assert_eq!((open.low, open.high), (Some(50.0), None));
        assert!(span("18 .. 26 C").expect("blanks").low == Some(18.0));
    }

    #[test]
    fn faults_say_what_to_do() {
        for (text, part) in [
            ("1,5 cm", "point"),
            ("12", "unit"),
            ("12 cms", "`cm`"),
            ("nan cm", "number"),
            ("80 µmol/m²/s", "`umol/m2/s`"),
        ] {
            let fault = quantity(text).expect_err(text);
            let all = format!("{} {}", fault.why, fault.hint.unwrap_or_default());
            assert!(all.contains(part), "{text}: {all}");
        }
    }

    #[test]
    fn units_there_and_back_change_nothing() {
        for unit in UNITS {
            for value in [-3.5, 0.0, 0.125, 17.0, 1e6] {
                let back = unit.from_base(unit.to_base(value));
                assert!(
                    (back - value).abs() <= 1e-9 * value.abs().max(1.0),
                    "{}",
                    unit.name
                );
            }
        }
    }

    #[test]
    fn numbers_are_short_in_print() {
        assert_eq!(significant(0.012_345, 3), "0.0123");
        assert_eq!(significant(1234.5, 2), "1200");
        assert_eq!(significant(99.96, 3), "100");
        assert_eq!(decimals(-0.0001, 2), "0");
        assert_eq!(days_in_words(559.0), "18 months");
        assert_eq!(days_in_words(7.0), "7 days");
    }
}
