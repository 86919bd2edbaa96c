"""E1 to E4: emergency lighting (model, section 5)."""

from fractions import Fraction

from record import LINES, merge, said


def check(run, report):
    states = [(run.rec.job["from"], run.first)] + [(s.t, s.after) for s in run.steps]
    for t, s in states:
        e1(run, report, t, s)
    e2_rest(run, report)
    for g in run.rec.job["emergency_groups"]:
        charge = Charge(run, g)
        e3(run, report, g, charge)
        e4_group(run, report, g)
    e4_areas(run, report)


def first_overcurrent(run, s, nodes):
    """(overcurrent devices first met towards supply from the lines, devices passed over).

    None instead of the set when some line meets a source without any.
    """
    key = ("ocd", tuple(nodes), s.closed, s.made, s.sources)
    if key not in run.net._cache:
        edges, net = run.edges(s), run.net
        ends = [c for src in run.rec.sources if src["id"] in s.sources
                for c in net.source_wires(src)]
        met, passed, missing = set(), set(), False
        for n in nodes:
            for c in net.line_conductors(n):
                if c[1] not in LINES:
                    continue
                way = net.on_way(c, edges, ends)
                found, seen = net.first_met(c, way, lambda e: (
                    e.kind == "device" and e.item["overcurrent"]))
                missing |= any(x in seen for x in ends)
                met |= {e.id for e in found}
                passed |= {e.id for e in way if e.kind == "device" and not e.item["overcurrent"]
                           and e.u in seen and e.v in seen}
        run.net._cache[key] = (None if missing else frozenset(met), frozenset(passed))
    return run.net._cache[key]


def e1(run, report, t, s):
    """E1: feed and watched circuit are live together, behind the same overcurrent device."""
    rec = run.rec
    for g in rec.job["emergency_groups"]:
        feed, watched = g["feed"], g["watches"]
        if not (run.circuit_live(s, feed) or run.circuit_live(s, watched)):
            continue
        if said(g["old_state_exempt"]) and not ({feed, watched} & s.moved):
            continue
        if carried_alone(run, s, feed, watched) or carried_alone(run, s, watched, feed):
            continue      # one on a lead, the other dead: T4's to report
        if not (run.circuit_full(s, feed, False) and run.circuit_full(s, watched, False)
                and run.circuit_live(s, feed) and run.circuit_live(s, watched)):
            report("E1", t, f"{g['id']}: {feed} and {watched} are not both live")
            continue
        first, _ = first_overcurrent(run, s, rec.circuits[feed]["nodes"])
        other, passed = first_overcurrent(run, s, rec.circuits[watched]["nodes"])
        if not first or not other or first != other:
            report("E1", t, f"{g['id']}: {feed} and {watched} are not behind the same "
                            f"overcurrent device")
            continue
        for d in passed:
            acting = rec.devices[d]["self_acting"]
            if acting and not covered(run, s, g, acting["node"]):
                control, _ = first_overcurrent(run, s, [acting["node"]])
                if control != other:
                    report("E1", t, f"{g['id']}: control circuit of {d} is behind another device")


def carried_alone(run, s, on, off):
    leads = run.carried(s, on)
    return bool(leads) and leads != run.carried(s, off) and run.circuit_live(s, on) \
        and not run.circuit_live(s, off)


def covered(run, s, group, node):
    """A declared sensing relay covers the circuit that this control node belongs to."""
    for c in group["relays"]:
        own = set(run.rec.circuits[c]["nodes"]) | set(run.rec.way_nodes(c))
        edges = [e for e in run.edges(s) if e.kind == "joint" or not e.breaks]
        reach = run.net.walk({(n, w) for n in own for w in LINES}, edges)
        if any((node, w) in reach for w in LINES):
            return True
    return False


def e2_rest(run, report):
    """E2: rest mode begins only with the feed dead."""
    for step in run.steps:
        e = step.event
        if step.do == "rest" and e["on"] and step.after is not step.before \
                and run.circuit_live(step.before, run.rec.emergency_groups[e["group"]]["feed"]):
            report("E2", step.t, f"{e['group']} is put at rest with its feed live")


class Charge:
    """E2: minutes of autonomy at each change, exact; straight lines in between."""

    def __init__(self, run, group):
        self.points = []       # (t0, t1, charge at t0, charge at t1, at rest)
        charge = min(Fraction(group["charge"]), Fraction(group["rated"]))
        for t0, t1, s in run.spans:
            for a, b, level, at_rest, charge in self.segment(run, group, s, t0, t1, charge):
                self.points.append((a, b, level, charge, at_rest))

    @staticmethod
    def segment(run, group, s, t0, t1, charge):
        rate = Charge.rate(run, group, s)
        rated = Fraction(group["rated"])
        end = min(rated, max(Fraction(0), charge + rate * (t1 - t0)))
        yield t0, t1, charge, group["id"] in s.rest, end

    @staticmethod
    def rate(run, group, s):
        testing = any(run.rec.tasks[k]["kind"] == "function_test"
                      and run.rec.tasks[k]["group"] == group["id"] for k in s.running)
        if testing:
            return Fraction(-1)
        if run.circuit_live(s, group["feed"]):
            return Fraction(group["rated"]) / group["recharge"] if group["recharge"] \
                else Fraction(10 ** 9)
        return Fraction(0) if group["id"] in s.rest else Fraction(-1)


def occupied(run, area):
    """Spans in which an area is occupied; people at work count unless task lighting is named."""
    spans = [list(x) for x in area["occupied"]]
    if not said(area["task_lighting"]):
        for t0, t1, s in run.spans:
            if any(run.rec.tasks[k]["area"] == area["id"] and who
                   for k, (_, who, _) in s.running.items()):
                spans.append([t0, t1])
    return merge([x for x in spans if x[1] > x[0]])


def lowest(x, y, point, group):
    """Lowest charge within [x, y) on one straight piece that stops at 0 and at rated."""
    t0, t1, c0, c1, at_rest = point
    lo, hi = max(x, t0), min(y, t1)
    if lo >= hi:
        return None
    if at_rest:
        return Fraction(0)
    if c1 < c0:        # falling, a minute a minute
        return max(Fraction(0), c0 - (hi - t0))
    if c1 == c0:
        return c0
    gain = Fraction(group["rated"]) / group["recharge"] if group["recharge"] else 10 ** 9
    return min(Fraction(group["rated"]), c0 + gain * (lo - t0))


def e3(run, report, group, charge):
    """E3: enough autonomy while an area is occupied; a group at rest has none."""
    for a in group["areas"]:
        area = run.rec.areas[a]
        if said(area["measure"]):
            continue
        for x, y in occupied(run, area):
            for point in charge.points:
                low = lowest(x, y, point, group)
                if low is None:
                    continue
                if low < area["autonomy"]:
                    report("E3", max(x, point[0]), f"{group['id']} has {float(low):.1f} min in {a}, "
                                                   f"needed are {area['autonomy']}")


def function_tests(run, group):
    """Finished function tests of a group: (finish index, finish time, sound?)."""
    rec = run.rec
    out = []
    for task in rec.tasks_of("function_test", "group", group["id"]):
        if task["id"] not in run.finish_index:
            continue
        opened, good = None, False
        for step in run.steps:
            if step.event.get("task") != task["id"] or step.after is step.before:
                continue
            if step.do == "open":
                first, _ = first_overcurrent(run, step.before,
                                             rec.circuits[group["feed"]]["nodes"])
                if first and step.event["device"] in first \
                        and run.circuit_live(step.before, group["feed"]):
                    opened = step.event["device"]
            elif step.do == "close" and step.event["device"] == opened:
                good = True
        _, end, passed = run.last.done[task["id"]]
        out.append((run.finish_index[task["id"]], end, good and passed))
    return out


def e4_group(run, report, group):
    """E4: function test before hand-back, and a sound date for the full-duration test."""
    rec = run.rec
    good = [x for x in function_tests(run, group) if x[2]]
    for a in group["areas"]:
        handed = run.last.handed.get(a)
        if handed is not None and not any(i < handed for i, _, _ in good):
            report("E4", run.steps[handed].t, f"{a} is handed back before the test of "
                                              f"{group['id']}")
    if not good:
        report("E4", run.rec.job["to"], f"{group['id']} has no function test")
    t = rec.claims["full_duration_tests"].get(group["id"])
    if t is None:
        report("E4", rec.job["to"], f"{group['id']} has no date for a full-duration test")
        return
    last = max([end for _, end, _ in good], default=rec.job["from"])
    live = run.circuit_live(run.first, group["feed"])
    for step in run.steps:
        now = run.circuit_live(step.after, group["feed"])
        if now and not live:
            last = max(last, step.t)
        live = now
    if t < last + group["recharge"]:
        report("E4", t, f"full-duration test of {group['id']} before a full recharge")
    if not rec.job["from"] <= t <= rec.job["to"]:
        report("E4", t, f"full-duration test of {group['id']} outside the time looked at")
    # Empty from start to end of the test, then gaining as in E2.
    points, charge, end = [], Fraction(0), t + group["rated"]
    points.append((t, end, charge, charge, False))
    for t0, t1, s in run.spans:
        t0 = max(t0, end)
        if t1 <= t0:
            continue
        for a, b, level, at_rest, charge in Charge.segment(run, group, s, t0, t1, charge):
            points.append((a, b, level, charge, at_rest))

    class After:
        pass
    after = After()
    after.points = points
    found = []
    e3(run, lambda rule, when, what: found.append((when, what)), group, after)
    for when, what in found[:1]:
        report("E4", when, f"after the full-duration test: {what}")


def e4_areas(run, report):
    """E4: every area is handed back, and after the last time nobody works there."""
    for a in run.rec.areas:
        handed = run.last.handed.get(a)
        if handed is None:
            report("E4", run.rec.job["to"], f"{a} is never handed back")
            continue
        for k, i in run.start_index.items():
            task = run.rec.tasks[k]
            end = run.finish_index.get(k, len(run.steps))
            if task["area"] == a and end > handed and task["people"]:
                report("E4", run.steps[i].t, f"{k} works in {a} after it is handed back")
