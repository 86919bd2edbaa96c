#!/usr/bin/env python3
"""Second opinion on plan records: judges each FILE by the planning model, and by nothing else.

usage: check_record.py FILE...
prints one line of JSON a file: {"file", "rules": [...], "breaches": [{"rule", "t", "what"}]}
"""

import json
import re
import sys
import traceback

import cost
import rules_backout
import rules_dead
import rules_emergency
import rules_feasible
import rules_temporary
from record import Record
from replay import Replay


def judge(path):
    rec = Record(path)
    seen, breaches = set(), []

    def report(rule, t, what):
        if (rule, t, what) not in seen:
            seen.add((rule, t, what))
            breaches.append({"rule": rule, "t": int(t), "what": what})
    run = Replay(rec, report)
    outs = cost.outages(run)
    rules_dead.check(run, report)
    rules_emergency.check(run, report)
    rules_temporary.check(run, report)
    rules_feasible.check(run, report, outs)
    rules_backout.check(run, report, outs)
    cost.c1(run, report, outs)
    return breaches


def order(rule):
    letter, number = re.fullmatch(r"([A-Z])(\d+)", rule).groups()
    return "WETSFBC".index(letter), int(number)


def main(paths):
    for path in paths:
        try:
            breaches = judge(path)
            rules = sorted({b["rule"] for b in breaches}, key=order)
            print(json.dumps({"file": path, "rules": rules, "breaches": breaches}))
        except Exception as error:      # a record that cannot be read: say so and go on
            traceback.print_exc(file=sys.stderr)
            print(json.dumps({"file": path, "error": repr(error), "rules": None,
                              "breaches": []}))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
