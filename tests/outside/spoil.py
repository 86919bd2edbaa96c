#!/usr/bin/env python3
"""Spoils sound plan records, one fact each, for comparing two checkers on them.

usage: spoil.py SEED COUNT OUTDIR RECORD...

Writes COUNT records to OUTDIR. Each is one of the RECORDs with a single fact changed: an event
dropped, shifted, doubled, moved or given to somebody else, locks taken out of the plan, a fact of
the job (every list and key), a claim, or a fact of the back-out. Ids stay ids of the right list, so
that the result can still be read. `case` says what was done; its verdict is for the checkers to find.
"""

import copy
import json
import os
import random
import sys

LINES = ["L1", "L2", "L3"]
# key -> list whose ids it holds, where that does not depend on the section
POOLS = {"task": "tasks", "after": "tasks", "device": "devices", "joint": "joints",
         "position": "positions", "incoming": "positions", "ways_position": "positions",
         "circuit": "circuits", "circuits": "circuits", "lighting": "circuits",
         "relays": "circuits", "watches": "circuits", "board": "boards", "replaces": "boards",
         "within_reach": "boards", "enclosure": "boards", "area": "areas", "areas": "areas",
         "group": "emergency_groups", "who": "people", "surge": "surge_devices",
         "delivery": "deliveries", "nodes": "nodes", "node": "nodes", "bare": "nodes",
         "points": "nodes", "row": "nodes", "other_fed": "nodes", "enclosed": "nodes",
         "a": "nodes", "b": "nodes", "earth": "nodes"}
KINDS = {"tasks": ["disconnect", "connect", "dead_test", "hook_up", "unhook", "strip_out", "mount",
                   "connect_tails", "fit_surge", "test_board", "fit_covers", "dress", "live_test",
                   "isolate", "prove_dead", "energise", "function_test", "prepare", "identify",
                   "hold"],
         "nodes": ["bar", "load"], "surge_devices": ["cartridge", "electronics"]}
NUMBERS = {"max_single", "max_total", "rcd_ma", "ride_recharge"}
TEXTS = {"alone", "neutral_earthed", "no_earth", "left_off", "measure", "task_lighting",
         "old_state_exempt", "justification"}


def pool(rec, section, key):
    job = rec["job"]
    if key == "ways" and section == "boards":
        key = "ways_position"
    if section == "emergency_groups" and key == "feed":
        name = "circuits"
    elif section == "temporary_supplies" and key == "feed" \
            or section == "nodes" and key == "watches" or section == "walks" and key == "x":
        name = "nodes"
    elif section == "walks" and key in ("a", "b"):
        name = "positions"
    elif section == "events" and key == "instrument":
        name = "instruments"
    elif section == "tasks" and key == "instrument":
        return ["detector", "tester"]
    elif section == "tasks" and key == "people" or key in ("may", "kinds", "wires", "breaks"):
        return {"may": KINDS["tasks"], "kinds": ["detector", "tester"],
                "wires": LINES + ["N", "PE"], "breaks": LINES + ["N", "PE"]}.get(key)
    elif section == "neutral_groups":
        name = "circuits"
    elif section == "parallel":
        return [n["id"] for n in job["nodes"] if n["kind"] == "source"]
    elif key in POOLS:
        name = POOLS[key]
    else:
        return None
    return [x["id"] for x in job[name]]


def other(rng, options, value):
    rest = [x for x in options or () if x != value]
    return rng.choice(rest) if rest else value


def mutate(rng, rec, section, key, value):
    """Another value of the same sort; the same value if there is none."""
    options = pool(rec, section, key)
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, float)):
        changed = rng.choice([value + 1, value - 1, value + 5, value - 5, value + 30, value - 30,
                              value * 2, value // 2 if isinstance(value, int) else value / 2,
                              value + 300, 0])
        return max(changed, 0) if key not in ("J", "gap") else changed
    if value is None:
        if key in TEXTS:
            return "stated in the job"
        if key in NUMBERS:
            return rng.choice([10, 30, 60, 100, 300])
        if key == "self_acting":
            return {"node": rng.choice(pool(rec, section, "node")),
                    "closed_while": rng.choice(["live", "dead"])}
        if key == "third_party":
            return {"owner": "network operator", "appointments": [[1300, 1400]]}
        if key == "one_way":
            return {"justification": "stated in the job"}
        if key == "none_found":
            return {"by": "surveyor", "when": "before"}
        if key == "system":
            return rng.choice(["TN", "TT", "IT"])
        return rng.choice(options) if options else value
    if isinstance(value, str):
        if key == "kind":
            return other(rng, KINDS.get(section), value)
        if key == "system":
            return other(rng, ["TN", "TT", "IT", None], value)
        if key == "closed_while":
            return "dead" if value == "live" else "live"
        if key == "place":
            return other(rng, ["old", "new"], value)
        if key == "needs":
            return 1
        if key in ("back", "forward", "to"):
            return "forward" if value == "back" else "back"
        if options:
            nullable = key in ("board", "circuit", "position", "area", "group", "delivery",
                               "instrument", "enclosure", "replaces", "box")
            return None if nullable and rng.random() < 0.3 else other(rng, options, value)
        if key == "box":
            return rng.choice([None, value + "-2"])
        if key == "lock":
            return value + "-2"
        return rng.choice([None, ""]) if key in TEXTS else ""
    if isinstance(value, list):
        return mutate_list(rng, rec, section, key, value, options)
    if isinstance(value, dict):
        value = dict(value)
        if not value:
            return value
        k = rng.choice(sorted(value))
        if rng.random() < 0.2 and section in ("claims", "circuits", "events"):
            del value[k]
        else:
            value[k] = mutate(rng, rec, section, k, value[k])
        return value
    return value


def mutate_list(rng, rec, section, key, value, options):
    value = list(value)
    how = rng.choice(["drop", "change", "add", "swap", "clear"])
    if key == "duration":
        how = "change"
    if value and how == "drop":
        value.pop(rng.randrange(len(value)))
    elif value and how == "change":
        i = rng.randrange(len(value))
        if isinstance(value[i], list) and len(value[i]) == 2 and all(
                isinstance(x, int) for x in value[i]):
            a, b = value[i]
            move = rng.choice([-60, -10, -1, 1, 10, 60])
            value[i] = [max(0, a + move), b] if rng.random() < 0.5 else [a, max(a + 1, b + move)]
        else:
            value[i] = mutate(rng, rec, section, key, value[i])
    elif how == "add" and options:
        new = rng.choice(options)
        if new not in value:
            value.append(new)
    elif len(value) > 1 and how == "swap" and not isinstance(value[0], list):
        i = rng.randrange(len(value) - 1)
        value[i], value[i + 1] = value[i + 1], value[i]
    elif how == "clear":
        value = []
    if key == "duration":
        value.sort()
    return value


# --- what can be spoilt; each takes (rng, rec) and returns a description ------------------------


def event_dropped(rng, rec):
    events = rec["plan"]["events"]
    e = events.pop(rng.randrange(len(events)))
    return f"dropped {e['t']} {e['do']}"


def event_shifted(rng, rec):
    events = rec["plan"]["events"]
    e = rng.choice(events)
    e["t"] = max(0, e["t"] + rng.choice([-60, -10, -5, -2, -1, 1, 2, 5, 10, 60]))
    if rng.random() < 0.8:
        events.sort(key=lambda x: x["t"])
    return f"shifted {e['do']} to {e['t']}"


def tail_shifted(rng, rec):
    """Everything from some event on happens later."""
    events = rec["plan"]["events"]
    i, by = rng.randrange(len(events)), rng.choice([1, 5, 30, 120])
    for e in events[i:]:
        e["t"] += by
    return f"all from event {i} on {by} min later"


def event_doubled(rng, rec):
    events = rec["plan"]["events"]
    i = rng.randrange(len(events))
    events.insert(i, copy.deepcopy(events[i]))
    return f"doubled {events[i]['t']} {events[i]['do']}"


def events_swapped(rng, rec):
    events = rec["plan"]["events"]
    near = [i for i in range(len(events) - 1) if events[i]["t"] == events[i + 1]["t"]]
    i = rng.choice(near) if near else 0
    events[i], events[i + 1] = events[i + 1], events[i]
    return f"swapped events {i} and {i + 1}"


def event_changed(rng, rec):
    e = rng.choice(rec["plan"]["events"])
    key = rng.choice(sorted(k for k in e if k not in ("t", "do")))
    e[key] = mutate(rng, rec, "events", key, e[key])
    return f"{key} of {e['t']} {e['do']}"


def lock_left_out(rng, rec):
    """One lock, or one person's lock on a box, never goes on (nor comes off)."""
    events = rec["plan"]["events"]
    locks = [e for e in events if e["do"] in ("lock", "box_lock")]
    if not locks:
        return event_dropped(rng, rec)
    chosen = rng.choice(locks)
    name = "lock" if chosen["do"] == "lock" else "box"
    rec["plan"]["events"] = [e for e in events if not (
        e["do"] in (chosen["do"], chosen["do"].replace("lock", "unlock"))
        and e.get(name) == chosen[name] and e["who"] == chosen["who"])]
    return f"{chosen['do']} {chosen[name]} of {chosen['who']} left out"


def task_left_out(rng, rec):
    k = rng.choice(rec["job"]["tasks"])["id"]
    rec["plan"]["events"] = [e for e in rec["plan"]["events"] if e.get("task") != k]
    return f"all events of {k} left out"


def person_swapped(rng, rec):
    """A whole task is done by somebody else."""
    k = rng.choice(rec["job"]["tasks"])["id"]
    people = [p["id"] for p in rec["job"]["people"]]
    turn = dict(zip(people, people[1:] + people[:1]))
    for e in rec["plan"]["events"]:
        if e.get("task") == k:
            who = e.get("who")
            if isinstance(who, list):
                e["who"] = [turn.get(p, p) for p in who]
            elif who is not None:
                e["who"] = turn.get(who, who)
    return f"{k} done by somebody else"


def job_fact(rng, rec):
    job = rec["job"]
    skip = {"format", "name", "epoch", "from"}
    choices = []
    for section in sorted(job):
        if section in skip:
            continue
        value = job[section]
        if isinstance(value, list) and value and isinstance(value[0], dict):
            keys = sorted({k for item in value for k in item} - {"id"})
            choices += [(section, k) for k in keys]
        else:
            choices.append((section, None))
    section, key = rng.choice(choices)
    if key is None:
        if section == "neutral_groups":
            job[section] = [rng.sample([c["id"] for c in job["circuits"]], 2)]
        elif section == "walks":
            a, b = rng.sample([p["id"] for p in job["positions"]], 2)
            job[section] = [{"a": a, "b": b, "minutes": rng.choice([1, 5, 20])}]
        elif section == "standing_locks":
            device = rng.choice(job["devices"])["id"]
            job[section] = [{"device": device, "owner": job["people"][0]["id"],
                             "reason": rng.choice(["", "stated in the job"])}]
        else:
            job[section] = mutate(rng, rec, section, section, job[section])
        return f"job {section}"
    item = rng.choice([x for x in job[section] if key in x])
    item[key] = mutate(rng, rec, section, key, item[key])
    return f"job {section} {item.get('id', '')} {key}"


def device_flag(rng, rec):
    d = rng.choice(rec["job"]["devices"])
    key = rng.choice(["isolates", "lockable", "on_load", "overcurrent", "closed", "temporary",
                      "self_acting", "third_party", "rcd_ma", "breaks", "wires"])
    d[key] = mutate(rng, rec, "devices", key, d[key])
    return f"{key} of device {d['id']}"


def claim(rng, rec):
    claims = rec["plan"]["claims"]
    key = rng.choice(sorted(claims))
    claims[key] = mutate(rng, rec, "claims", key, claims[key])
    return f"claim {key}"


def back_out(rng, rec):
    b = rec["plan"]["back_out"]
    key = rng.choice(sorted(b))
    if not b[key]:
        return claim(rng, rec)
    i = rng.randrange(len(b[key]))
    how = rng.random()
    if how < 0.2:
        b[key].pop(i)
    elif how < 0.3:
        b[key].insert(i, copy.deepcopy(b[key][i]))
    else:
        k = rng.choice(sorted(b[key][i]))
        if k == "tasks" and b[key][i][k]:
            x = rng.choice(b[key][i][k])
            k = rng.choice(sorted(x))
            x[k] = mutate(rng, rec, "back_out", k, x[k])
        else:
            b[key][i][k] = mutate(rng, rec, "back_out", k, b[key][i][k])
        return f"back-out {key} {i} {k}"
    return f"back-out {key} {i} dropped or doubled"


WAYS = [(event_dropped, 4), (event_shifted, 4), (tail_shifted, 1), (event_doubled, 1),
        (events_swapped, 3), (event_changed, 5), (lock_left_out, 3), (task_left_out, 2),
        (person_swapped, 2), (job_fact, 14), (device_flag, 4), (claim, 3), (back_out, 3)]


def main(seed, count, outdir, paths):
    rng = random.Random(seed)
    os.makedirs(outdir, exist_ok=True)
    bases = []
    for p in sorted(paths):
        with open(p, encoding="utf-8") as f:
            bases.append((os.path.splitext(os.path.basename(p))[0], f.read()))
    written = 0
    while written < count:
        name, text = rng.choice(bases)
        rec = json.loads(text)
        way = rng.choices([w for w, _ in WAYS], [n for _, n in WAYS])[0]
        says = way(rng, rec)
        if rec == json.loads(text):
            continue
        rec["case"] = {"says": f"{name}: {says}", "expect": None}
        with open(os.path.join(outdir, f"{seed}-{written:05d}.json"), "w", encoding="utf-8") as f:
            json.dump(rec, f)
        written += 1


if __name__ == "__main__":
    if len(sys.argv) < 5:
        sys.exit(__doc__)
    main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], sys.argv[4:])
