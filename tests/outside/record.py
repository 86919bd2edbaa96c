"""The record as plain data (plan-record page): reading, look-ups, and words used by every rule."""

import json
from fractions import Fraction

LINES = ("L1", "L2", "L3")
DEAD = {"disconnect", "connect", "dead_test", "hook_up", "unhook", "strip_out", "mount",
        "connect_tails", "fit_surge", "test_board", "fit_covers", "dress"}
SWITCHING = {"isolate", "prove_dead", "energise", "function_test"}
KINDS = DEAD | SWITCHING | {"live_test", "prepare", "identify", "hold"}
# Kinds that may stand as often as a plan wants, or not at all (model, section 3).
OPTIONAL = {"isolate", "prove_dead", "energise", "fit_covers", "dress", "hook_up", "unhook"}
NEEDS = {"prove_dead": "detector", "hook_up": "tester", "dead_test": "tester",
         "test_board": "tester", "live_test": "tester"}


def said(text):
    """A text counts as a statement only if something stands in it."""
    return isinstance(text, str) and text.strip() != ""


def pairs(wires):
    """Each connection as (name at a, name at b): "L1" or "L1>L2"."""
    out = []
    for wire in wires:
        a, _, b = wire.partition(">")
        out.append((a, b or a))
    return out


def merge(spans):
    """Union of half-open spans; touching spans become one."""
    out = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1]:
            out[-1][1] = max(out[-1][1], b)
        else:
            out.append([a, b])
    return out


def overlap(spans, a, b):
    """Minutes of [a, b) inside the spans."""
    return sum((max(0, min(b, y) - max(a, x)) for x, y in spans), 0)


class Record:
    """job and plan, with every list also as a dict by id."""

    def __init__(self, path):
        with open(path, encoding="utf-8") as f:
            data = json.load(f, parse_float=Fraction, parse_int=int)
        self.job, self.plan = data["job"], data["plan"]
        job = self.job
        for name in ("nodes", "devices", "joints", "boards", "positions", "circuits", "loads",
                     "areas", "emergency_groups", "temporary_supplies", "surge_devices",
                     "windows", "people", "instruments", "deliveries", "tasks"):
            setattr(self, name, {x["id"]: x for x in job[name]})
        self.policy = job["policy"]
        self.events = self.plan["events"]
        self.claims = self.plan["claims"]
        self.visits = merge([w["from"], w["to"]] for w in job["windows"])
        self.sources = [n for n in job["nodes"] if n["kind"] == "source"]
        self.joints_of = {c: [j for j in job["joints"] if j["circuit"] == c] for c in self.circuits}
        self.groups = [list(g) for g in job["neutral_groups"]]

    # --- words ---------------------------------------------------------------------------

    def neutral_group(self, circuit):
        """The circuit with those that share its neutral (section 1)."""
        for g in self.groups:
            if circuit in g:
                return list(g)
        return [circuit]

    def board_of(self, task):
        """A task is at the board of its position or, without one, at the board it names."""
        if task["position"] is not None:
            return self.positions[task["position"]]["board"]
        return task["board"]

    def shrouded(self, board):
        return board["incoming_shrouded"] and board["ways_shrouded"]

    def is_dead(self, task):
        """Dead kinds; fit covers is neither live nor dead where both positions are shrouded."""
        if task["kind"] == "fit_covers":
            b = self.board_of(task)
            return not (b in self.boards and self.shrouded(self.boards[b]))
        return task["kind"] in DEAD

    def lays_open(self, task):
        """Positions that a task at a position lays open (section 1, Positions)."""
        pos = task["position"]
        if pos is None:
            return []
        b = self.positions[pos]["board"]
        if b is None or not self.is_dead(task):
            return [pos]
        board = self.boards[b]
        if pos == board["incoming"]:
            return [pos, board["ways"]]
        if pos == board["ways"] and not board["incoming_shrouded"]:
            return [pos, board["incoming"]]
        return [pos]

    def bare(self, position):
        p = self.positions[position]
        return list(p["bare"]) + [n for n in p["other_fed"] if n not in p["bare"]]

    def tasks_of(self, kind, key=None, value=None):
        return [t for t in self.job["tasks"]
                if t["kind"] == kind and (key is None or t[key] == value)]

    def left_off(self, circuit):
        c = self.circuits.get(circuit)
        return c is not None and said(c["left_off"])

    def way_nodes(self, circuit):
        """Ends of the circuit's joints that are not its own nodes."""
        own = set(self.circuits[circuit]["nodes"])
        return [n for j in self.joints_of[circuit] for n in (j["a"], j["b"]) if n not in own]
