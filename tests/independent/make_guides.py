"""Writes two large made-up guides on which the program and `weigh.py` are compared.

    python make_guides.py OUTDIR

`OUTDIR/synthetic` has 60 plants with 16 claims each and the policy numbers that are the
default; `OUTDIR/synthetic-odd` has 24 plants, scales of other lengths and odd policy numbers.
Both use every form of claim. The same program writes the same bytes every time: the only
chance in it is seeded. Plants, sources and figures are made up and stand for nothing.
"""

import argparse
import json
import math
import random
import re
from pathlib import Path

GENERA = "Synthetica Fictaria Simulata Exemplaria Probatoria Numerosa Aleatoria Artificiosa Commenticia Ludibunda".split()
EPITHETS = ["prima 'Alba'", "prima 'Rubra'", "secunda", "tertia", "quarta", "× quinta"]
FORMS = ["floating", "stem", "rosette", "rhizome", "moss"]
CLAIMS_PER_PLANT = 16

LOOKS = {
    "synthetic": {
        "seed": 20250103,
        "genera": 10,
        "pace": (["very-slow", "slow", "moderate", "fast", "very-fast"], ["140 d", "49 d", "21 d", "7 d"]),
        "light": (["dim", "low", "medium", "high"], ["15 umol/m2/s", "40 umol/m2/s", "90 umol/m2/s"]),
        "stature": (["short", "middling", "tall"], ["8 cm", "25 cm"]),
        "floor": 0.001,
        "weights": None,
    },
    "synthetic-odd": {
        "seed": 20250204,
        "genera": 4,
        "pace": (
            ["still", "very-slow", "slow", "moderate", "fast", "very-fast", "rampant"],
            ["2 years", "5 months", "7 weeks", "3 weeks", "9 d", "96 h"],
        ),
        "light": (["dim", "low", "medium", "high"], ["12 umol/m2/s", "33 umol/m2/s", "101 umol/m2/s"]),
        "stature": (["low", "tall"], ["6 in"]),
        "floor": 0.004,
        "weights": {
            "kinds": {"study": 1.3, "log": 0.7, "note": 0.45, "label": 0.35, "article": 0.2, "hearsay": 0.0},
            "second-hand": ["label", "article"],
            "second-hand-cap": 0.4,
            "further-note": 0.35,
            "loose-name": 0.45,
            "unstated": 0.0,
            "per-step": 0.55,
            "mismatch": 0.15,
            "measurement-error": 0.4,
            "evidence": {"robust": {"weight": 2.1, "voices": 2.6}, "medium": {"weight": 0.9, "voices": 1.7}},
            "agreement": {"high": 0.9, "medium": 0.5},
            "span-agreement": {"high": 0.55, "medium": 0.3},
            "decision": {"met": 0.75, "failed": 0.3},
        },
    },
}


def scalar(value):
    """A plain scalar where YAML allows one anywhere, else a quoted one."""
    if isinstance(value, (int, float)):
        return json.dumps(value)
    if re.fullmatch(r"[A-Za-z0-9.][A-Za-z0-9 ./%+-]*", value) and not value.endswith(" "):
        return value
    return json.dumps(value, ensure_ascii=False)


def flow(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar(key)}: {flow(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow(inner) for inner in value) + "]"
    return scalar(value)


def block(data):
    """Maps of the top level by line, lists of maps one item a line, all else in flow."""
    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            lines += [f"{scalar(key)}:"] + [f"  - {flow(item)}" for item in value]
        elif isinstance(value, dict) and value and all(isinstance(inner, dict) for inner in value.values()):
            lines += [f"{scalar(key)}:"] + [f"  {scalar(inner)}: {flow(item)}" for inner, item in value.items()]
        else:
            lines.append(f"{scalar(key)}: {flow(value)}")
    return "\n".join(lines) + "\n"


class Maker:
    def __init__(self, name, folder):
        self.look = LOOKS[name]
        self.name = name
        self.root = folder / name / "content"
        self.random = random.Random(self.look["seed"])
        self.pace, self.pace_edges = self.look["pace"]
        self.light, self.light_edges = self.look["light"]
        self.stature, self.stature_edges = self.look["stature"]
        self.genera = GENERA[: self.look["genera"]]
        self.with_file = self.genera[::2]  # genera with a file of their own

    def write(self, path, text):
        path = self.root / path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def make(self):
        self.make_frame()
        self.make_sources()
        for number, genus in enumerate(self.genera):
            self.make_genus(number, genus)
        for source, data in self.sources.items():
            self.write(f"sources/{source}.yaml", block(data))

    # ------------------------------------------------------------ everything but sources and plants

    def make_frame(self):
        self.write("guide.yaml", block({
            "title": f"Made-up guide, {self.name}",
            "address": f"https://guide.example.org/{self.name}/",
            "publisher": "Lanternford Water Circle",
            "licence": "CC0-1.0",
            "default-water": "capped",
            "places": ["England and Wales"],
            "notice": "Made-up plants, sources and figures.",
        }))
        self.write("scales.yaml", block({
            "pace": self.pace, "light": self.light, "stature": self.stature, "patience": ["touchy", "fair", "easy"],
        }))
        self.write("conditions.yaml", block({
            "light": {"title": "Light", "scale": "light"},
            "co2": {"title": "Added carbon dioxide", "words": ["none", "added"]},
            "substrate": {"title": "Bed", "words": ["capped-soil", "gravel", "bare"]},
            "temperature": {"title": "Temperature", "span": "C"},
        }))
        self.write("traits.yaml", block({
            "growth": {
                "title": "Growth", "scale": "pace", "measure": "relative-growth-rate", "edges": self.pace_edges,
                "floor": self.look["floor"], "depends-on": ["light", "co2", "temperature"],
            },
            "light-need": {
                "title": "Light need", "scale": "light", "measure": "light", "spans": "lowest", "edges": self.light_edges,
                "depends-on": ["co2"],
            },
            "height": {
                "title": "Height", "scale": "stature", "measure": "length", "edges": self.stature_edges,
                "depends-on": ["light", "substrate"],
            },
            "ease": {"title": "Ease", "scale": "patience"},
            "temperature": {"title": "Temperature", "kind": "span", "measure": "temperature", "depends-on": ["substrate"]},
            "hardness": {"title": "Hardness", "kind": "span", "measure": "hardness"},
        }))
        self.write("forms.yaml", block({form: {"title": form.title(), "plain": f"A {form} plant."} for form in FORMS}))
        fast = self.pace[-2]
        self.write("roles.yaml", block({
            "every-role": {"unsuited": [
                {"trait": "light-need", "above": "water.light", "because": "It starves in less light than it needs."},
                {"trait": "temperature", "outside": "water.temperature"},
            ]},
            "nutrient-uptake": {
                "title": "Nutrient uptake", "forms": ["stem", "floating", "rosette", "moss"],
                "unsuited": [{"trait": "ease", "at-most": "touchy", "when": {"substrate": "capped-soil"}}],
                "mainstay": [{"trait": "growth", "at-least": fast}],
                "support": [{"trait": "growth", "above": self.pace[1]}],
            },
            "carpet": {
                "title": "Carpet",
                "mainstay": [
                    {"trait": "height", "below": self.stature[-1]},
                    {"trait": "growth", "at-least": self.pace[-3], "when": {"light": ["medium", "high"]}},
                ],
                "support": [{"trait": "height", "at-most": self.stature[-2]}],
            },
            "beginner": {
                "title": "First plant",
                "mainstay": [
                    {"trait": "ease", "at-least": "easy"},
                    {"trait": "temperature", "covers": "water.temperature"},
                ],
                "support": [{"trait": "ease", "above": "touchy"}],
            },
            "shade": {
                "title": "Shade", "forms": ["rosette", "rhizome"],
                "support": [{"trait": "light-need", "at-most": "water.light"}, {"trait": "growth", "below": fast, "form": ["rhizome"]}],
            },
        }))
        if self.look["weights"]:
            self.write("weights.yaml", block(self.look["weights"]))
        self.write("regulated.yaml", "".join(f"- {flow(row)}\n" for row in [
            {
                "listed-as": f"{self.genera[1]} spp.", "covers": {"genus": self.genera[1]}, "place": "England and Wales",
                "instrument": "Made-up order 1", "date": "2010-04-01", "link": "https://law.example.org/1",
            },
            {
                "listed-as": f"{self.genera[2]} prima", "covers": {"taxon": f"{self.genera[2]} prima"}, "place": "Elsewhere",
                "instrument": "Made-up order 2", "date": "2016-06-01", "link": "https://law.example.org/2",
            },
        ]))
        for water, title, conditions in [
            ("capped", "Capped soil", {"light": "low", "co2": "none", "substrate": "capped-soil", "temperature": "20..25 C"}),
            ("gas", "Gravel and gas", {"light": "high", "co2": "added", "substrate": "gravel", "temperature": "75.2..82.4 F"}),
            ("pond", "Pond", {"light": "medium", "temperature": "16 C"}),
        ]:
            self.write(f"waters/{water}.yaml", block({"title": title, "tell-by": ["Made up"], "conditions": conditions}))

    # ------------------------------------------------------------ sources

    def make_sources(self):
        self.sources = {}
        for kind, count in [("study", 5), ("log", 5), ("note", 6), ("label", 4), ("article", 3), ("hearsay", 3)]:
            for number in range(1, count + 1):
                self.sources[f"{kind}-{number}"] = {
                    "title": f"Made-up {kind} {number}", "kind": kind, "issued": f"20{10 + number}-0{number}",
                }
        self.sources["log-2"]["voice"] = "log-1"
        self.sources["note-5"]["voice"] = self.sources["note-6"]["voice"] = "the-pair"
        self.sources["label-2"]["repeats"] = ["label-1"]
        self.sources["article-1"]["repeats"] = ["study-1", "log-3"]
        self.sources["article-2"]["repeats"] = ["article-1", "note-1"]
        self.sources["hearsay-1"]["repeats"] = ["hearsay-2"]
        self.sources["hearsay-2"]["repeats"] = ["hearsay-1"]
        self.sources["hearsay-3"]["repeats"] = ["hearsay-1"]
        slow, fast = f"{self.pace[0]}..{self.pace[1]}", f"{self.pace[-2]}..{self.pace[-1]}"
        self.sources["label-1"]["vocabulary"] = {
            "growth": {"slow": slow, "Medium": self.pace[2], "quick": fast},
            "light-need": {"shade": "dim..low", "sun": "high"},
        }
        self.sources["article-3"]["vocabulary"] = {"growth": {"leisurely": slow, "vigorous": fast}}

    def say_growth(self, source, rate):
        """A word for a rate, in the source's own words where it has some."""
        index = sum(rate >= math.log(2) / self.in_days(edge) for edge in self.pace_edges)
        if source == "label-1":
            return ["slow", "Medium", "quick", "slow..medium", "MEDIUM..quick"][self.random.choice([
                0 if index < 2 else 1 if index < len(self.pace) - 2 else 2, self.random.randrange(5),
            ])]
        if source == "article-3" and self.random.random() < 0.5:
            return "leisurely" if index < len(self.pace) / 2 else "vigorous"
        if self.random.random() < 0.3:
            return f"{self.pace[max(0, index - 1)]}..{self.pace[index]}"
        return self.pace[index]

    @staticmethod
    def in_days(text):
        number, unit = text.split()
        return float(number) * {"d": 1, "weeks": 7, "months": 30.4375, "years": 365.25, "h": 1 / 24}[unit]

    # ------------------------------------------------------------ one genus

    def make_genus(self, number, genus):
        folder = genus.lower()
        names = [f"{genus} {epithet}" for epithet in EPITHETS]
        shared = f"Pond {genus.lower()}"
        for index, name in enumerate(names):
            plant = {"name": name}
            if index in (2, 3):
                plant["known-as"] = [shared]
            if index == 4:
                plant["synonyms"] = [f"Veterana {genus.lower()}"]
            if index == 0:
                plant["trade-names"] = [f"White {genus.lower()}"]
            forms = self.random.sample(FORMS, self.random.choice([1, 1, 1, 2]))
            plant["form"] = forms if len(forms) > 1 else forms[0]
            truth = {
                "rate": math.exp(self.random.uniform(math.log(0.004), math.log(0.15))),
                "light": self.random.uniform(5, 130), "height": math.exp(self.random.uniform(1, 4)),
                "ease": self.random.random(), "low": self.random.uniform(4, 20), "width": self.random.uniform(3, 14),
            }
            plant["claims"] = [
                self.claim(trait, truth, genus, names, index, shared)
                for trait in ["growth"] * 8 + ["light-need"] * 2 + ["height"] * 2 + ["ease", "temperature", "temperature", "hardness"]
            ]
            assert len(plant["claims"]) == CLAIMS_PER_PLANT
            self.write(f"plants/{folder}/{index}-{re.sub('[^a-z]+', '-', name.lower().split(' ', 1)[1]).strip('-')}.yaml", block(plant))
        if genus in self.with_file:
            claims = []
            for name in [None, genus, f"{genus[:5]}s", f"{genus} prima"]:
                claim = {"trait": "growth", "source": self.random.choice(list(self.sources))}
                if name:
                    claim["as"] = name
                claim["says"] = self.say_growth(claim["source"], math.exp(self.random.uniform(math.log(0.004), math.log(0.15))))
                claims.append(claim)
            claims.append({"trait": "temperature", "source": "label-3", "measures": "68..82.4 F"})
            claims.append({"trait": "height", "source": "note-2", "as": f"{genus} spp.", "measures": "12 cm"})
            self.write(f"plants/{folder}/genus.yaml", block({
                "loose-name": genus, "also": [genus[:5], f"{genus[:5]}s"],
                "loose": [{"name": f"{genus} prima", "covers": names[:2]}],
                "claims": claims,
            }))
            own = self.sources["label-1"].setdefault("claims", [])
            own.append({"plant": f"{genus} prima", "trait": "ease", "says": "easy"})
            own.append({"plant": genus, "trait": "light-need", "says": "shade"})
        own = self.sources["label-4"].setdefault("claims", [])
        own.append({"plant": f"veterana {genus.upper()}", "trait": "ease", "says": self.random.choice(["touchy", "fair", "easy"])})
        own.append({"plant": f"White {genus.lower()}", "trait": "growth", "says": self.random.choice(self.pace)})

    # ------------------------------------------------------------ one claim

    def claim(self, trait, truth, genus, names, index, shared):
        chance = self.random
        source = chance.choice(list(self.sources))
        claim = {"trait": trait, "source": source}
        rate = truth["rate"]
        where = self.where()
        if where:
            claim["where"] = where
            # what the circumstances do to growth, so that differences go with something
            rate *= {"dim": 0.4, "low": 0.6, "medium": 1.0, "high": 1.6}.get(where.get("light"), 1.0)
            rate *= 1.5 if where.get("co2") == "added" else 1.0
        rate *= math.exp(chance.gauss(0, 0.4))
        if trait == "growth":
            claim.update(self.growth(source, rate))
        elif trait == "light-need":
            claim.update(self.plain(truth["light"] * math.exp(chance.gauss(0, 0.3)), "umol/m2/s", self.light, source))
        elif trait == "height":
            claim.update(self.plain(truth["height"] * math.exp(chance.gauss(0, 0.3)), "cm", self.stature, source))
        elif trait == "ease":
            claim["says"] = chance.choice(["touchy", "fair", "easy", "fair..easy", "touchy..fair", "Easy"])
        elif trait == "temperature":
            low = truth["low"] + chance.gauss(0, 1.5)
            high = low + truth["width"] * chance.uniform(0.6, 1.5)
            if chance.random() < 0.3:
                claim["measures"] = f"{low * 9 / 5 + 32:.1f}..{high * 9 / 5 + 32:.1f} F"
            else:
                claim["measures"] = f"{low:.1f}..{high:.1f} C"
        else:
            low = chance.uniform(2, 8)
            claim["measures"] = chance.choice([f"{low:.1f}..{low * 2:.1f} dGH", f"{low * 17.848:.0f}..{low * 40:.0f} mg/l", f"{low:.0f} dGH"])
        # the name it was made under
        draw = chance.random()
        if draw < 0.05:
            claim["as"] = genus
        elif draw < 0.08:
            claim["as"] = chance.choice([f"{genus} sp.", f"{genus} spp.", f"{genus} cf. {names[index].split(' ', 1)[1]}"])
        elif draw < 0.10:
            claim["as"] = f"{genus} aff. prima"
        elif draw < 0.16 and index in (2, 3):
            claim["as"] = shared
        elif draw < 0.2:
            claim["as"] = names[index].replace("'", "’").upper() if "'" in names[index] else names[index]
        elif draw < 0.24 and genus in self.with_file and index < 2:
            claim["as"] = f"{genus} prima"
        # the rest
        draw = chance.random()
        if draw < 0.03:
            claim["stage"] = "settling"
        elif draw < 0.06:
            claim["stage"] = "settled"
        elif draw < 0.09:
            claim["set-aside"] = "The picture shows another plant."
        elif draw < 0.14:
            claim["kind"] = chance.choice(["study", "log", "note", "label", "article", "hearsay"])
        elif draw < 0.19:
            other = chance.choice([one for one in self.sources if one != source])
            claim["repeats"] = other
        elif draw < 0.23:
            claim["quote"] = "It grew, and then it grew."
        elif draw < 0.27:
            claim.update({"seen": "2024-05-01/2024-06-20", "tank": "north-window", "remark": "A cool month.", "at": "p. 14"})
        return claim

    def where(self):
        chance = self.random
        where = {}
        if chance.random() < 0.65:
            where["light"] = chance.choice(["dim", "low", "low", "medium", "high", "high"])
        if chance.random() < 0.5:
            where["co2"] = chance.choice(["none", "none", "added"])
        if chance.random() < 0.3:
            where["substrate"] = chance.choice(["capped-soil", "gravel", "bare"])
        if chance.random() < 0.3:
            where["temperature"] = chance.choice(["20..24 C", "24..28 C", "68..75.2 F", "16 C", "25..27.5 C", "12..15 C"])
        return where

    def growth(self, source, rate):
        chance = self.random
        form = chance.choice(["says", "says", "says", "rgr", "doubles-in", "grew", "trimmed", "series", "series", "bound"])
        if form == "says":
            return {"says": self.say_growth(source, rate)}
        if form == "rgr":
            claim = {"rgr": round(rate, 4)}
            if chance.random() < 0.5:
                claim["se"] = round(rate * chance.uniform(0.05, 0.5), 5)
            if chance.random() < 0.5:
                claim["of"] = chance.choice(["length", "mass", "area", "count"])
            return claim
        if form == "doubles-in":
            return {"doubles-in": chance.choice([f"{math.log(2) / rate:.1f} d", f"{math.log(2) / rate / 7:.2f} weeks"])}
        if form == "trimmed":
            leaving = chance.choice([0.25, 0.4, 0.5, 0.6])
            every = -math.log(leaving) / rate
            trimmed = {"every": f"{every:.0f} days" if every >= 1 else "36 hours"}
            if leaving != 0.5 or chance.random() < 0.5:
                trimmed["leaving"] = leaving
            return {"trimmed": trimmed}
        if form == "bound":
            claim = chance.choice([{"rgr": round(rate, 4)}, {"doubles-in": f"{math.log(2) / rate:.0f} d"}])
            claim["bound"] = chance.choice(["at-least", "at-most"])
            return claim
        unit, start = chance.choice([("cm", 8.0), ("in", 3.0), ("g", 2.5), ("mg", 400.0), ("cm2", 30.0), ("%", 6.0), ("shoots", 12.0), ("leaves", 20.0)])
        digits = 0 if unit in ("shoots", "leaves") else 2
        if form == "grew":
            over = chance.choice([14, 21, 30, 45])
            end = start * math.exp(rate * over * chance.choice([1, 1, 1, 0, -0.5]))
            if unit == "%":
                end = min(end, 99.0)
            return {"grew": {"from": f"{start:.{digits}f} {unit}", "to": f"{max(end, 0.5):.{max(digits, 1)}f} {unit}", "over": f"{over} d"}}
        count = chance.choice([2, 3, 4, 6])
        points = []
        for point in range(count):
            day = point * chance.choice([7, 10, 12]) if point == 0 else points[-1][0] + chance.choice([7, 9, 14])
            noise = math.exp(chance.gauss(0, 0.08))
            value = start * math.exp(min(rate, 0.09) * day) * noise
            points.append((day, max(value, 0.5)))
        if unit == "%":
            points = [(day, min(value, 99.0 + day / 100)) for day, value in points]
        dates = chance.random() < 0.5
        return {"series": [
            [f"2025-0{1 + day // 28}-{1 + day % 28:02d}" if dates else day, f"{value:.{digits}f} {unit}"] for day, value in points
        ]}

    def plain(self, value, unit, levels, source):
        chance = self.random
        form = chance.choice(["says", "says", "single", "se", "range", "below", "above", "bound"])
        if form == "says":
            if source == "label-1" and unit == "umol/m2/s" and chance.random() < 0.6:
                return {"says": chance.choice(["shade", "sun", "shade..sun"])}
            low = chance.randrange(len(levels))
            high = chance.randrange(low, len(levels))
            return {"says": levels[low] if low == high else f"{levels[low]}..{levels[high]}"}
        if unit == "cm" and chance.random() < 0.3:
            value, unit = value * 10, "mm"
        if form == "range":
            return {"measures": f"{value * 0.7:.1f}..{value * 1.6:.1f} {unit}"}
        if form == "below":
            return {"measures": f"..{value:.1f} {unit}"}
        if form == "above":
            return {"measures": f"{value:.1f}.. {unit}"}
        claim = {"measures": f"{value:.1f} {unit}"}
        if form == "se":
            claim["se"] = round(value * chance.uniform(0.02, 0.4), 2)
        if form == "bound":
            claim["bound"] = chance.choice(["at-least", "at-most"])
        return claim


def main():
    parser = argparse.ArgumentParser(description="Writes two made-up guides.")
    parser.add_argument("outdir", type=Path)
    folder = parser.parse_args().outdir
    for name in LOOKS:
        Maker(name, folder).make()


if __name__ == "__main__":
    main()
