"""Weighs a guide a second time, by another route, to check the program against.

Reads the `content/` folder of a guide and works out every number of the site's JSON
from the written contract alone (`reconcile`, `content`, `site`): nothing here was taken
from the program's source, and the distributions come from SciPy. The paragraph marks in
the comments are the sections of that contract. The guide must be one that the program
accepts: this file looks for faults of meaning only where it would otherwise go astray.

    python weigh.py GUIDE --json OUT         write the JSON files below OUT
    python weigh.py GUIDE --compare PUBLIC   compare with a pressed site; exit 1 on any difference
    python weigh.py GUIDE --values           single values as YAML, for tests/reference/worked.yaml

Needs numpy, scipy and PyYAML.
"""

import argparse
import datetime
import itertools
import json
import math
import re
import sys
import unicodedata
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy
import yaml
from scipy import special, stats

REACHED = 1e-9  # a threshold counts as reached within this much
POINT = 1e-12  # a standard error below this is none
ENUMERATED = 20_000  # up to so many arrangements are enumerated
DRAWN = 9_999  # beyond that, so many are drawn

DEFAULT_WEIGHTS = {
    "kinds": {"study": 1.0, "log": 0.8, "note": 0.5, "label": 0.3, "article": 0.25, "hearsay": 0.1},
    "second-hand": ["label", "article", "hearsay"],
    "second-hand-cap": 1.0,
    "further-note": 0.5,
    "loose-name": 0.3,
    "unstated": 0.7,
    "per-step": 0.4,
    "mismatch": 0.3,
    "measurement-error": 0.25,
    "evidence": {"robust": {"weight": 2.5, "voices": 3}, "medium": {"weight": 1.2, "voices": 2}},
    "agreement": {"high": 0.85, "medium": 0.65},
    "span-agreement": {"high": 0.7, "medium": 0.45},
    "decision": {"met": 0.8, "failed": 0.2},
}


class Fault(Exception):
    """Something in the guide that cannot be weighed."""


# ---------------------------------------------------------------- reading


def read_yaml(path):
    """One file, every scalar a string: what `no`, `012` or a date means is decided here, not by YAML 1.1."""
    text = path.read_text(encoding="utf-8")
    value = yaml.load(text, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))
    return {} if value in (None, "") else value


def as_list(value):
    if value in (None, ""):
        return []
    return value if isinstance(value, list) else [value]


def slug(name):
    """Page address of a name (content, Names and slugs)."""
    text = unicodedata.normalize("NFKD", name)
    text = "".join(char for char in text if not unicodedata.combining(char))
    text = text.replace("×", " x ").lower()
    return re.sub(r"[^a-z0-9]+", "-", text).strip("-")


def folded(name):
    """A name as it is compared: case, kinds of quotation marks and blanks do not matter."""
    text = unicodedata.normalize("NFC", str(name))
    text = re.sub("[‘’‛´`\"“”]", "'", text).replace("×", " × ")
    return " ".join(text.split()).casefold()


def genus_word(name):
    """First word of a name, a hybrid sign before it left out."""
    return next((word for word in name.replace("×", " ").split()), "")


# ---------------------------------------------------------------- units (content, Units)

COUNTED = "leaves leaf shoots shoot stems stem fronds frond plants plant rosettes rosette nodes node".split()
SINGULAR = {"leaves": "leaf"}

# unit: (dimension, size in the unit the dimension is kept in, where its zero lies)
UNITS = {
    "mm": ("length", 0.1, 0.0), "cm": ("length", 1.0, 0.0), "m": ("length", 100.0, 0.0),
    "in": ("length", 2.54, 0.0), "ft": ("length", 30.48, 0.0),
    "mg": ("mass", 0.001, 0.0), "g": ("mass", 1.0, 0.0), "kg": ("mass", 1000.0, 0.0),
    "oz": ("mass", 28.349523125, 0.0),
    "cm2": ("area", 1.0, 0.0), "m2": ("area", 1e4, 0.0),
    "cover %": ("share", 1.0, 0.0), "%": ("share", 1.0, 0.0),
    "h": ("time", 1 / 24, 0.0), "hour": ("time", 1 / 24, 0.0), "hours": ("time", 1 / 24, 0.0),
    "d": ("time", 1.0, 0.0), "day": ("time", 1.0, 0.0), "days": ("time", 1.0, 0.0),
    "week": ("time", 7.0, 0.0), "weeks": ("time", 7.0, 0.0),
    "month": ("time", 30.4375, 0.0), "months": ("time", 30.4375, 0.0),
    "year": ("time", 365.25, 0.0), "years": ("time", 365.25, 0.0),
    "C": ("temperature", 1.0, 0.0), "F": ("temperature", 5 / 9, 32.0),
    "umol/m2/s": ("light", 1.0, 0.0),
    "dGH": ("hardness", 1.0, 0.0), "dKH": ("hardness", 1.0, 0.0), "mg/l": ("hardness", 1 / 17.848, 0.0),
    "uS/cm": ("conductivity", 1.0, 0.0),
    **{thing: ("count " + SINGULAR.get(thing, thing.removesuffix("s")), 1.0, 0.0) for thing in COUNTED},
}

NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"


def kept(value, unit):
    """A value in the unit its dimension is kept in: cm, g, days, °C, degrees of hardness."""
    _, factor, zero = UNITS[unit]
    return (value - zero) * factor


def quantity(text):
    """`35 umol/m2/s` -> (value in the kept unit, unit)."""
    match = re.fullmatch(rf"\s*({NUMBER})\s*(.*?)\s*", text)
    if not match or match[2] not in UNITS:
        raise Fault(f"`{text}` is not a number and a unit")
    return kept(float(match[1]), match[2]), match[2]


def ends(text):
    """A span `a..b unit` -> (lower, upper, unit), None for an open end; a single value has two equal ends."""
    if ".." not in text:
        value, unit = quantity(text)
        return value, value, unit
    left, right = text.split("..", 1)
    match = re.fullmatch(rf"\s*({NUMBER})?\s*(.*?)\s*", right)
    unit = match[2]
    if unit not in UNITS:
        raise Fault(f"`{text}` has no known unit")
    upper = None if match[1] is None else kept(float(match[1]), unit)
    if left.strip() == "":
        lower = None
    elif re.fullmatch(NUMBER, left.strip()):
        lower = kept(float(left), unit)
    else:
        lower = quantity(left)[0]
    if lower is not None and upper is not None and lower > upper:
        raise Fault(f"`{text}` is reversed")
    return lower, upper, unit


def days(text):
    value, unit = quantity(text)
    if UNITS[unit][0] != "time" or value <= 0:
        raise Fault(f"`{text}` is not a length of time")
    return value


def size(text):
    """A size of a plant -> (value, size measure, what may not be mixed in one claim)."""
    value, unit = quantity(text)
    dimension = UNITS[unit][0]
    measure = "area" if dimension == "share" else dimension.split()[0]
    if measure not in ("length", "mass", "area", "count") or value <= 0:
        raise Fault(f"`{text}` is not a size")
    return value, measure, dimension


# ---------------------------------------------------------------- the guide


@dataclass(frozen=True)
class Condition:
    id: str
    kind: str  # scale, words or span
    levels: tuple = ()

    def read(self, text):
        """A stated value as it is compared: a position, a word or a pair of ends."""
        if self.kind == "scale":
            return self.levels.index(text.strip().casefold())
        if self.kind == "words":
            return text.strip().casefold()
        lower, upper, _ = ends(text)
        return (round(lower, 10), round(upper, 10))


@dataclass(frozen=True, eq=False)
class Trait:
    id: str
    is_span: bool
    levels: tuple
    measure: str | None
    edges: tuple  # rates in 1/d for growth, else in the unit of the first edge
    factor: float  # size of that unit in the kept unit
    floor: float
    is_lowest: bool
    depends_on: tuple

    @property
    def is_growth(self):
        return self.measure == "relative-growth-rate"

    def level_of(self, value):
        """§1: the level that holds a value; on an edge it is the higher one."""
        return sum(value >= edge - REACHED for edge in self.edges)


@dataclass(frozen=True)
class Measured:
    """What a measured claim says, in the trait's unit."""

    value: float | None = None  # a single value
    own_error: float | None = None  # its stated `se`, or that of its series
    freedom: int | None = None  # Student t with so many degrees of freedom, else normal
    lower: float | None = None  # ends of a range; None where open
    upper: float | None = None
    is_range: bool = False
    bound: str | None = None
    key: str = "value"  # §5: what it may be pooled with


@dataclass(frozen=True, eq=False)
class Claim:
    source: str
    trait: Trait
    kind: str
    loose: bool
    weighed: bool
    where: dict
    repeats: str | None
    mass: numpy.ndarray | None = None
    interval: tuple | None = None
    measured: Measured | None = None


@dataclass(eq=False)
class Plant:
    slug: str
    name: str
    genus: str
    folder: str
    forms: list
    synonyms: list
    names: list
    raw: dict
    claims: dict = field(default_factory=dict)  # trait id -> claims


@dataclass(frozen=True, eq=False)
class Voice:
    id: str
    weight: float
    claims: tuple  # (claim, weight)
    mass: numpy.ndarray | None
    lower: float | None
    upper: float | None

    @property
    def position(self):
        return float(numpy.arange(len(self.mass)) @ self.mass)


class Guide:
    """The content of a guide, read and resolved."""

    def __init__(self, folder):
        self.name = Path(folder).resolve().name
        self.root = Path(folder) / "content"
        if not (self.root / "guide.yaml").is_file():
            raise Fault(f"{self.root} holds no guide.yaml")
        self.meta = self._file("guide.yaml")
        self.weights = self._weights()
        self.scales = self._scales()
        self.conditions = {key: self._condition(key, raw) for key, raw in self._file("conditions.yaml").items()}
        self.traits = {key: self._trait(key, raw) for key, raw in self._file("traits.yaml").items()}
        self.waters = {
            key: {name: self.conditions[name].read(text) for name, text in raw["conditions"].items()}
            for key, raw in self._folder("waters").items()
        }
        roles = self._file("roles.yaml")
        self.every_role = as_list(roles.pop("every-role", {}).get("unsuited"))
        self.roles = roles
        self.regulated = as_list(self._file("regulated.yaml"))
        self.sources = self._folder("sources")
        self._read_plants()
        self._read_claims()

    def _file(self, name):
        path = self.root / name
        return read_yaml(path) if path.is_file() else {}

    def _folder(self, name):
        return {path.stem: read_yaml(path) for path in sorted((self.root / name).glob("*.yaml"))}

    def _weights(self):
        """A key that is not given keeps its default; `kinds` are taken whole."""

        def numbers(value):
            if isinstance(value, dict):
                return {key: numbers(inner) for key, inner in value.items()}
            return value if isinstance(value, list) else float(value)

        def merged(default, given):
            return {
                key: merged(value, given[key]) if isinstance(value, dict) and key in given and key != "kinds"
                else given.get(key, value)
                for key, value in default.items()
            }

        return merged(DEFAULT_WEIGHTS, numbers(self._file("weights.yaml")))

    def _scales(self):
        return {
            key: tuple(level.casefold() for level in (raw["levels"] if isinstance(raw, dict) else raw))
            for key, raw in self._file("scales.yaml").items()
        }

    def _condition(self, key, raw):
        if "scale" in raw:
            return Condition(key, "scale", self.scales[raw["scale"]])
        return Condition(key, "words") if "words" in raw else Condition(key, "span")

    def _trait(self, key, raw):
        is_span = raw.get("kind") == "span"
        measure = raw.get("measure")
        factor = 1.0
        edges = as_list(raw.get("edges"))
        if measure == "relative-growth-rate":
            edges = tuple(math.log(2) / days(edge) for edge in edges)
        elif edges:
            unit = UNITS[quantity(edges[0])[1]]
            factor = 1.0 if unit[0] == "temperature" else unit[1]
            edges = tuple(quantity(edge)[0] / factor for edge in edges)
        floor = raw.get("floor", "0")
        if not re.fullmatch(NUMBER, floor):  # a quantity: a difference, so without its zero
            number, unit = re.match(NUMBER, floor)[0], re.sub(NUMBER, "", floor, count=1).strip()
            floor = float(number) * UNITS[unit][1] / factor
        return Trait(
            id=key, is_span=is_span, levels=() if is_span else self.scales[raw["scale"]], measure=measure,
            edges=tuple(edges), factor=factor, floor=float(floor), is_lowest=raw.get("spans") == "lowest",
            depends_on=tuple(as_list(raw.get("depends-on"))),
        )

    # ------------------------------------------------------------ names (§6)

    def _read_plants(self):
        self.plants, self.genera, self.by_name, self.loose_names = {}, {}, {}, {}
        for path in sorted((self.root / "plants").glob("*/*.yaml")):
            if path.name == "genus.yaml":
                continue
            raw = read_yaml(path)
            names = [raw["name"]] + [n for key in ("synonyms", "trade-names", "known-as") for n in as_list(raw.get(key))]
            plant = Plant(
                slug=slug(raw["name"]), name=raw["name"], genus=genus_word(raw["name"]), folder=path.parent.name,
                forms=as_list(raw["form"]), synonyms=as_list(raw.get("synonyms")), names=names, raw=raw,
            )
            if plant.slug in self.plants:
                raise Fault(f"two entries are called {plant.slug}")
            self.plants[plant.slug] = plant
            self.genera.setdefault(plant.folder, []).append(plant)
            for name in names:
                found = self.by_name.setdefault(folded(name), [])
                if plant not in found:
                    found.append(plant)
        self.plants = dict(sorted(self.plants.items()))
        # A loose name leads to the plants it may mean; the genus alone is always one.
        self.genus_files = {}
        for folder, plants in self.genera.items():
            plants.sort(key=lambda plant: plant.slug)
            self.loose_names[folded(plants[0].genus)] = plants
            path = self.root / "plants" / folder / "genus.yaml"
            if path.is_file():
                raw = self.genus_files[folder] = read_yaml(path)
                for name in [raw["loose-name"], *as_list(raw.get("also"))]:
                    self.loose_names[folded(name)] = plants
        for raw in self.genus_files.values():
            for loose in as_list(raw.get("loose")):
                self.loose_names[folded(loose["name"])] = [self._one_plant(name) for name in as_list(loose["covers"])]

    def _one_plant(self, name):
        found = self.by_name.get(folded(name), [])
        if len(found) != 1:
            raise Fault(f"`{name}` fits {len(found)} entries")
        return found[0]

    def _open_word(self, name):
        """The word that leaves a name open: `sp`, `cf`, `aff`; None where there is none outside a cultivar name."""
        words = [word.rstrip(".") for word in re.sub("'.*?'", " ", folded(name)).split()]
        return next((word for word in words if word in ("aff", "sp", "spp", "cf")), None)

    def _made_under(self, name):
        """How a name fits: `exact`, `loose` or `aff`."""
        if name is None:
            return "exact"
        if folded(name) in self.loose_names:
            return "loose"
        found = self.by_name.get(folded(name), [])
        if found:
            return "exact" if len(found) == 1 else "loose"
        word = self._open_word(name)
        return "exact" if word is None else "aff" if word == "aff" else "loose"

    def _covered(self, name):
        """The plants a loose name stands for, where it makes a claim on a genus."""
        if folded(name) in self.loose_names:
            return self.loose_names[folded(name)]
        if self._made_under(name) == "loose" and folded(name) not in self.by_name:
            return self.loose_names.get(folded(genus_word(name)))
        return None

    # ------------------------------------------------------------ claims

    def _read_claims(self):
        self.claim_count = dict.fromkeys(self.sources, 0)
        for plant in self.plants.values():
            for raw in as_list(plant.raw.get("claims")):
                self._attach(raw, raw["source"], [plant], self._made_under(raw.get("as")))
        for folder, genus in self.genus_files.items():
            for raw in as_list(genus.get("claims")):
                name = raw.get("as")
                covered = self._covered(name) if name is not None else None
                fit = self._made_under(name) if name is not None else "loose"
                self._attach(raw, raw["source"], [] if fit == "aff" else covered or self.genera[folder], "loose")
        for source, data in self.sources.items():
            for raw in as_list(data.get("claims")):
                covered = self._covered(raw["plant"])
                if covered is not None:
                    self._attach(raw, source, covered, "loose")
                else:
                    self._attach(raw, source, [self._one_plant(raw["plant"])], self._made_under(raw.get("as")))

    def _attach(self, raw, source, plants, fit):
        self.claim_count[source] += 1
        trait = self.traits[raw["trait"]]
        mass = interval = measured = None
        if trait.is_span:
            lower, upper, _ = ends(raw["measures"])
            if lower is None or upper is None:
                raise Fault(f"{source}: a span needs both ends")
            interval = (lower, upper)
        elif "says" in raw:
            mass = word_mass(trait, *self._levels_said(source, trait, raw["says"]))
        else:
            measured = growth(raw, trait) if trait.is_growth else plain(raw, trait)
            mass = measured_mass(trait, measured, self.weights["measurement-error"])
        claim = Claim(
            source=source, trait=trait, kind=raw.get("kind", self.sources[source]["kind"]), loose=fit == "loose",
            # §1: shown, but not weighed
            weighed="set-aside" not in raw and raw.get("stage") != "settling" and fit != "aff",
            where={name: self.conditions[name].read(text) for name, text in raw.get("where", {}).items()},
            repeats=raw.get("repeats"), mass=mass, interval=interval, measured=measured,
        )
        for plant in plants:
            plant.claims.setdefault(trait.id, []).append(claim)

    def _levels_said(self, source, trait, text):
        """§1, Words: the lowest and the highest level meant, by this source's own words first."""
        own = {
            word.strip().casefold(): meaning
            for word, meaning in self.sources[source].get("vocabulary", {}).get(trait.id, {}).items()
        }

        def plain_span(text):
            low, _, high = text.partition("..")
            low = trait.levels.index(low.strip().casefold())
            return low, trait.levels.index(high.strip().casefold()) if high else low

        def look_up(word):
            word = word.strip().casefold()
            if word in own:
                return plain_span(own[word])
            return (trait.levels.index(word),) * 2 if word in trait.levels else None

        found = look_up(text)
        if found is None and ".." in text:
            low, high = (look_up(part) for part in text.split("..", 1))
            found = (low[0], high[1]) if low and high else None
        if found is None or found[0] > found[1]:
            raise Fault(f"{source}: `{text}` is no word for {trait.id}")
        return found

    # ------------------------------------------------------------ who copies from whom (§3)

    def repeats(self, source):
        return as_list(self.sources[source].get("repeats"))

    def voice(self, source):
        return self.sources[source].get("voice", source)

    @cache
    def originals(self, source):
        if not self.repeats(source):
            return [source]
        walk = []

        def visit(one):
            if one not in walk:
                walk.append(one)
                for other in self.repeats(one):
                    visit(other)

        visit(source)
        ends_of_walk = [one for one in walk if not self.repeats(one)]
        return ends_of_walk or [min(one for one in walk if self._on_ring(one))]

    def _on_ring(self, source):
        met, todo = set(), self.repeats(source)[:]
        while todo:
            one = todo.pop()
            if one not in met:
                met.add(one)
                todo += self.repeats(one)
        return source in met

    def voices_of(self, claims):
        """§3: the voice each claim on one trait of one plant belongs to."""
        speaking = {claim.source for claim in claims if claim.weighed and claim.repeats is None}
        result = []
        for claim in claims:
            candidates = self.originals(claim.source if claim.repeats is None else claim.repeats)
            result.append(self.voice(next((one for one in candidates if one in speaking), candidates[0])))
        return result


# ---------------------------------------------------------------- §1 from a claim to a mass


def even_mass(trait, low, high):
    mass = numpy.zeros(len(trait.levels))
    mass[low : high + 1] = 1 / (high + 1 - low)
    return mass


def word_mass(trait, low, high):
    """A level, or a span spread evenly; a need stands at its lower end."""
    return even_mass(trait, low, low if trait.is_lowest else high)


def growth(raw, trait):
    """A claim on growth as a relative growth rate per day."""
    own_error = freedom = None
    key = raw.get("of", "unstated")
    if "rgr" in raw:
        value = float(raw["rgr"])
        own_error = float(raw["se"]) if "se" in raw else None
    elif "doubles-in" in raw:
        value = math.log(2) / days(raw["doubles-in"])
    elif "trimmed" in raw:
        value = -math.log(float(raw["trimmed"].get("leaving", "0.5"))) / days(raw["trimmed"]["every"])
    elif "grew" in raw:
        start, key, _ = size(raw["grew"]["from"])
        end, _, _ = size(raw["grew"]["to"])
        value = (math.log(end) - math.log(start)) / days(raw["grew"]["over"])
    else:
        day = numpy.array([day_number(point[0]) for point in raw["series"]])
        log_size = numpy.log([size(point[1])[0] for point in raw["series"]])
        key = size(raw["series"][0][1])[1]
        value, error = slope(day, log_size)
        if len(day) >= 3:
            own_error, freedom = max(error, trait.floor), len(day) - 2
    return Measured(value=value, own_error=own_error, freedom=freedom, bound=raw.get("bound"), key=key)


def day_number(text):
    return float(text) if re.fullmatch(NUMBER, text) else float(datetime.date.fromisoformat(text).toordinal())


def slope(x, y):
    """Least-squares slope and its standard error (0 for two points), from the residuals."""
    x, y = x - x.mean(), y - y.mean()
    b = float(x @ y / (x @ x))
    residual = y - b * x
    if len(x) < 3:
        return b, 0.0
    return b, math.sqrt(float(residual @ residual) / (len(x) - 2) / float(x @ x))


def plain(raw, trait):
    """A claim on a plain quantity, in the unit of the trait's first edge."""
    text = raw["measures"]
    lower, upper, unit = ends(text)
    lower, upper = (None if end is None else end / trait.factor for end in (lower, upper))
    if ".." in text:
        return Measured(lower=lower, upper=upper, is_range=True)
    error = float(raw["se"]) * UNITS[unit][1] / trait.factor if "se" in raw else None
    return Measured(value=lower, own_error=error, bound=raw.get("bound"))


def default_error(trait, size_of_value, measurement_error):
    return max(measurement_error * size_of_value, trait.floor)


def measured_mass(trait, measured, measurement_error):
    top = len(trait.levels) - 1
    lower, upper = measured.lower, measured.upper
    is_open_range = measured.is_range and (lower is None or upper is None)
    if is_open_range or measured.bound:
        if measured.bound == "at-least":
            lower = measured.value
        elif measured.bound == "at-most":
            upper = measured.value
        low = 0 if lower is None else trait.level_of(lower)
        high = top if upper is None else trait.level_of(upper)
        return even_mass(trait, low, low if trait.is_lowest else high)
    if measured.is_range:
        if trait.is_lowest or lower == upper:
            level = trait.level_of(lower)
            return even_mass(trait, level, level)
        below = stats.uniform.cdf(trait.edges, loc=lower, scale=upper - lower)
    else:
        error = measured.own_error
        if error is None:
            error = default_error(trait, abs(measured.value), measurement_error)
        if error < POINT:
            level = trait.level_of(measured.value)
            return even_mass(trait, level, level)
        if measured.freedom is None:
            below = stats.norm.cdf(trait.edges, loc=measured.value, scale=error)
        else:
            below = stats.t.cdf(trait.edges, measured.freedom, loc=measured.value, scale=error)
    return numpy.diff(numpy.concatenate([[0.0], below, [1.0]]))


# ---------------------------------------------------------------- §2 weight of a claim


def claim_weight(guide, claim, water=None, equal_kinds=False):
    weights = guide.weights
    if not claim.weighed:
        return 0.0
    weight = weights["further-note"] if equal_kinds else weights["kinds"][claim.kind]
    if claim.loose:
        weight *= weights["loose-name"]
    if water is not None:
        for name in claim.trait.depends_on:
            if name in guide.waters[water]:
                weight *= condition_factor(guide, guide.conditions[name], claim.where.get(name), guide.waters[water][name])
    return weight


def condition_factor(guide, condition, of_claim, of_water):
    if of_claim is None:
        return guide.weights["unstated"]
    if condition.kind == "scale":
        return guide.weights["per-step"] ** abs(of_claim - of_water)
    if condition.kind == "span":
        does_fit = of_claim[0] <= of_water[1] + REACHED and of_water[0] <= of_claim[1] + REACHED
    else:
        does_fit = of_claim == of_water
    return 1.0 if does_fit else guide.weights["mismatch"]


# ---------------------------------------------------------------- §3 voices


def form_voices(guide, claims, names, water=None, without=None, equal_kinds=False):
    """The voices on one trait of one plant, by id; `names` is the voice of each claim.

    The second-hand factor is worked without water, over the voices that are left when `without` is taken away.
    """
    groups = {}
    for claim, name in zip(claims, names):
        if claim.weighed and name != without:
            groups.setdefault(name, []).append(claim)
    dry = {
        name: [(claim, w) for claim in group if (w := claim_weight(guide, claim, None, equal_kinds)) > 0]
        for name, group in sorted(groups.items())
    }
    dry = {name: pairs for name, pairs in dry.items() if pairs}
    second_hand = {
        name for name, pairs in dry.items() if all(claim.kind in guide.weights["second-hand"] for claim, _ in pairs)
    }
    total = sum(max(w for _, w in dry[name]) for name in dry if name in second_hand)
    factor = min(1.0, guide.weights["second-hand-cap"] / total) if total > 0 else 1.0
    voices = []
    for name, pairs in dry.items():
        if water is not None:
            pairs = [(claim, w) for claim, _ in pairs if (w := claim_weight(guide, claim, water, equal_kinds)) > 0]
        weight = max((w for _, w in pairs), default=0.0) * (factor if name in second_hand else 1.0)
        if weight <= 0:
            continue
        share = numpy.array([w for _, w in pairs])
        share = share / share.sum()
        if claims[0].trait.is_span:
            mass, (lower, upper) = None, share @ numpy.array([claim.interval for claim, _ in pairs])
        else:
            mass, lower, upper = share @ numpy.array([claim.mass for claim, _ in pairs]), None, None
        voices.append(Voice(name, weight, tuple(pairs), mass, lower, upper))
    return voices


# ---------------------------------------------------------------- §4 the grade of a trait


def weighted_median(values, weights):
    """The first value, in rising order, at which the cumulative weight reaches half."""
    half, running = sum(weights) / 2, 0.0
    for value, weight in sorted(zip(values, weights)):
        running += weight
        if running >= half - REACHED:
            return value
    raise AssertionError("no weight at all")


def dispersion(positions, weights, steps):
    """§4 and §7: D = 1 − consensus = −Σ (w/W) log2(1 − |x − μ| / (K − 1))."""
    positions, weights = numpy.asarray(positions, float), numpy.asarray(weights, float)
    share = weights / weights.sum()
    mean = share @ positions
    return float(-(share @ numpy.log2(1 - numpy.abs(positions - mean) / steps)))


def effective_voices(weights):
    return sum(weights) ** 2 / sum(w * w for w in weights)


def evidence(guide, weight, effective):
    for name in ("robust", "medium"):
        row = guide.weights["evidence"][name]
        if weight >= row["weight"] - REACHED and effective >= row["voices"] - REACHED:
            return name
    return "limited"


def agreement(thresholds, figure, effective, is_contested):
    if effective < 1.5 - REACHED:
        return "untested"
    if is_contested:
        return "low"
    return next((name for name in ("high", "medium") if figure >= thresholds[name] - REACHED), "low")


def confidence(weight, evidence_grade, agreement_grade):
    terms = ["very low", "low", "medium", "high", "very high"]
    if weight < 0.5 - REACHED:
        return "very low"
    if agreement_grade == "untested":
        return "low"
    index = ["limited", "medium", "robust"].index(evidence_grade) + ["low", "medium", "high"].index(agreement_grade)
    return terms[index if weight >= 1 - REACHED else min(index, 1)]


def grade(guide, trait, voices):
    """§4 for a trait on a scale."""
    if not voices:
        return {
            "level": None, "span": None, "profile": None, "weight": 0.0, "voices": 0, "effective_voices": None,
            "consensus": None, "evidence": "limited", "agreement": "untested", "confidence": "very low",
            "contested": False,
        }
    weights = [voice.weight for voice in voices]
    positions = [voice.position for voice in voices]
    total = sum(weights)
    steps = len(trait.levels) - 1
    profile = sum(voice.weight * voice.mass for voice in voices) / total
    running = numpy.cumsum(profile)
    effective = effective_voices(weights)
    consensus, is_contested = None, False
    if len(voices) >= 2:
        consensus = 1 - dispersion(positions, weights, steps)
        middle = weighted_median(positions, weights)
        far = sum(w for x, w in zip(positions, weights) if abs(x - middle) >= min(1.5, steps) - REACHED)
        is_contested = far / total >= 0.2 - REACHED
    grade_of_evidence = evidence(guide, total, effective)
    grade_of_agreement = agreement(guide.weights["agreement"], consensus, effective, is_contested)
    return {
        "level": trait.levels[int(numpy.argmax(running >= 0.5 - REACHED))],
        "span": [
            trait.levels[int(numpy.argmax(running > 0.1 + REACHED))],
            trait.levels[int(numpy.argmax(running >= 0.9 - REACHED))],
        ],
        "profile": [float(p) for p in profile],
        "weight": total,
        "voices": len(voices),
        "effective_voices": effective,
        "consensus": consensus,
        "evidence": grade_of_evidence,
        "agreement": grade_of_agreement,
        "confidence": confidence(total, grade_of_evidence, grade_of_agreement),
        "contested": bool(is_contested),
    }


def span_grade(guide, voices):
    """§12."""
    if not voices:
        return {
            "low": None, "high": None, "overlap": None, "voices": 0, "evidence": "limited", "agreement": "untested",
            "confidence": "very low",
        }
    weights = [voice.weight for voice in voices]
    figure = None
    if len(voices) >= 2:
        pairs = [(a.weight * b.weight, overlap(a, b)) for a, b in itertools.combinations(voices, 2)]
        figure = sum(w * part for w, part in pairs) / sum(w for w, _ in pairs)
    effective = effective_voices(weights)
    grade_of_evidence = evidence(guide, sum(weights), effective)
    grade_of_agreement = agreement(guide.weights["span-agreement"], figure, effective, False)
    return {
        "low": float(weighted_median([voice.lower for voice in voices], weights)),
        "high": float(weighted_median([voice.upper for voice in voices], weights)),
        "overlap": figure,
        "voices": len(voices),
        "evidence": grade_of_evidence,
        "agreement": grade_of_agreement,
        "confidence": confidence(sum(weights), grade_of_evidence, grade_of_agreement),
    }


def overlap(a, b):
    """Overlap ÷ union of two intervals; 0 where they do not meet, 1 for two equal points."""
    union = max(a.upper, b.upper) - min(a.lower, b.lower)
    if union < POINT:
        return 1.0
    return float(max(0.0, min(a.upper, b.upper) - max(a.lower, b.lower)) / union)


# ---------------------------------------------------------------- §5 pooled measurements


def pooled(guide, trait, claims, names):
    result = {}
    qualifying = {}
    for claim, name in zip(claims, names):
        measured = claim.measured
        if measured and not claim.loose and not measured.is_range and not measured.bound and claim_weight(guide, claim) > 0:
            qualifying.setdefault(measured.key, []).append((name, measured))
    for key, found in sorted(qualifying.items()):
        middle = float(numpy.median([abs(measured.value) for _, measured in found]))
        shared = default_error(trait, middle, guide.weights["measurement-error"])
        by_voice = {}
        for name, measured in found:
            error = shared if measured.own_error is None else measured.own_error
            if error >= POINT:
                by_voice.setdefault(name, []).append((measured.value, error**2))
        if by_voice:
            estimates = []
            for _, pairs in sorted(by_voice.items()):
                y, v = numpy.array(pairs).T
                estimates.append((float(numpy.average(y, weights=1 / v)), float(v.min())))
            result[key] = pool(trait, *map(numpy.array, zip(*estimates)))
    return result


def pool(trait, y, v):
    """DerSimonian & Laird across voices, with the interval of Hartung & Knapp held at least as wide as without it."""
    k = len(y)
    if k == 1:
        mean, se = float(y[0]), math.sqrt(v[0])
        half = 1.959964 * se
        tau2 = q = i2 = prediction = None
    else:
        w = 1 / v
        fixed = float(w @ y / w.sum())
        q = float(w @ (y - fixed) ** 2)
        c = float(w.sum() - (w @ w) / w.sum())
        tau2 = max(0.0, (q - (k - 1)) / c)
        i2 = max(0.0, (q - (k - 1)) / q) if q > 0 else 0.0
        u = 1 / (v + tau2)
        mean, se = float(u @ y / u.sum()), float(u.sum() ** -0.5)
        wider = max(1.0, float(u @ (y - mean) ** 2) / (k - 1))
        half = float(stats.t.ppf(0.975, k - 1)) * se * math.sqrt(wider)
        prediction = None
        if k >= 3:
            reach = float(stats.t.ppf(0.975, k - 2)) * math.sqrt(tau2 + se**2)
            prediction = [mean - reach, mean + reach]
    return {
        "k": k, "estimate": mean, "se": se, "tau2": tau2, "q": q, "i2": i2, "ci": [mean - half, mean + half],
        "prediction": prediction, "doubling_days": math.log(2) / mean if trait.is_growth and mean > 0 else None,
    }


# ---------------------------------------------------------------- §7 what a difference goes with


def goes_with(trait, units):
    """Share and p for units of (position, weight, group); None where nothing can be worked."""
    steps = len(trait.levels) - 1
    groups = sorted({group for _, _, group in units})
    if len(units) < 5 or len(groups) < 2:
        return None
    x, w = (numpy.array([unit[i] for unit in units], float) for i in (0, 1))
    whole = dispersion(x, w, steps)
    if whole <= POINT:
        return None
    label = numpy.array([groups.index(group) for _, _, group in units])
    share = float(shares(label[None, :], x, w, steps, len(groups), whole)[0])
    if share < 0.4 - REACHED:
        return {"share": share, "p": None, "arrangements": None}
    counts = numpy.bincount(label)
    arrangements = math.factorial(len(label))
    for count in counts:
        arrangements //= math.factorial(int(count))
    if arrangements <= ENUMERATED:
        every = numpy.array(list(arranged(list(counts), len(label))))
        assert len(every) == arrangements
        p = float(numpy.mean(shares(every, x, w, steps, len(groups), whole) >= share - 1e-12))
    else:
        random = numpy.random.default_rng(1)
        drawn = numpy.array([random.permutation(label) for _ in range(DRAWN)])
        p = float((1 + numpy.sum(shares(drawn, x, w, steps, len(groups), whole) >= share - 1e-12)) / (DRAWN + 1))
    return {"share": share, "p": p, "arrangements": arrangements}


def shares(labels, x, w, steps, n_groups, whole):
    """share = 1 − Σ_g (W_g/W) D_g / D for each row of labels."""
    left = numpy.zeros(len(labels))
    for group in range(n_groups):
        inside = (labels == group) * w
        total = inside.sum(axis=1, keepdims=True)
        mean = inside @ x[:, None] / total
        left -= (inside * numpy.log2(numpy.maximum(1 - numpy.abs(x - mean) / steps, 1e-300))).sum(axis=1)
    return 1 - left / w.sum() / whole


def arranged(counts, length):
    """Every distinct arrangement of labels 0, 1, … with the given counts."""
    if length == 0:
        yield []
        return
    for label, count in enumerate(counts):
        if count:
            counts[label] -= 1
            for rest in arranged(counts, length - 1):
                yield [label, *rest]
            counts[label] += 1


def is_notable(found):
    return found["p"] is not None and found["share"] >= 0.4 - REACHED and found["p"] <= 0.1 + REACHED


def factors(guide, trait, voices):
    """§7 for one plant's trait: every condition, then `name`, then `kind`."""

    def same(values):
        values = set(values)
        return values.pop() if len(values) == 1 else None

    result = []
    for factor in [*sorted(guide.conditions), "name", "kind"]:
        units = []
        for voice in voices:
            claims = [claim for claim, _ in voice.claims]
            if factor == "name":
                value, weight = same("loose" if claim.loose else "exact" for claim in claims), 1.0
            elif factor == "kind":
                value, weight = same(claim.kind for claim in claims), 1.0
            else:
                value, weight = same(claim.where.get(factor) for claim in claims), voice.weight
            if value is not None:
                units.append((voice.position, weight, value))
        found = goes_with(trait, units)
        if found:
            result.append({"factor": factor, **found, "notable": is_notable(found)})
    return result


# ---------------------------------------------------------------- §8 what a requirement is worth


def clause_lists(guide, role):
    """(list, clause) in the order of the JSON: `every-role` first, then the role's own."""
    pairs = [("unsuited", clause) for clause in guide.every_role]
    for name in ("unsuited", "mainstay", "support"):
        pairs += [(name, clause) for clause in as_list(role.get(name))]
    return pairs


def is_skipped(guide, clause, plant, water):
    stated = guide.waters[water]
    if "form" in clause and not set(as_list(clause["form"])) & set(plant.forms):
        return True
    for name, wanted in clause.get("when", {}).items():
        if stated.get(name) not in [guide.conditions[name].read(text) for text in as_list(wanted)]:
            return True
    bound = clause_bound(clause)[1]
    return bound.startswith("water.") and bound.removeprefix("water.") not in stated


def clause_bound(clause):
    kind = next(key for key in ("at-least", "at-most", "above", "below", "covers", "outside") if key in clause)
    return kind, clause[kind]


def jeffreys(t, total):
    """Pr(θ > ½) for θ ~ Beta(½ + t, ½ + W − t)."""
    return float(special.betaincc(0.5 + max(t, 0.0), 0.5 + max(total - t, 0.0), 0.5))


def clause_probability(guide, clause, water, voices, extra=None):
    """P for a clause that is not skipped; `extra` is (weight, level) of further notes, all on one level."""
    trait = guide.traits[clause["trait"]]
    kind, bound = clause_bound(clause)
    total = sum(voice.weight for voice in voices)
    if trait.is_span:
        low, high = guide.waters[water][bound.removeprefix("water.")]
        t = 0.0
        for voice in voices:
            weights = [w for _, w in voice.claims]
            inside = [claim.interval[0] <= low + REACHED and claim.interval[1] >= high - REACHED for claim, _ in voice.claims]
            t += voice.weight * sum(w for w, is_in in zip(weights, inside) if is_in) / sum(weights)
        return jeffreys(t if kind == "covers" else total - t, total)
    if bound.startswith("water."):
        level = guide.waters[water][bound.removeprefix("water.")]
    else:
        level = trait.levels.index(bound.casefold())
    members = {
        "at-least": range(level, len(trait.levels)), "above": range(level + 1, len(trait.levels)),
        "at-most": range(level + 1), "below": range(level),
    }[kind]
    if len(members) in (0, len(trait.levels)):
        return 1.0 if members else 0.0
    t = sum(voice.weight * sum(voice.mass[k] for k in members) for voice in voices)
    if extra:
        total += extra[0]
        t += extra[0] if extra[1] in members else 0.0
    return jeffreys(float(t), total)


def decided(guide, p):
    if p >= guide.weights["decision"]["met"] - REACHED:
        return "met"
    return "failed" if p <= guide.weights["decision"]["failed"] + REACHED else "open"


# ---------------------------------------------------------------- §9 standing


def standing(results):
    """`results` are (list, result) pairs."""

    def of(name):
        return [result for list_name, result in results if list_name == name]

    def is_reached(found):
        return "met" in found and "open" not in found and "failed" not in found

    def is_closed(found):
        return not found or "failed" in found

    if "met" in of("unsuited"):
        return "unsuited"
    for name in ("mainstay", "support"):
        if is_reached(of(name)):
            return name
    return "bystander" if is_closed(of("mainstay")) and is_closed(of("support")) else "unproven"


class Weighing:
    """All grades and standings of a guide."""

    def __init__(self, guide):
        self.guide = guide
        self.names = {
            (plant.slug, trait): guide.voices_of(claims)
            for plant in guide.plants.values()
            for trait, claims in plant.claims.items()
        }
        self.standings = {
            (plant.slug, water, role): self.standing_of(plant, water, role)
            for plant in guide.plants.values()
            for water in guide.waters
            for role in guide.roles
        }

    @cache
    def voices(self, plant, trait, water=None, without=None, equal_kinds=False):
        claims = plant.claims.get(trait)
        if not claims:
            return []
        return form_voices(self.guide, claims, self.names[plant.slug, trait], water, without, equal_kinds)

    def judged(self, plant, water, role, without=None, equal_kinds=False, further=None):
        """(list, clause, result, P) for each clause; `further` is (trait, weight, level)."""
        rows = []
        for name, clause in clause_lists(self.guide, self.guide.roles[role]):
            if is_skipped(self.guide, clause, plant, water):
                rows.append((name, clause, "skipped", None))
                continue
            trait = clause["trait"]
            extra = further[1:] if further and further[0] == trait else None
            voices = self.voices(plant, trait, water, without, equal_kinds)
            p = clause_probability(self.guide, clause, water, voices, extra)
            rows.append((name, clause, decided(self.guide, p), p))
        return rows

    def standing_of(self, plant, water, role):
        guide = self.guide
        forms = guide.roles[role].get("forms")
        if forms is not None and not set(as_list(forms)) & set(plant.forms):
            return None
        rows = self.judged(plant, water, role)

        def word(rows):
            return standing([(name, result) for name, _, result, _ in rows])

        now = word(rows)
        asked = sorted({clause["trait"] for _, clause, _, _ in rows})
        candidates = {
            name
            for trait in asked
            for name, claim in zip(self.names.get((plant.slug, trait), []), plant.claims.get(trait, []))
            if claim.weighed
        }
        return {
            "standing": now,
            "in_doubt": any(n == "unsuited" and r == "open" and p > 0.5 + REACHED for n, _, r, p in rows),
            "clauses": [{"list": n, "trait": c["trait"], "result": r, "probability": p} for n, c, r, p in rows],
            "sturdy": {
                "rests_on": sorted(v for v in candidates if word(self.judged(plant, water, role, without=v)) != now),
                "equal_kinds": word(self.judged(plant, water, role, equal_kinds=True)) == now,
            },
            "changes": self.changes(plant, water, role, asked, now, word),
        }

    def changes(self, plant, water, role, asked, now, word):
        """§10: the fewest further notes on one level that would change the standing."""
        result = []
        note = self.guide.weights["further-note"]
        for trait in asked:
            for index, level in enumerate(self.guide.traits[trait].levels):
                for n in range(1, 6):
                    then = word(self.judged(plant, water, role, further=(trait, n * note, index)))
                    if then != now:
                        result.append({"trait": trait, "level": level, "notes": n, "to": then})
                        break
        return result

    # ------------------------------------------------------------ the JSON (site)

    def regulated(self, plant):
        return [
            {
                "place": row["place"], "instrument": row["instrument"], "listed_as": row["listed-as"],
                "date": row.get("date"), "here": row["place"] in as_list(self.guide.meta.get("places")),
            }
            for row in self.guide.regulated
            if is_listed(plant, row["covers"])
        ]

    def instead(self, plant, water, role):
        own = self.standings[plant.slug, water, role]
        if own and own["standing"] == "mainstay":
            return []
        rows = []
        for other in self.guide.plants.values():
            found = self.standings[other.slug, water, role]
            if not found or found["standing"] != "mainstay" or any(row["here"] for row in self.regulated(other)):
                continue
            lowest = min(c["probability"] for c in found["clauses"] if c["list"] == "mainstay" and c["result"] == "met")
            rows.append((not set(plant.forms) & set(other.forms), -round(lowest, 12), other.slug))
        return [row[2] for row in sorted(rows)[:5]]

    def trait_json(self, plant, trait_id):
        guide, trait = self.guide, self.guide.traits[trait_id]
        claims, names = plant.claims[trait_id], self.names[plant.slug, trait_id]
        voices = self.voices(plant, trait_id)
        if trait.is_span:
            return span_grade(guide, voices)
        result = grade(guide, trait, voices)
        result["measured"] = pooled(guide, trait, claims, names)
        result["goes_with"] = [] if result["agreement"] == "high" else factors(guide, trait, voices)
        result["claims"] = [
            {
                "source": claim.source, "voice": name, "loose": claim.loose, "weighed": claim.weighed,
                "weight": claim_weight(guide, claim) if claim.weighed else None,
                "mass": [float(m) for m in claim.mass] if claim.weighed else None,
            }
            for claim, name in zip(claims, names)
        ]
        return result

    def plant_json(self, plant):
        guide = self.guide
        on_scale = [trait for trait in sorted(plant.claims) if not guide.traits[trait].is_span]
        return {
            "slug": plant.slug, "name": plant.name, "genus": plant.genus, "forms": plant.forms,
            "regulated": self.regulated(plant),
            "traits": {trait: self.trait_json(plant, trait) for trait in sorted(plant.claims)},
            "in_water": {
                water: {t: grade(guide, guide.traits[t], self.voices(plant, t, water)) for t in on_scale}
                for water in guide.waters
            },
            "standings": {
                water: {role: self.standings[plant.slug, water, role] for role in guide.roles} for water in guide.waters
            },
            "instead": {
                water: {role: self.instead(plant, water, role) for role in guide.roles} for water in guide.waters
            },
            "edition": None,
        }

    def group_json(self, folder):
        """§6: what a loose name hides, as if the loose claims were not there."""
        guide, plants = self.guide, self.guide.genera[folder]
        traits = {}
        for trait in guide.traits.values():
            if trait.is_span:
                continue
            units, levels, heavy = [], {}, []
            for plant in plants:
                claims = [claim for claim in plant.claims.get(trait.id, []) if not claim.loose]
                if not claims:
                    continue
                voices = form_voices(guide, claims, guide.voices_of(claims))
                if not voices:
                    continue
                found = grade(guide, trait, voices)
                levels[plant.slug] = found["level"]
                if found["weight"] >= 1 - REACHED:
                    heavy.append(trait.levels.index(found["level"]))
                units += [(voice.position, voice.weight, plant.slug) for voice in voices]
            if not levels:
                continue
            found = goes_with(trait, units) or {"share": None, "p": None, "arrangements": None}
            reach = max(heavy) - min(heavy) if heavy else 0
            is_apart = reach >= min(2, len(trait.levels) - 1)
            traits[trait.id] = {**found, "misleading": is_apart or is_notable(found), "levels": levels}
        return {"genus": plants[0].genus, "traits": traits}

    def source_json(self, source):
        """§11: how a source runs against the others."""
        guide = self.guide
        runs = {}
        for trait in guide.traits.values():
            if trait.is_span:
                continue
            offsets = []
            for plant in guide.plants.values():
                claims = plant.claims.get(trait.id, [])
                names = self.names.get((plant.slug, trait.id), [])
                own = [
                    (claim_weight(guide, claim), claim, name)
                    for claim, name in zip(claims, names)
                    if claim.source == source and not claim.loose and claim.repeats is None and claim_weight(guide, claim) > 0
                ]
                if not own:
                    continue
                others = [voice for voice in self.voices(plant, trait.id) if voice.id != own[0][2]]
                if len(others) >= 2:
                    mass = sum(w * claim.mass for w, claim, _ in own) / sum(w for w, _, _ in own)
                    here = float(numpy.arange(len(mass)) @ mass)
                    total = sum(voice.weight for voice in others)
                    offsets.append(here - sum(voice.weight * voice.position for voice in others) / total)
            if offsets:
                n, mean, ci = len(offsets), float(numpy.mean(offsets)), None
                if n >= 2:
                    half = float(stats.t.ppf(0.975, n - 1) * numpy.std(offsets, ddof=1) / math.sqrt(n))
                    ci = [mean - half, mean + half]
                runs[trait.id] = {"n": n, "mean": mean, "ci": ci}
        return {
            "id": source, "kind": guide.sources[source]["kind"], "voice": guide.voice(source),
            "claims": guide.claim_count[source], "runs": runs,
        }

    def guide_json(self):
        guide = self.guide
        return {
            "title": guide.meta["title"],
            "plants": [{"slug": plant.slug, "name": plant.name} for plant in guide.plants.values()],
            "waters": list(guide.waters), "roles": list(guide.roles),
            "editions": sorted(path.stem for path in (guide.root / "editions").glob("*.json")),
        }

    def files(self):
        """Every JSON file of the site, by address."""
        files = {"data/guide.json": self.guide_json()}
        for plant in self.guide.plants.values():
            files[f"plants/{plant.slug}/plant.json"] = self.plant_json(plant)
        for folder in self.guide.genera:
            files[f"names/{folder}/group.json"] = self.group_json(folder)
        for source in self.guide.sources:
            files[f"sources/{source}/source.json"] = self.source_json(source)
        return dict(sorted(files.items()))


def is_listed(plant, covers):
    """A listed genus covers all of it; a listed taxon all below it, under any synonym."""
    if any(folded(genus) == folded(plant.genus) for genus in as_list(covers.get("genus"))):
        return True
    for taxon in as_list(covers.get("taxon")):
        for name in [plant.name, *plant.synonyms]:
            rest = folded(name).removeprefix(folded(taxon))
            if rest == "" or (rest != folded(name) and re.match(r" (subsp\.|ssp\.|var\.|subvar\.|f\.|subf\.|')", rest)):
                return True
    return False


# ---------------------------------------------------------------- comparing


class Comparison:
    """Differences between our JSON and the site's, field by field."""

    FREE = {"text", "edition", "href"}

    def __init__(self):
        self.differences = []
        self.n_values = 0
        self.n_numbers = 0

    def differ(self, file, path, ours, site):
        self.differences.append(f"{file}: {path}: ours {ours}, site {site}")

    def compare(self, file, path, ours, site, within=1e-6):
        if isinstance(ours, dict) and isinstance(site, dict):
            for key in sorted((ours.keys() | site.keys()) - self.FREE):
                inner = f"{path}.{key}" if path else key
                if key not in site:
                    self.differ(file, inner, json.dumps(ours[key]), "has no such key")
                elif key not in ours:
                    self.differ(file, inner, "has no such key", json.dumps(site[key]))
                elif key == "p" and (ours.get("arrangements") or 0) > ENUMERATED:
                    self.compare(file, inner, ours[key], site[key], 0.03)
                elif key == "claims" and isinstance(ours[key], list) and isinstance(site[key], list):
                    self.compare(file, inner, sorted(ours[key], key=claim_order), sorted(site[key], key=claim_order))
                else:
                    self.compare(file, inner, ours[key], site[key], 1e-5 if key == "measured" else within)
        elif isinstance(ours, list) and isinstance(site, list):
            if len(ours) != len(site):
                self.differ(file, path, json.dumps(ours), json.dumps(site))
            for index, (left, right) in enumerate(zip(ours, site)):
                self.compare(file, f"{path}.{index}", left, right, within)
        else:
            self.n_values += 1
            if is_number(ours) and is_number(site):
                self.n_numbers += 1
                is_same = abs(ours - site) <= within * max(1.0, abs(ours))
            else:
                is_same = type(ours) is type(site) and ours == site
            if not is_same:
                self.differ(file, path, json.dumps(ours), json.dumps(site))


def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def claim_order(claim):
    mass = claim.get("mass")
    return (
        claim.get("source", ""), claim.get("loose", False), claim.get("weighed", False),
        round(claim.get("weight") or 0, 6), [round(m, 5) + 0.0 for m in mass] if mass else [], claim.get("voice", ""),
    )


def comparable_guide(data):
    """The overview with its lists as sorted ids, whatever else each row carries."""

    def row_id(row):
        return next((row[key] for key in ("id", "slug", "date") if key in row), None) if isinstance(row, dict) else row

    result = {"title": data.get("title")}
    rows = sorted(data.get("plants", []), key=lambda row: row["slug"])
    result["plants"] = [{"slug": row["slug"], "name": row["name"]} for row in rows]
    for key in ("waters", "roles"):
        result[key] = sorted(row_id(row) for row in data.get(key, []))
    result["editions"] = len(data.get("editions", []))
    return result


def compare_with_site(files, public):
    comparison = Comparison()
    patterns = ("plants/*/plant.json", "names/*/group.json", "sources/*/source.json", "data/guide.json")
    there = {str(path.relative_to(public)) for pattern in patterns for path in public.glob(pattern)}
    for file in sorted(files.keys() | there):
        if file not in there:
            comparison.differ(file, "", "a file", "none")
        elif file not in files:
            comparison.differ(file, "", "none", "a file")
        else:
            ours, site = files[file], json.loads((public / file).read_text(encoding="utf-8"))
            if file == "data/guide.json":
                ours, site = comparable_guide(ours), comparable_guide(site)
            comparison.compare(file, "", ours, site)
    return comparison


# ---------------------------------------------------------------- single values


def leaves(value, path=""):
    """(path, value) of every leaf; an empty list or map is a leaf."""
    if isinstance(value, (dict, list)) and value:
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves(inner, f"{path}.{key}" if path else str(key))
    else:
        yield path, value


# section: patterns of "file path" that show it; the first that fits wins
SECTIONS = [
    ("12", r"plant\.json traits\.\S+\.(low|high|overlap)"),
    ("5", r"plant\.json traits\.\S+\.measured\."),
    ("7", r"plant\.json traits\.\S+\.goes_with\."),
    ("1", r"plant\.json traits\.[^.]+\.profile\.\d+$"),
    ("2", r"plant\.json in_water\.[^.]+\.[^.]+\.weight$"),
    ("3", r"plant\.json traits\.[^.]+\.(voices|weight)$"),
    ("4", r"plant\.json traits\.[^.]+\.(level|span\.\d|effective_voices|consensus|evidence|agreement|confidence|contested)$"),
    ("6", r"group\.json "),
    ("8", r"plant\.json standings\.\S+\.clauses\.\d+\.(result|probability)"),
    ("9", r"plant\.json (standings\.\S+\.(standing|in_doubt|sturdy\S*)|instead\.\S+)"),
    ("10", r"plant\.json standings\.\S+\.changes"),
    ("11", r"source\.json runs\."),
]


def section_of(file, path):
    where = f"{file.rsplit('/', 1)[-1]} {path}"
    return next((section for section, pattern in SECTIONS if re.match(pattern, where)), None)


def within_of(section, value):
    if not is_number(value) or isinstance(value, int):
        return 0
    return 1e-5 if section == "5" else 1e-6


def is_telling(section, data, path, value):
    """Whether a value shows its section at work, and would not come out the same without it."""
    part = path.split(".")
    if section == "1":  # a voice alone shows the mass of its claims
        return data["traits"][part[1]]["voices"] == 1 and value > 0
    if section == "2":
        return value > 0 and value != data["traits"][part[2]]["weight"]
    if section == "3":  # something was taken together, or scaled
        weights = [claim["weight"] for claim in data["traits"][part[1]].get("claims", []) if claim["weight"]]
        return bool(weights) and (data["traits"][part[1]]["voices"] != len(weights) or
                                  abs(data["traits"][part[1]]["weight"] - sum(weights)) > REACHED)
    if section == "4":
        return data["traits"][part[1]]["voices"] != 1
    return True


def spread(rows, n):
    """`n` of the rows, evenly spread, every kind of field in turn."""
    kinds = {}
    for row in rows:
        names = [part for part in row["path"].split(".") if not part.isdigit()]
        field_name = "levels" if "levels" in names else names[-1]
        kinds.setdefault((field_name, row["value"] is None), []).append(row)
    chosen = []
    each = max(1, n // len(kinds)) if kinds else 0
    for _, group in sorted(kinds.items()):
        step = len(group) / min(each, len(group))
        chosen += [group[int(i * step)] for i in range(min(each, len(group)))]
    return chosen


def single_values(guide, files, each):
    """A choice of single values from every section of the contract."""
    rows = {section: [] for section, _ in SECTIONS}
    for file, data in files.items():
        random_paths = set()
        for path, value in leaves(data):
            if path.endswith(".arrangements") and (value or 0) > ENUMERATED:
                random_paths.add(path.replace(".arrangements", ".p"))
        for path, value in leaves(data):
            section = section_of(file, path)
            if section is None or path in random_paths or isinstance(value, (dict, list)):
                continue
            if not is_telling(section, data, path, value):
                continue
            row = {"section": section, "guide": guide.name, "file": file, "path": path, "value": value}
            rows[section].append({**row, "within": within_of(section, value)})
    ordered = sorted(rows, key=int)
    return [row for section in ordered for row in spread(rows[section], each)]


def at(files, file, path):
    value = files[file]
    for part in path.split("."):
        value = value[int(part)] if isinstance(value, list) else value[part]
    return value


def by_hand(guide, files):
    """The values worked by hand beside this file; each must agree with ours, or the list is worthless."""
    rows = []
    for row in yaml.safe_load((Path(__file__).parent / "by_hand.yaml").read_text("utf-8")):
        if row["guide"] != guide.name:
            continue
        ours = at(files, row["file"], row["path"])
        if is_number(ours) and is_number(row["value"]):
            is_same = abs(ours - row["value"]) <= row["within"]
        else:
            is_same = ours == row["value"]
        if not is_same:
            raise Fault(f"by hand {row['value']}, here {ours}: {row['file']} {row['path']}")
        rows.append({key: row[key] for key in ("section", "guide", "file", "path", "value", "within", "working")})
    return rows


def print_values(guide, files, each):
    print("# Single values of a guide, worked by tests/independent/weigh.py, and some by hand.")
    print("# Written by: python weigh.py GUIDE --values. Do not edit.")
    print("# Numbers hold to `within`, times the value where that is above 1; all else exactly.")
    for row in single_values(guide, files, each) + by_hand(guide, files):
        # JSON scalars are YAML 1.2 scalars
        print("- {" + ", ".join(f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in row.items()) + "}")


def main():
    parser = argparse.ArgumentParser(description="Weighs a guide by a second route.")
    parser.add_argument("guide", type=Path)
    parser.add_argument("--json", type=Path, metavar="OUT", help="write every JSON file below OUT")
    parser.add_argument("--compare", type=Path, metavar="PUBLIC", help="compare with a pressed site")
    parser.add_argument("--values", action="store_true", help="print single values as YAML")
    parser.add_argument("--each", type=int, default=28, help="how many values of each section (with --values)")
    arguments = parser.parse_args()
    try:
        guide = Guide(arguments.guide)
        files = Weighing(guide).files()
        if arguments.values:
            print_values(guide, files, arguments.each)
    except Fault as fault:
        print(f"error: {fault}", file=sys.stderr)
        return 2
    if arguments.json:
        for file, data in files.items():
            path = arguments.json / file
            path.parent.mkdir(parents=True, exist_ok=True)
            text = json.dumps(data, sort_keys=True, ensure_ascii=False, indent=1, allow_nan=False)
            path.write_text(text + "\n", encoding="utf-8")
    if arguments.compare:
        comparison = compare_with_site(files, arguments.compare)
        print("\n".join(comparison.differences + [
            f"{len(files)} files, {comparison.n_values} values compared, {comparison.n_numbers} of them numbers, "
            f"{len(comparison.differences)} differences"
        ]))
        return 1 if comparison.differences else 0
    return 0


if __name__ == "__main__":
    sys.exit(main())
