"""Service, outages and cost (model, section 8), and C1: every figure is what a replay gives."""

from fractions import Fraction

from record import merge, overlap

# Figures are stated to 0.1. At an exact half both neighbours are within it: records round either way.
HALF_STEP = Fraction(1, 20)


def outages(run):
    """{load: spans out of service}; off and on within a minute is an outage of one minute."""
    rec, out = run.rec, {}
    states = [(rec.job["from"], run.first)] + [(s.t, s.after) for s in run.steps]
    end = max(rec.job["to"], states[-1][0])
    for load in rec.job["loads"]:
        spans, since = [], None
        for t, s in states:
            if not serves(run, load, s):
                since = t if since is None else since
            elif since is not None:
                spans.append([since, max(t, since + 1)])
                since = None
        if since is not None:
            spans.append([since, max(end, since + 1)])
        out[load["id"]] = [tuple(x) for x in merge(spans)]
    return out


def serves(run, load, s):
    key = ("serves", load["id"], s.closed, s.made, s.sources, frozenset(s.out))
    if key not in run.net._cache:
        live = sum(1 for c in load["circuits"] if run.in_service(s, c))
        run.net._cache[key] = live >= (len(load["circuits"]) if load["needs"] == "all"
                                       else load["needs"])
    return run.net._cache[key]


def counted(load, spans):
    """The part of each outage that counts, ride-through taken off its start; None for none."""
    full = left = Fraction(load["ride_through"])
    recharge = load["ride_recharge"]
    recharge = full * 10 if recharge is None else Fraction(recharge)
    out, last = [], None
    for s, e in spans:
        if last is not None and left < full:
            left = full if recharge == 0 else min(full, left + (s - last) * full / recharge)
        if e - s <= left:
            left -= e - s
            out.append(None)
        else:
            out.append((s + left, Fraction(e)))
            left = Fraction(0)
        last = e
    return out


def cost(run, outs):
    """(parts in order, J), exact."""
    rec, p = run.rec, run.rec.policy
    needed = other = count = Fraction(0)
    for load in rec.job["loads"]:
        for part in counted(load, outs[load["id"]]):
            if part is None:
                continue
            inside = overlap(load["needed"], *part)
            needed += load["weight"] * inside
            other += load["weight"] * p["f"] * (part[1] - part[0] - inside)
            count += load["weight"] * p["q"] * (1 if inside > 0 else p["f"])
    visits = Fraction(0)
    for a, b in rec.visits:
        people = set()
        for k, (start, end, _, who) in task_spans(run).items():
            if start < b and (end > a if end > start else start >= a):
                people |= set(who)
        visits += p["v"] * len(people)
    riding = Fraction(0)
    for t0, t1, s in run.spans:
        riding += p["h"] * Fraction((t1 - t0) * sum(
            1 for c in rec.circuits for _ in run.carried(s, c)), 60)
    parts = {"needed": needed, "other": other, "counted": count, "visits": visits,
             "riding": riding}
    return parts, sum(parts.values())


def task_spans(run):
    """{task: (start, finish, passed, who)} of tasks begun; unfinished ones last to the end."""
    out = {}
    for step in run.steps:
        if step.do == "start" and step.after is not step.before:
            k = step.event["task"]
            done = run.last.done.get(k)
            end, passed = (done[1], done[2]) if done else (run.rec.job["to"], False)
            out[k] = (step.t, end, passed, tuple(step.event["who"]))
    return out


def tenth(x):
    """To 0.1, halves up."""
    return Fraction((Fraction(x) * 10 + Fraction(1, 2)).__floor__(), 10)


def walking(run):
    """1 when the position differs from the last, or the ways there are more than one apart."""
    rec, total, last = run.rec, 0, {}

    def place(circuit, row):
        if circuit is None:
            return None
        ways = set(rec.way_nodes(circuit)) | set(rec.circuits[circuit]["nodes"])
        return next((i for i, n in enumerate(row) if n in ways), None)
    for k in sorted(run.start_index, key=run.start_index.get):
        task = rec.tasks[k]
        if task["position"] is None:
            continue
        row = rec.positions[task["position"]]["row"]
        for p in task_spans(run)[k][3]:
            before = last.get(p)
            if before is not None:
                if before["position"] != task["position"]:
                    total += 1
                else:
                    a, b = place(before["circuit"], row), place(task["circuit"], row)
                    if a is not None and b is not None and abs(a - b) > 1:
                        total += 1
            last[p] = task
    return total


def still_live(run):
    """{dead task: enclosed nodes with a live line at any minute of it} (W1, printed)."""
    rec, out = run.rec, {}
    for k, (start, end, _, _) in task_spans(run).items():
        task = rec.tasks[k]
        if not rec.is_dead(task):
            continue
        at = {task["position"]} - {None}
        board = rec.board_of(task)
        if board is not None:
            at |= {rec.boards[board]["incoming"], rec.boards[board]["ways"]}
            at |= {p["id"] for p in rec.job["positions"] if p["board"] == board}
        nodes = {n for p in at for n in rec.positions[p]["enclosed"]}
        live = {n for n in nodes for t0, t1, s in run.spans
                if max(t0, start) < min(t1, end) and run.line_live(s, n)}
        if live:
            out[k] = live
    return out


def c1(run, report, outs):
    """C1: compare every claim."""
    rec, claims = run.rec, run.rec.claims
    end = rec.events[-1]["t"] if rec.events else rec.job["from"]

    def differ(what, claimed, found):
        report("C1", end, f"{what}: claimed {claimed}, the replay gives {found}")
    for load in rec.loads:
        claim = [tuple(x) for x in claims["outages"].get(load, [])]
        if claim != outs[load]:
            differ(f"outages of {load}", claim, outs[load])
    for load in claims["outages"]:
        if load not in rec.loads:
            differ("outages", load, "no such load")
    parts, j = cost(run, outs)
    for name, value in parts.items():
        if name not in claims["parts"] or abs(claims["parts"][name] - value) > HALF_STEP:
            differ(name, claims["parts"].get(name), float(tenth(value)))
    if abs(claims["J"] - j) > HALF_STEP:
        differ("J", float(claims["J"]), float(tenth(j)))
    bound = claims["lower_bound"]
    if not 0 <= bound <= j:
        differ("lower_bound", float(bound), f"0 to {float(j)}")
    gap = (j - bound) / j if j else Fraction(0)
    if abs(claims["gap"] - gap) > (Fraction(1, 1000) if j else 0):
        differ("gap", float(claims["gap"]), float(gap))
    if claims["finish"] != end:
        differ("finish", claims["finish"], end)
    ops = sum(1 for e in rec.events
              if e["do"] in ("lock", "unlock", "box_lock", "box_unlock"))
    if claims["lock_operations"] != ops:
        differ("lock_operations", claims["lock_operations"], ops)
    steps = walking(run)
    if claims["walking"] != steps:
        differ("walking", claims["walking"], steps)
    for g in claims["full_duration_tests"]:
        if g not in rec.emergency_groups:
            differ("full_duration_tests", g, "no such group")
    live = still_live(run)
    claim = {k: sorted(v) for k, v in claims["still_live"].items()}
    if claim != {k: sorted(v) for k, v in live.items()}:
        differ("still_live", claim, {k: sorted(v) for k, v in live.items()})
