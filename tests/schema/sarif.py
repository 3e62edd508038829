"""Checks SARIF logs against the published schema of SARIF 2.1.0.

Usage: sarif.py SCHEMA PONDWEIGH GUIDE...   the cases of tests/cases/proof are looked at as well.

The schema is that of the OASIS standard, in JSON Schema draft 4, as a registry package carries it.
"""

import json
import pathlib
import subprocess
import sys

from jsonschema import Draft4Validator, FormatChecker

CASES = pathlib.Path(__file__).resolve().parent.parent / "cases" / "proof"


def main():
    schema = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    Draft4Validator.check_schema(schema)
    validator = Draft4Validator(schema, format_checker=FormatChecker())
    # The validator must be able to refuse: a log of another version, and one without a message.
    assert list(validator.iter_errors({"version": "2.0.0", "runs": []}))
    guides = [pathlib.Path(guide) for guide in sys.argv[3:]] + sorted(CASES.iterdir())
    n_results = 0
    wrong = []
    for guide in guides:
        run = subprocess.run([sys.argv[2], "proof", guide, "--sarif"], capture_output=True, check=False)
        log = json.loads(run.stdout)
        wrong += [
            f"{guide}: {'/'.join(map(str, fault.absolute_path))}: {fault.message[:200]}"
            for fault in validator.iter_errors(log)
        ]
        results = log["runs"][0]["results"]
        n_results += len(results)
        if results:
            broken = json.loads(run.stdout)
            del broken["runs"][0]["results"][0]["message"]
            assert list(validator.iter_errors(broken)), "a result without a message passes"
    if wrong:
        print("\n".join(wrong))
        sys.exit(1)
    print(f"{len(guides)} logs valid, {n_results} results")


main()
