"""T1 to T4: temporary supplies (model, section 6)."""

from fractions import Fraction

from record import LINES


def check(run, report):
    old_ways = {c: ways(run, run.first, c) for c in run.rec.circuits}
    states = [(run.rec.job["from"], run.first)] + [(s.t, s.after) for s in run.steps]
    for t, s in states:
        riders = {ts: [c for c in run.rec.circuits if ts in run.carried(s, c)]
                  for ts in run.rec.temporary_supplies}
        for ts in run.rec.job["temporary_supplies"]:
            if riders[ts["id"]]:
                t1(run, report, t, s, ts)
                t3(run, report, t, ts, riders[ts["id"]])
        t2(run, report, t, s, riders, old_ways)
        t4(run, report, t, s)


def ways(run, s, circuit):
    """{(kind, id, wire there): lines of the circuit that run through it} in this state.

    kinds: device (wire as named at a), source, node (for the end of a lead).
    """
    key = ("ways", circuit, s.closed, s.made, s.sources)
    if key in run.net._cache:
        return run.net._cache[key]
    out = {}
    edges, net = run.edges(s), run.net
    ends = [c for src in run.rec.sources if src["id"] in s.sources for c in net.source_wires(src)
            if c[1] in LINES]
    for n in run.rec.circuits[circuit]["nodes"]:
        for line in net.wires.get(n, ()):
            if line not in LINES:
                continue
            for end in ends:
                way = net.on_way((n, line), edges, [end])
                if way:
                    out.setdefault(("source", end[0], end[1]), set()).add(line)
                for e in way:
                    if e.kind == "device":
                        out.setdefault(("device", e.id, e.u[1]), set()).add(line)
                    for c in (e.u, e.v):
                        out.setdefault(("node", c[0], c[1]), set()).add(line)
    net._cache[key] = out
    return out


def t1(run, report, t, s, ts):
    """T1: the feed is live (every line of it that the lead takes) while anything rides."""
    lab = run.live(s)
    lead = run.net.wires.get(ts["node"], ())
    for w in run.net.wires.get(ts["feed"], ()):
        if w in LINES and w in lead and (ts["feed"], w) not in lab:
            report("T1", t, f"{ts['id']}: its feed {ts['feed']} {w} is dead")
            return


def amps(run, circuit, line):
    """Design current; where unknown, the rating of the circuit's own device (the largest)."""
    value = run.rec.circuits[circuit]["amps"].get(line)
    if value is not None:
        return value
    best = 0
    net = run.net
    for s in (run.first, run.last):
        edges = run.edges(s)
        ends = [c for src in run.rec.sources for c in net.source_wires(src)]
        for n in run.rec.circuits[circuit]["nodes"]:
            way = net.on_way((n, line), edges, ends)
            met, _ = net.first_met((n, line), way, lambda e: (
                e.kind == "device" and e.item["overcurrent"]))
            best = max([best] + [e.item["rating"] or 0 for e in met])
    return best


def load_on(run, s, where):
    """Sum of design currents of all circuits live through one wire of something."""
    total = 0
    for c in run.rec.circuits:
        for line in sorted(ways(run, s, c).get(where, ())):
            total += amps(run, c, line)
    return total


def t2(run, report, t, s, riders, old_ways):
    """T2: outgoing ways, and ratings wherever a carried circuit did not run before."""
    rec = run.rec
    for ts in rec.job["temporary_supplies"]:
        carried = riders[ts["id"]]
        if len(carried) > ts["ways"]:
            report("T2", t, f"{ts['id']} carries {len(carried)} circuits on {ts['ways']} ways")
        for c in carried:
            for where in ways(run, s, c):
                if where in old_ways[c]:
                    continue
                kind, name, wire = where
                if kind == "node" and name != ts["node"]:
                    continue
                item = ts if kind == "node" else (
                    rec.devices if kind == "device" else rec.nodes)[name]
                judge(run, report, t, s, item, where)
    for d in rec.job["devices"]:
        if d["temporary"] and d["id"] in s.closed:
            for w in d["wires"]:
                judge(run, report, t, s, d, ("device", d["id"], w.partition(">")[0]))


def judge(run, report, t, s, item, where):
    if item["rating"] is None:
        return
    load = load_on(run, s, where) * item["diversity"]
    if load > item["rating"]:
        report("T2", t, f"{item['id']} {where[2]} carries {float(load)} A, "
                        f"rated {float(item['rating'])} A")


def t3(run, report, t, ts, carried):
    """T3: voltage drop on the fullest line, and loop impedance that disconnects."""
    sums = {}
    for c in carried:
        for j in run.rec.joints_of[c]:
            if j["place"] != ts["id"]:
                continue
            own_at_b = j["b"] in run.rec.circuits[c]["nodes"]
            for wire in j["wires"]:
                a, _, b = wire.partition(">")
                b = b or a
                own, lead = (b, a) if own_at_b else (a, b)
                if lead in LINES:
                    sums[lead] = sums.get(lead, 0) + amps(run, c, own)
    drop = Fraction(ts["mv_per_a_m"]) * ts["length_m"] * max(sums.values(), default=0) / 1000
    if drop > ts["drop_limit_v"]:
        report("T3", t, f"{ts['id']} drops {float(drop)} V")
    for w in ("N", "E"):
        loop = ts["feed_loop_ohm"][w] + ts["lead_ohm_per_m"][w] * ts["length_m"]
        served = w == "E" and ts["rcd_ma"] is not None and ts["rcd_ma"] <= 30
        if loop > ts["loop_limit_ohm"] and not served:
            report("T3", t, f"{ts['id']} has a loop of {float(loop)} ohm to {w}")


def t4(run, report, t, s):
    """T4: circuits tied by E1, and neutral groups, ride together."""
    tied = [[g["feed"], g["watches"]] for g in run.rec.job["emergency_groups"]]
    for group in tied + run.rec.groups:
        rides = [run.carried(s, c) for c in group]
        if any(r != rides[0] for r in rides):
            report("T4", t, f"{group} do not ride together")
