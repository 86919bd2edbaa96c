"""Replay of the events: the state after each of them, and rule S2 (an event that cannot happen).

`Replay.steps` holds one Step an event, with the states before and after it; `Replay.spans` holds
the states that last, [t0, t1) each, from `job.from` to `job.to`.
"""

import copy

from network import Network
from record import SWITCHING


class State:
    """Everything that section 2 of the model calls state, and what the record adds to it."""

    def __init__(self):
        self.closed = frozenset()     # devices, those that act by themselves included
        self.opened_at = {}           # device -> minute at which it was last opened
        self.locks = {}               # lock -> (device, owner, box)
        self.boxes = {}               # box -> set of owners whose lock is on it
        self.made = frozenset()       # joints that exist
        self.loose = frozenset()      # broken, but the task that took them off still runs
        self.running = {}             # task -> (start, who, instrument)
        self.done = {}                # task -> (start, finish, passed)
        self.sources = frozenset()    # running sources
        self.surge = set()            # cartridges and electronics that are in
        self.rest = set()             # groups at rest
        self.cover_off = set()        # boards
        self.proved_now = {}          # task -> positions that it has proved so far
        self.phase = {}               # circuit -> see `phase` in `_phase`
        self.out = set()              # circuits out of service, live or not
        self.moved = set()            # circuits that have been disconnected
        self.handed = {}              # area -> index of the last hand_back event

    def copy(self):
        new = copy.copy(self)
        for k in ("opened_at", "locks", "running", "done", "phase", "handed"):
            setattr(new, k, dict(getattr(self, k)))
        for k in ("surge", "rest", "cover_off", "out", "moved"):
            setattr(new, k, set(getattr(self, k)))
        new.boxes = {b: set(o) for b, o in self.boxes.items()}
        new.proved_now = {t: set(p) for t, p in self.proved_now.items()}
        return new

    def locked(self):
        """Devices that carry at least one lock."""
        return frozenset(d for d, _, _ in self.locks.values())

    def holds(self, person, lock):
        """W3: put on by them and the key kept, or the key in a box with a lock of their own."""
        _, owner, box = self.locks[lock]
        return owner == person if box is None else person in self.boxes.get(box, ())

    def locked_by(self, person):
        return frozenset(self.locks[k][0] for k in self.locks if self.holds(person, k))


class Step:
    def __init__(self, index, event, before, after):
        self.index, self.event, self.before, self.after = index, event, before, after
        self.t, self.do = event["t"], event["do"]


class Replay:
    def __init__(self, rec, report):
        self.rec, self.report = rec, report
        self.net = Network(rec)
        self.steps, self.spans = [], []
        self.start_index, self.finish_index = {}, {}
        self._run()

    # --- what a state means for the network --------------------------------------------------

    def edges(self, s):
        return self.net.active(s.closed, s.made)

    def live(self, s, neutral_too=False):
        """{conductor: sources}: what is live (section 2)."""
        return self.net.labels(s.sources, (s.closed, s.made), self.edges(s), neutral_too)

    def any_live(self, s, node):
        lab = self.live(s)
        return any(c in lab for c in self.net.line_conductors(node))

    def line_live(self, s, node):
        lab = self.live(s)
        return any(c in lab for c in self.net.line_conductors(node) if c[1] != "N")

    def circuit_live(self, s, circuit):
        """Live is any line."""
        return any(self.line_live(s, n) for n in self.rec.circuits[circuit]["nodes"])

    def circuit_full(self, s, circuit, earth):
        """All lines, N (and PE, to the main earthing terminal) have their path."""
        lab = self.live(s, neutral_too=True)
        for n in self.rec.circuits[circuit]["nodes"]:
            for w in self.net.wires.get(n, ()):
                if w != "PE" and (n, w) not in lab:
                    return False
        return not earth or self.earthed(s, circuit)

    def in_service(self, s, circuit):
        """Live for service (section 8)."""
        return circuit not in s.out and self.circuit_full(s, circuit, earth=True)

    def earth_net(self, s):
        key = ("earth", s.closed, s.made)
        if key not in self.net._cache:
            self.net._cache[key] = self.net.walk({(self.rec.job["earth"], "PE")}, self.edges(s))
        return self.net._cache[key]

    def earthed(self, s, circuit):
        """Every PE of the circuit has a path to the main earthing terminal."""
        reach = self.earth_net(s)
        return all((n, "PE") in reach for n in self.rec.circuits[circuit]["nodes"]
                   if "PE" in self.net.wires.get(n, ()))

    def secured(self, s, nodes, locked):
        """Are all conductors of these nodes secured, counting the locks on `locked`?"""
        return not self.unsecured_of(s, nodes, locked)

    def unsecured_of(self, s, nodes, locked, wires=None):
        joints = s.made | s.loose
        reach = self.net.reaches_source(
            ("unsecured", locked, joints), self.net.unsecured(locked, joints))
        return [c for n in nodes for c in self.net.line_conductors(n)
                if c in reach and (wires is None or c[1] in wires)]

    def own_nodes(self, circuit, task=None):
        """Own conductors' nodes of a circuit; the rest is reached through the network.

        A task adds the ends of the joints that it works on (old way, new way or hook-up).
        """
        out = list(self.rec.circuits[circuit]["nodes"])
        if task is not None and task["circuit"] == circuit:
            for j in self.worked_joints(task):
                out += [n for n in (j["a"], j["b"]) if n not in out]
        return out

    def worked_joints(self, task):
        """Joints of its circuit that a task of this kind makes or breaks."""
        joints = self.rec.joints_of.get(task["circuit"], [])
        if task["kind"] == "disconnect":
            return [j for j in joints if j["place"] == "old"]
        if task["kind"] == "connect":
            return [j for j in joints if j["place"] == "new"]
        if task["kind"] in ("hook_up", "unhook"):
            return [j for j in joints if j["place"] not in ("old", "new")]
        return []

    def securing(self, s, nodes):
        """Securing devices: locked devices first met on every path towards a source."""
        joints, locked = s.made | s.loose, s.locked()
        key = ("securing", tuple(nodes), joints, locked)
        if key not in self.net._cache:
            edges = self.net.unsecured(frozenset(), joints)
            ends = [c for src in self.rec.sources for c in self.net.source_wires(src)]
            out = set()
            for n in nodes:
                for c in self.net.line_conductors(n):
                    way = self.net.on_way(c, edges, ends)
                    met, _ = self.net.first_met(c, way, lambda e: (
                        e.kind == "device" and e.id in locked and e.breaks
                        and e.item["isolates"]))
                    out |= {e.id for e in met}
            self.net._cache[key] = frozenset(out)
        return self.net._cache[key]

    def carried(self, s, circuit):
        """Temporary supplies that carry the circuit: a joint made there."""
        return {j["place"] for j in self.rec.joints_of[circuit]
                if j["place"] in self.rec.temporary_supplies and j["id"] in s.made}

    def mounted(self, s, board):
        """A new board is a position from the start of its mounting."""
        mounts = self.rec.tasks_of("mount", "board", board)
        return not mounts or any(t["id"] in s.running or t["id"] in s.done for t in mounts)

    def stripped(self, s, board):
        return any(t["id"] in s.done for t in self.rec.tasks_of("strip_out", "board", board))

    # --- what follows by itself --------------------------------------------------------------

    def _settle(self, s, closed):
        """Sources and devices that act by themselves, judged by the sources that always run."""
        rec = self.rec
        always = frozenset(n["id"] for n in rec.sources if not n["self_start"])
        closed = set(closed)
        acting = [d for d in rec.job["devices"] if d["self_acting"]]
        locked = s.locked()

        def node_live(node):
            edges = self.net.active(frozenset(closed), s.made)
            lab = self.net.labels(always, (frozenset(closed), s.made), edges)
            return any((node, w) in lab for w in ("L1", "L2", "L3"))
        for _ in range(2 * len(acting) + 2):
            again = False
            for d in acting:
                rule = d["self_acting"]
                want = (node_live(rule["node"]) == (rule["closed_while"] == "live")
                        and d["id"] not in locked)
                if want != (d["id"] in closed):
                    (closed.add if want else closed.discard)(d["id"])
                    again = True
            if not again:
                break
        running = set(always)
        for n in rec.sources:
            if n["self_start"] and not node_live(n["watches"]):
                running.add(n["id"])
        s.closed, s.sources = frozenset(closed), frozenset(running)

    def _after(self, s, t, old_closed):
        for d in old_closed - s.closed:
            s.opened_at[d] = t
        for g in list(s.rest):
            if self.circuit_live(s, self.rec.emergency_groups[g]["feed"]):
                s.rest.discard(g)

    # --- the run -----------------------------------------------------------------------------

    def _run(self):
        rec = self.rec
        s = State()
        s.made = frozenset(j["id"] for j in rec.job["joints"] if j["made"])
        s.surge = {x["id"] for x in rec.job["surge_devices"] if x["in"]}
        s.cover_off = {b["id"] for b in rec.job["boards"] if not b["covers_on"]}
        s.phase = {c: "untouched" for c in rec.circuits}
        self._settle(s, {d["id"] for d in rec.job["devices"] if d["closed"]})
        self.first = s
        t = since = rec.job["from"]
        for i, event in enumerate(rec.events):
            if event["t"] < t or event["t"] > rec.job["to"]:
                self.report("S2", event["t"], "time goes back or leaves the time looked at")
            event = dict(event, t=max(event["t"], t))
            if event["t"] > since:
                self.spans.append((since, event["t"], s))
                since = event["t"]
            t = event["t"]
            after = s.copy()
            problem = self._apply(after, event, i)
            if problem:
                self.report("S2", t, f"{event['do']} {problem}")
                after = s
            self.steps.append(Step(i, event, s, after))
            s = after
        self.spans.append((since, max(rec.job["to"], since), s))
        self.last = s

    def state_at(self, t):
        """State once everything of minute t has happened."""
        s = self.first
        for step in self.steps:
            if step.t > t:
                break
            s = step.after
        return s

    def _apply(self, s, e, index):
        """Carry out one event; a text when it cannot happen."""
        handler = getattr(self, "_do_" + str(e["do"]), None)
        if handler is None:
            return "is no event"
        self._index = index
        old = s.closed
        try:
            problem = handler(s, e)
        except KeyError as missing:
            return f"names {missing}, which does not exist"
        if not problem:
            if e["do"] in ("open", "close", "lock", "unlock", "make", "break"):
                self._settle(s, s.closed)
            self._after(s, e["t"], old)
        return problem

    def _do_start(self, s, e):
        task = self.rec.tasks[e["task"]]
        if e["task"] in s.running or e["task"] in s.done:
            return "of a task begun before"
        s.running[e["task"]] = (e["t"], tuple(e["who"]), e["instrument"])
        self.start_index[e["task"]] = self._index
        board = self.rec.board_of(task)
        if self.rec.is_dead(task) and task["kind"] != "fit_covers" and board is not None \
                and task["position"] is not None:
            s.cover_off.add(board)
        c = task["circuit"]
        if task["kind"] in ("disconnect", "unhook", "connect", "hook_up"):
            s.phase[c] = "open"
        if task["kind"] in ("disconnect", "unhook", "connect"):
            s.out.add(c)
        if task["kind"] == "disconnect":
            s.moved.add(c)

    def _do_finish(self, s, e):
        task = self.rec.tasks[e["task"]]
        if e["task"] not in s.running:
            return "of a task that does not run"
        start, _, _ = s.running.pop(e["task"])
        s.done[e["task"]] = (start, e["t"], bool(e["pass"]))
        self.finish_index[e["task"]] = self._index
        s.loose = frozenset(j for j in s.loose if self._broken_by.get(j) != e["task"])
        s.proved_now.pop(e["task"], None)
        kind, c = task["kind"], task["circuit"]
        if kind in ("disconnect", "unhook"):
            s.phase[c] = "safe"
        elif kind == "connect" and e["pass"]:
            s.phase[c] = "connected"
        elif kind == "dead_test" and e["pass"] and s.phase.get(c) == "connected":
            s.phase[c] = "tested"
        elif kind == "hook_up" and e["pass"]:
            s.phase[c] = "hooked"
        if kind in ("hook_up", "live_test") and e["pass"]:
            s.out.discard(c)
        if kind == "fit_covers":
            board = self.rec.board_of(task)
            if not any(self.rec.board_of(self.rec.tasks[k]) == board
                       and self.rec.is_dead(self.rec.tasks[k])
                       and self.rec.tasks[k]["kind"] != "fit_covers" for k in s.running):
                s.cover_off.discard(board)

    def _do_open(self, s, e):
        d = self.rec.devices[e["device"]]
        if d["id"] not in s.closed:
            return "of a device that is open"
        if d["self_acting"]:
            return "of a device that acts by itself"
        s.closed = s.closed - {d["id"]}

    def _do_close(self, s, e):
        d = self.rec.devices[e["device"]]
        if d["id"] in s.closed:
            return "of a device that is closed"
        if d["id"] in s.locked():
            return "of a device that is locked"
        if d["self_acting"]:
            return "of a device that acts by itself"
        s.closed = s.closed | {d["id"]}

    def _do_lock(self, s, e):
        d = self.rec.devices[e["device"]]
        if d["id"] in s.closed:
            return "on a device that is closed"
        if e["lock"] in s.locks:
            return "with a lock that is in use"
        if not d["lockable"]:     # told, and then taken as on: what follows is no news
            self.report("S2", e["t"], f"lock on {d['id']}, which cannot be locked")
        s.locks[e["lock"]] = (d["id"], e["who"], e["box"])

    def _do_unlock(self, s, e):
        self.rec.devices[e["device"]]
        if e["lock"] not in s.locks or s.locks[e["lock"]][0] != e["device"]:
            return "of a lock that is not there"
        del s.locks[e["lock"]]

    def _do_box_lock(self, s, e):
        owners = s.boxes.setdefault(e["box"], set())
        if e["who"] in owners:
            return "by one whose lock is on it"
        owners.add(e["who"])

    def _do_box_unlock(self, s, e):
        if e["who"] not in s.boxes.get(e["box"], ()):
            return "by one whose lock is not on it"
        s.boxes[e["box"]].discard(e["who"])

    def _do_make(self, s, e):
        self.rec.joints[e["joint"]]
        if e["joint"] in s.made:
            return "of a joint that exists"
        s.made = s.made | {e["joint"]}
        s.loose = s.loose - {e["joint"]}
        c = self.rec.joints[e["joint"]]["circuit"]
        if c is not None and s.phase[c] == "tested":
            s.phase[c] = "connected"

    _broken_by = {}

    def _do_break(self, s, e):
        self.rec.joints[e["joint"]]
        if e["joint"] not in s.made:
            return "of a joint that does not exist"
        s.made = s.made - {e["joint"]}
        s.loose = s.loose | {e["joint"]}
        self._broken_by = dict(self._broken_by, **{e["joint"]: e["task"]})

    def _do_prove(self, s, e):
        p = self.rec.positions[e["position"]]
        if e["circuit"] is not None:
            self.rec.circuits[e["circuit"]]
        if p["board"] is not None:
            s.cover_off.add(p["board"])
        s.proved_now.setdefault(e["task"], set()).add(e["position"])

    def _do_surge(self, s, e):
        self.rec.surge_devices[e["surge"]]
        if (e["surge"] in s.surge) == e["in"]:
            return "of one that is so already"
        (s.surge.add if e["in"] else s.surge.discard)(e["surge"])

    def _do_rest(self, s, e):
        g = self.rec.emergency_groups[e["group"]]
        if not e["on"]:
            if e["group"] not in s.rest:
                return "ended where none is"
            s.rest.discard(e["group"])
            return None
        if e["group"] in s.rest:
            return "of a group at rest"
        if not g["rest_mode"]:    # told, and then taken as at rest
            self.report("S2", e["t"], f"rest of {g['id']}, which cannot be put at rest")
        s.rest.add(e["group"])      # `_after` ends it at once if the feed is live
        return None

    def _do_hand_back(self, s, e):
        self.rec.areas[e["area"]]
        s.handed[e["area"]] = self._index


def switching_task(task):
    return task["kind"] in SWITCHING or task["kind"] == "live_test"
