"""Checks content files against the schemas that the program writes for their guide.

Usage: check.py PONDWEIGH SCRATCH GUIDE...   every file of these guides, and of the cases that are
no errors, is valid; every case that is an error is rejected, but for those in unseen.txt, which
fails both ways: when a case there is rejected, and when one that is not there passes.

The validator is the package jsonschema (draft 2020-12), the YAML reader ruamel.yaml, kept to the
scalars of the core schema of YAML 1.2 (chapter 10.3: null, truth values, numbers), as editors
read it.
"""

import json
import pathlib
import subprocess
import sys

from jsonschema import Draft202012Validator
from ruamel.yaml import YAML
from ruamel.yaml.constructor import SafeConstructor
from ruamel.yaml.error import YAMLError
from ruamel.yaml.events import AliasEvent

HERE = pathlib.Path(__file__).resolve().parent
CASES = HERE.parent / "cases" / "proof"


class Core(SafeConstructor):
    """Scalars of the core schema: a date is a text there."""


Core.add_constructor("tag:yaml.org,2002:timestamp", SafeConstructor.construct_yaml_str)


def load(path):
    yaml = YAML(typ="safe", pure=True)
    yaml.Constructor = Core
    text = path.read_text(encoding="utf-8")
    # An editor follows aliases; the format has none, and a chain of them grows without end.
    for event in yaml.parse(text):
        if isinstance(event, AliasEvent):
            raise YAMLError("an alias")
    return as_json(yaml.load(text))


def as_json(value):
    if isinstance(value, dict):
        return {str(key): as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value


def schema_of(path):
    """The schema of a file, by its path below content/: as the format lays files out."""
    if len(path.parts) == 1:
        return path.stem
    if path.parts[0] == "plants":
        return "genus" if path.name == "genus.yaml" else "plant"
    return {"waters": "water", "sources": "source", "gone": "gone", "rosters": "roster"}.get(
        path.parts[0]
    )


def validators(pondweigh, scratch, guide, is_checked):
    out = scratch / "schemas"
    subprocess.run(
        [pondweigh, "schema", guide, "--out", out], check=True, stdout=subprocess.DEVNULL
    )
    found = {}
    for path in sorted(out.glob("*.json")):
        schema = json.loads(path.read_text(encoding="utf-8"))
        if is_checked:
            Draft202012Validator.check_schema(schema)
        found[path.stem] = Draft202012Validator(schema)
    return found


def faults(pondweigh, scratch, guide, is_checked=False):
    """(number of files, faults): what the schemas find, and files that are no YAML at all."""
    found = validators(pondweigh, scratch, guide, is_checked)
    content = guide / "content"
    n_files = 0
    out = []
    for path in sorted(content.rglob("*.yaml")):
        name = schema_of(path.relative_to(content))
        if any(part.startswith(".") for part in path.relative_to(content).parts):
            continue
        n_files += 1
        if name is None or name not in found:
            out.append(f"{path}: no schema")
            continue
        try:
            value = load(path)
        except (YAMLError, UnicodeDecodeError, RecursionError) as why:
            out.append(f"{path}: not YAML: {str(why).splitlines()[0]}")
            continue
        for fault in found[name].iter_errors(value):
            at = "/".join(str(part) for part in fault.absolute_path)
            out.append(f"{path}: {at}: {fault.message[:160]}")
    return n_files, out


def main():
    pondweigh, scratch = sys.argv[1], pathlib.Path(sys.argv[2])
    scratch.mkdir(parents=True, exist_ok=True)
    wrong = []
    n_valid = 0
    good = [pathlib.Path(guide).resolve() for guide in sys.argv[3:]]
    good += sorted(path for path in CASES.iterdir() if not path.name.startswith("err-"))
    for guide in good:
        # The schemas themselves are checked where a guide was named: it is slow.
        is_named = CASES not in guide.parents
        n_files, found = faults(pondweigh, scratch, guide, is_named)
        n_valid += n_files
        wrong += found
        if n_files == 0:
            wrong.append(f"{guide}: no file")
    unseen = {
        line.split(":")[0]
        for line in (HERE / "unseen.txt").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    }
    cases = sorted(path for path in CASES.iterdir() if path.name.startswith("err-"))
    rejected = 0
    for case in cases:
        _, found = faults(pondweigh, scratch, case)
        rejected += bool(found)
        if found and case.name in unseen:
            wrong.append(f"{case.name}: rejected now ({found[0]}): take it out of unseen.txt")
        if not found and case.name not in unseen:
            wrong.append(f"{case.name}: no schema sees what is wrong")
    for name in sorted(unseen - {case.name for case in cases}):
        wrong.append(f"{name}: in unseen.txt, but there is no such case")
    if wrong:
        print("\n".join(wrong))
        sys.exit(1)
    print(f"{n_valid} files valid, {rejected} of {len(cases)} broken cases rejected")


main()
