"""W2: proved dead, and what voids a proof (model, sections 2 and 4)."""

from work import dead_tasks, one_way

READINGS_ORDER = ("L1", "L2", "L3", "N", "E")


class Proofs:
    """W2: which proofs exist, what voids them, and who may rely on them."""

    def __init__(self, run, report):
        self.run, self.rec, self.report = run, run.rec, report
        self.valid = {}        # (position, circuit or None) -> list of sets of people
        self.relied = {}       # device -> time order of the last good proof that relied on it
        self.locked_at = {}    # device -> time order at which it got its first lock
        self.last_there = {}   # position -> last minute at which somebody was there
        self.was_live = {p["id"] for p in self.rec.job["positions"] if p["live_before"]}
        self.sets = {}         # key -> securing devices seen last
        self.visit_ends = [v[1] for v in self.rec.visits]
        # A proving task is at every position that it proves, from its start.
        self.proves = {}
        for e in self.rec.events:
            if e["do"] == "prove" and e["position"] in self.rec.positions:
                self.proves.setdefault(e["task"], set()).add(e["position"])

    def nodes(self, key, task=None):
        pos, circuit = key
        if circuit is None:
            return self.rec.bare(pos)
        at = set(self.rec.bare(pos))
        return (list(self.rec.circuits[circuit]["nodes"])
                + [n for n in self.rec.way_nodes(circuit) if n in at])

    def there(self, k):
        task = self.rec.tasks[k]
        laid = self.rec.lays_open(task) if self.rec.is_dead(task) else []
        return set(laid) | self.proves.get(k, set())

    def void(self, pos):
        for key in list(self.valid):
            if key[0] == pos:
                self.valid[key] = []

    def keys(self):
        out = [(p, None) for p in self.rec.positions]
        return out + [k for k in self.valid if k[1] is not None]

    def check(self):
        self.note_live(self.run.first)
        self.seen_visits(self.rec.job["from"])
        previous = self.rec.job["from"]
        for step in self.run.steps:
            if any(previous < e <= step.t for e in self.visit_ends):
                for pos in self.rec.positions:
                    self.void(pos)
            previous = step.t
            self.event(step)
        return self

    def seen_visits(self, t):
        self.visit_ends = [e for e in self.visit_ends if e > t]

    def note_live(self, s):
        for p in self.rec.positions:
            if p not in self.was_live and any(self.run.any_live(s, n) for n in self.rec.bare(p)):
                self.was_live.add(p)

    def event(self, step):
        s, t, e = step.after, step.t, step.event
        if step.after is step.before:
            return
        self.note_live(s)
        # Idle too long: judged when somebody comes.
        if step.do == "start":
            for pos in self.there(e["task"]):
                busy = any(pos in self.there(k) for k in step.before.running)
                last = self.last_there.get(pos)
                if not busy and last is not None \
                        and t - last > self.rec.policy["proof_life"]:
                    self.void(pos)
                self.last_there[pos] = t
        elif step.do == "finish":
            for pos in self.there(e["task"]):
                self.last_there[pos] = t
        elif step.do == "prove":
            self.last_there[e["position"]] = t
        # Locks: a securing device loses its last lock.
        now, was = s.locked(), step.before.locked()
        for d in now - was:
            self.locked_at[d] = step.index
        gone = was - now
        for key in self.keys():
            if gone & self.run.securing(step.before, self.nodes(key)):
                self.valid[key] = []
            have = self.run.securing(s, self.nodes(key))
            for d in have - self.sets.get(key, frozenset()):
                if self.relied.get(d, -1) < self.locked_at.get(d, -1):
                    self.valid[key] = []
            self.sets[key] = have
        if step.do == "prove":
            self.prove(step)
        self.tasks(step, s)

    def prove(self, step):
        e, s, t = step.event, step.after, step.t
        key = (e["position"], e["circuit"])
        running = s.running.get(e["task"])
        why = self.bad(step, key, running)
        if why:
            self.bad_why = (e["position"], why)
            if running is not None:
                self.report("W2", t, f"{e['position']}: {why}")
            return
        have = self.run.securing(s, self.nodes(key))
        for d in have:
            self.relied[d] = step.index
        self.sets[key] = have
        self.valid.setdefault(key, []).append(set(running[1]))

    def bad(self, step, key, running):
        """Why this proof does not count, or None."""
        e, s = step.event, step.after
        pos, circuit = key
        if running is None:
            return "no running task"
        if not (e["tester_before"] and e["tester_after"]):
            return "tester not proved before and after"
        p = self.rec.positions[pos]
        if circuit is None:
            points = list(p["points"]) + [n for n in p["other_fed"] if n not in p["points"]]
        else:
            at = set(self.rec.bare(pos))
            points = [n for n in self.rec.way_nodes(circuit) if n in at]
            if not points:
                return "the circuit has no way there"
        if not points and self.rec.bare(pos):
            return "there is no point to prove"
        for n in points:
            names = [w for w in READINGS_ORDER
                     if w == "E" or w in self.run.net.wires.get(n, ())]
            got = e["readings"].get(n) or {}
            for i, a in enumerate(names):
                for b in names[i + 1:]:
                    name = f"{a}-{b}" if f"{a}-{b}" in got else f"{b}-{a}"
                    if name not in got:
                        return f"no reading {a}-{b} at {n}"
        for n, got in e["readings"].items():
            for name, volts in got.items():
                if volts is not None and abs(volts) > self.rec.policy["dead_volts"]:
                    return f"reading {name} at {n} is not dead"
        if any(self.run.any_live(s, n) for n in points):
            return "a point is live"
        for d in self.run.securing(s, self.nodes(key)):
            opened = s.opened_at.get(d)
            if opened is not None and running[0] < opened + p["discharge"]:
                return f"begun within the discharge time after {d} was opened"
        return None

    bad_why = None

    def needed(self, key, s):
        return key[0] in self.was_live or bool(self.run.securing(s, self.nodes(key)))

    def tasks(self, step, s):
        for task, _, who in dead_tasks(self.run, s):
            alone = one_way(self.run, s, task)
            for pos in self.rec.lays_open(task):
                keys = [(pos, None)]
                if alone and pos == task["position"]:
                    keys.append((pos, task["circuit"]))
                if not any(self.needed(k, s) for k in keys):
                    continue
                for p in who:
                    if not any(p in seen for k in keys for seen in self.valid.get(k, [])):
                        why = f" ({self.bad_why[1]})" if self.bad_why \
                            and self.bad_why[0] == pos else ""
                        self.report("W2", step.t,
                                    f"{task['id']}: {pos} is not proved dead for {p}{why}")
