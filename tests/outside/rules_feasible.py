"""S1, S3 and F1 to F5: when a plan is feasible (model, sections 3 and 7). S2 is in replay."""

from cost import counted, task_spans
from record import DEAD, KINDS, LINES, NEEDS, OPTIONAL, overlap, pairs, said


def check(run, report, outs):
    s1(run, report)
    s3_events(run, report)
    s3_tasks(run, report)
    s3_people(run, report)
    s3_order(run, report)
    s3_finished(run, report)
    for load in run.rec.job["loads"]:
        if not any(run.rec.left_off(c) for c in load["circuits"]):
            f1(run, report, load, outs[load["id"]])
            f4(run, report, load, outs[load["id"]])
        f2_f3(run, report, load, outs[load["id"]])
    f5(run, report)


# --- S1 --------------------------------------------------------------------------------------


def s1(run, report_at):
    """S1: the job can be planned at all (plan-record, "What each name means")."""
    rec, net = run.rec, run.net

    def report(what):
        report_at("S1", rec.job["from"], what)
    everything = list(net.edges)
    ends = {c for src in rec.sources for c in net.source_wires(src, neutral_too=True)}
    for p in rec.job["positions"]:
        found = p["none_found"]
        stated = found is not None and said(found.get("by")) and said(found.get("when"))
        if not p["other_fed"] and not p["enclosed"] and not stated:
            report(f"{p['id']} lists nothing fed from elsewhere, nor states that none was found")
        for n in p["other_fed"]:
            old = [e for e in everything if e.kind == "device" or e.item["made"]]
            if not net.walk(set(net.line_conductors(n)), old) & ends:
                report(f"{n} at {p['id']} is fed from elsewhere, but has no source")
    cut_in(run, report)
    for d in rec.job["devices"]:
        if any("PE" in w.split(">") for w in d["breaks"]):
            report(f"{d['id']} breaks a protective conductor")
    for c in rec.job["circuits"]:
        if not said(c["no_earth"]) and any("PE" not in net.wires.get(n, ()) for n in c["nodes"]):
            report(f"{c['id']} has no protective conductor and no reason")
        changed_lines(run, report, c)
    for t in rec.job["tasks"]:
        c = t["circuit"]
        if t["kind"] == "connect":
            for kind in ("dead_test", "live_test"):
                if not rec.tasks_of(kind, "circuit", c):
                    report(f"{t['id']} without {kind}")
        if t["kind"] == "hook_up" and not rec.tasks_of("unhook", "circuit", c):
            report(f"{t['id']} without unhook")
        if t["kind"] == "mount" and not rec.tasks_of("test_board", "board", t["board"]):
            report(f"{t['id']} without board test")
    for a in rec.job["areas"]:
        groups = [g for g in rec.job["emergency_groups"] if a["id"] in g["areas"]]
        for c in a["lighting"]:
            if groups and not any(c == g["watches"] or c in g["relays"] for g in groups):
                report(f"lighting circuit {c} of {a['id']} is not watched")


def cut_in(run, report):
    """A lockable isolating device between incoming terminals and every source, one level up."""
    rec, net = run.rec, run.net
    edges = [e for e in net.edges if not (
        e.kind == "device" and e.breaks and e.item["lockable"] and e.item["isolates"])]
    ends = {c for src in rec.sources for c in net.source_wires(src)}
    for b in rec.job["boards"]:
        if not any(t["board"] == b["id"] and t["kind"] in ("mount", "connect_tails", "strip_out")
                   for t in rec.job["tasks"]):
            continue
        starts = {c for n in rec.bare(b["incoming"]) for c in net.line_conductors(n)}
        starts -= {c for c in starts if c[0] in rec.positions[b["incoming"]]["other_fed"]}
        if net.walk(starts, edges) & ends:
            report(f"nothing to lock off between {b['incoming']} and a source")


def changed_lines(run, report, circuit):
    """A three-phase circuit may change its lines only if its loads allow any order."""
    rec = run.rec
    own = set(circuit["nodes"])
    lines = {w for n in own for w in run.net.wires.get(n, ()) if w in LINES}
    if len(lines) < 3:
        return

    def order(j):
        way = pairs(j["wires"])
        if j["b"] not in own:
            way = [(b, a) for a, b in way]
        return {b: a for a, b in way if b in LINES}
    joints = rec.joints_of[circuit["id"]]
    old = {w: w for w in LINES}
    for j in joints:
        if j["place"] == "old":
            old.update(order(j))
    for j in joints:
        if j["place"] != "old" and any(a != old[b] for b, a in order(j).items()):
            loads = [x for x in rec.job["loads"] if circuit["id"] in x["circuits"]]
            if not all(x["any_order"] for x in loads):
                report(f"{circuit['id']} changes its lines at {j['id']}")


# What a task of a kind must name (plan-record, "Task kinds").
SUBJECTS = {kind: ("position",) for kind in DEAD | {"live_test"}}
for _kind in ("disconnect", "hook_up", "unhook", "connect", "dead_test", "live_test"):
    SUBJECTS[_kind] = ("position", "circuit")
for _kind in ("strip_out", "mount", "connect_tails", "fit_surge", "test_board", "fit_covers", "dress"):
    SUBJECTS[_kind] = ("position", "board")
SUBJECTS["identify"], SUBJECTS["function_test"] = ("circuit",), ("group",)


# --- S3 --------------------------------------------------------------------------------------


def s3_events(run, report):
    """S3: who does what belongs to a running task of theirs; joints match the task."""
    rec = run.rec
    for step in run.steps:
        e, s = step.event, step.before
        if step.do in ("start", "finish", "hand_back") or step.after is s:
            continue
        who, k = e["who"], e["task"]
        device = rec.devices.get(e.get("device")) if "device" in e else None
        third = device and device["third_party"]
        if third and (k is None or step.do in ("open", "close")):
            inside = any(a <= step.t < b for a, b in third["appointments"])
            if k is not None or who != third["owner"] or not inside:
                report("S3", step.t, f"{step.do} of {device['id']}: only its owner, in an "
                                     f"appointment")
            continue
        if k is None:
            busy = any(who in people for _, people, _ in s.running.values())
            if step.do not in ("box_lock", "box_unlock") or busy or who not in rec.people:
                report("S3", step.t, f"{step.do} by {who} outside a task")
            continue
        if k not in s.running or who not in s.running[k][1]:
            report("S3", step.t, f"{step.do} by {who}, who is not on the running task {k}")
            continue
        if step.do == "prove":
            tool = rec.instruments.get(e["instrument"])
            if tool is None or "detector" not in tool["kinds"] \
                    or s.running[k][2] != e["instrument"]:
                report("S3", step.t, f"{k} proves without a detector of its own")
        if step.do in ("make", "break"):
            joint_matches(run, report, step, rec.joints[e["joint"]], rec.tasks[k])


def joint_matches(run, report, step, joint, task):
    """Which task may work a joint (plan-record, "What has no event of its own")."""
    rec = run.rec
    if joint["circuit"] is not None:
        kinds = {"break": {"old": "disconnect"}, "make": {"new": "connect"}}[step.do]
        kind = kinds.get(joint["place"])
        if joint["place"] in rec.temporary_supplies:
            kind = "unhook" if step.do == "break" else "hook_up"
        good = task["kind"] == kind and task["circuit"] == joint["circuit"]
    else:
        at = rec.lays_open(task)
        board = rec.board_of(task)
        if task["kind"] == "strip_out" and board is not None:
            at = [rec.boards[board]["incoming"], rec.boards[board]["ways"]]
        bare = {n for p in at for n in rec.bare(p)}
        good = (task["circuit"] is None and rec.is_dead(task)
                and bool(bare & {joint["a"], joint["b"]}))
    if not good:
        report("S3", step.t, f"{step.do} {joint['id']} does not match {task['id']}")


def s3_tasks(run, report):
    """S3: duration, people, skills, presence, instruments, hands, deliveries."""
    rec = run.rec
    spans = task_spans(run)
    for k, (start, end, passed, who) in spans.items():
        task = rec.tasks[k]
        if task["circuit"] is not None and rec.left_off(task["circuit"]) and k not in run.last.done:
            continue
        if k not in run.last.done:
            report("S3", start, f"{k} is never finished")
            continue
        if end - start != task["planned"]:
            report("S3", end, f"{k} takes {end - start} min, planned are {task['planned']}")
        if not task["duration"][0] <= task["planned"] <= task["duration"][2]:
            report("S3", start, f"{k} is planned outside its durations")
        if not passed and task["kind"] not in ("test_board", "function_test"):
            report("S3", end, f"{k} is not passed")     # of those two W4 and E4 tell
        for key in SUBJECTS.get(task["kind"], ()):
            if task[key] is None:
                report("S3", start, f"{k} names no {key}")
        if len(set(who)) != task["people"] or len(set(who)) != len(who):
            report("S3", start, f"{k} has {len(who)} people, needs {task['people']}")
        for p in who:
            person = rec.people.get(p)
            if person is None or task["kind"] not in person["may"]:
                report("S3", start, f"{p} may not do {k}")
            if person is not None and not any(
                    a <= start and end <= b for a, b in person["present"]):
                report("S3", start, f"{p} is not present during {k}")
        if task["delivery"] is not None and start < rec.deliveries[task["delivery"]]["at"]:
            report("S3", start, f"{k} does not wait for {task['delivery']}")
        instrument(run, report, task, start)
        for a in task["after"]:
            if a not in run.last.done:
                t = rec.tasks[a]
                if t["circuit"] is not None and rec.left_off(t["circuit"]):
                    continue
                report("S3", start, f"{k} starts, {a} is never done")
            elif run.finish_index[a] > run.start_index[k] or not run.last.done[a][2]:
                report("S3", start, f"{k} starts before {a} is done")
    for step in run.steps:
        if step.do != "start" or step.after is step.before:
            continue
        here = rec.tasks[step.event["task"]]["position"]
        if here is not None:
            people = sum(len(w) for k, (_, w, _) in step.after.running.items()
                         if rec.tasks[k]["position"] == here)
            if people > rec.positions[here]["hands"]:
                report("S3", step.t, f"{people} people at {here}")


def instrument(run, report, task, start):
    rec = run.rec
    index = run.start_index[task["id"]]
    step = run.steps[index]
    tool = rec.instruments.get(step.event["instrument"])
    if step.event["instrument"] is not None and tool is None:
        report("S3", start, f"{task['id']} uses an unknown instrument")
    for kind in {task["instrument"], NEEDS.get(task["kind"])} - {None}:
        if tool is None or kind not in tool["kinds"]:
            report("S3", start, f"{task['id']} has no {kind}")
    if tool is not None:
        for k, (_, _, other) in step.before.running.items():
            if other == tool["id"]:
                report("S3", start, f"{tool['id']} is in use by {k}")


def s3_people(run, report):
    """S3: one task at a time, walking times, breaks."""
    rec = run.rec
    spans = task_spans(run)
    walks = {}
    for w in rec.job["walks"]:
        walks[(w["a"], w["b"])] = walks[(w["b"], w["a"])] = w["minutes"]
    for step in run.steps:
        if step.do == "start" and step.after is not step.before:
            for k, (_, who, _) in step.before.running.items():
                for p in set(who) & set(step.event["who"]):
                    report("S3", step.t, f"{p} is on {k}")
    for p in rec.people:
        mine = sorted((k for k in spans if p in spans[k][3]), key=run.start_index.get)
        acts = [s.t for s in run.steps
                if s.event.get("who") == p and s.do != "hand_back"]
        last, busy = None, 0       # last task with a position; minutes in tasks since
        for k in mine:
            start, end = spans[k][:2]
            here = rec.tasks[k]["position"]
            if here is None:
                busy += end - start
                continue
            if last is not None:
                need = walks.get((rec.tasks[last]["position"], here), 0)
                if start - spans[last][1] - busy < need:
                    report("S3", start, f"{p} has no time to walk from {last} to {k}")
            last, busy = k, 0
        begin = end_before = None
        for k in mine:
            start, end = spans[k][:2]
            if begin is None or rest(rec, end_before, start, acts):
                begin = start
            end_before = end if end_before is None else max(end, end_before)
            if end_before - begin > rec.policy["longest_stretch"]:
                report("S3", end, f"{p} has worked since {begin} without a break")


def rest(rec, a, b, acts):
    """Is there a break within the gap [a, b], nothing being done in it?"""
    marks = sorted({a, b} | {t for t in acts if a < t < b})
    return any(y - x >= rec.policy["break"] for x, y in zip(marks, marks[1:]))


def s3_order(run, report):
    """S3: the order of work on a circuit, a board and a group (model, section 3)."""
    rec = run.rec

    def before(first, second, why, passed=True):
        """Every begun `second` starts after every `first` is done (those that are begun)."""
        for b in second:
            if b["id"] not in run.start_index:
                continue
            for a in first:
                done = run.last.done.get(a["id"])
                late = a["id"] not in run.finish_index or \
                    run.finish_index[a["id"]] > run.start_index[b["id"]]
                if late or (passed and not done[2]):
                    report("S3", run.steps[run.start_index[b["id"]]].t,
                           f"{b['id']} starts before {a['id']} is done ({why})")
    for c in rec.circuits:
        if rec.left_off(c):
            continue
        of = {kind: rec.tasks_of(kind, "circuit", c) for kind in KINDS}
        before([t for t in of["identify"] if t["id"] in run.start_index],
               of["disconnect"], "identify")
        has_old = any(j["place"] == "old" for j in rec.joints_of[c])
        if has_old:
            for kind in ("hook_up", "connect"):
                need = of["disconnect"]
                if not need:
                    for t in of[kind]:
                        if t["id"] in run.start_index:
                            report("S3", run.steps[run.start_index[t["id"]]].t,
                                   f"{t['id']} without disconnect")
                before(need, of[kind], "order of a circuit")
        before(of["connect"], of["dead_test"], "order of a circuit")
        before(of["dead_test"], of["live_test"], "order of a circuit")
    for step in run.steps:
        if step.after is step.before or step.do not in ("start", "finish"):
            continue
        circuit_joints(run, report, step)
    for b in rec.job["boards"]:
        of = {kind: rec.tasks_of(kind, "board", b["id"]) for kind in KINDS}
        if b["replaces"] is not None:
            before(rec.tasks_of("strip_out", "board", b["replaces"]), of["mount"], "same place")
        tails = [t for t in of["connect_tails"] if t["position"] is not None
                 and rec.positions[t["position"]]["board"] == b["id"]]
        at_board = [t for t in rec.job["tasks"] if t["kind"] in ("connect", "dress")
                    and t["position"] is not None
                    and rec.positions[t["position"]]["board"] == b["id"]]
        before(of["mount"], tails + of["fit_surge"] + of["test_board"] + at_board, "mount first")
        before(of["connect_tails"] + of["fit_surge"], of["test_board"], "board test after")
        if of["mount"] or of["test_board"]:
            before(of["test_board"], of["energise"], "board test first")
    for g in rec.job["emergency_groups"]:
        tests = rec.tasks_of("function_test", "group", g["id"])
        before([t for t in rec.tasks_of("live_test", "circuit", g["feed"])
                if not rec.left_off(g["feed"])], tests, "after its circuit is back")


def circuit_joints(run, report, step):
    """S3: a task has made or broken its joints when it ends; strip out leaves none."""
    rec, s = run.rec, step.after
    task = rec.tasks[step.event["task"]]
    joints = rec.joints_of.get(task["circuit"], [])
    made = [j["id"] for j in joints if j["id"] in s.made]
    kind = task["kind"]
    if step.do == "start":
        if kind in ("connect", "hook_up") and made:
            report("S3", step.t, f"{task['id']} starts while {made} exist")
        if kind == "unhook" and not any(
                j["place"] in rec.temporary_supplies and j["id"] in s.made for j in joints):
            report("S3", step.t, f"{task['id']} of a circuit that is not hooked up")
        if kind == "strip_out":
            own = board_nodes(run, task["board"])
            for j in rec.job["joints"]:
                if j["circuit"] is not None and j["id"] in s.made and {j["a"], j["b"]} & own:
                    report("S3", step.t, f"{task['id']} starts while {j['id']} exists")
        return
    worked = run.worked_joints(task)
    if kind in ("disconnect", "unhook") and any(j["id"] in s.made for j in worked):
        report("S3", step.t, f"{task['id']} ends with a joint left")
    if kind == "connect" and any(j["id"] not in s.made for j in worked):
        report("S3", step.t, f"{task['id']} ends with a joint missing")
    if kind == "hook_up" and not any(
            all(j["id"] in s.made for j in worked if j["place"] == ts)
            for ts in {j["place"] for j in worked}):
        report("S3", step.t, f"{task['id']} ends with a joint missing")
    if kind == "live_test" and task["circuit"] is not None \
            and not run.circuit_live(s, task["circuit"]):
        report("S3", step.t, f"{task['id']} ends with its circuit dead")
    if kind == "strip_out":
        own = board_nodes(run, task["board"])
        for j in rec.job["joints"]:
            if j["id"] in s.made and {j["a"], j["b"]} & own:
                report("S3", step.t, f"{task['id']} leaves {j['id']}")


def board_nodes(run, board):
    """Nodes bare at this board's positions and at no other board's."""
    rec = run.rec

    def bare(b):
        return set(rec.bare(b["incoming"])) | set(rec.bare(b["ways"]))
    own = bare(rec.boards[board]) if board in rec.boards else set()
    for b in rec.job["boards"]:
        if b["id"] != board:
            own -= bare(b)
    return own


def s3_finished(run, report):
    """S3: all work is done by the end of the last window."""
    rec = run.rec
    end = max([w["to"] for w in rec.job["windows"]], default=rec.job["to"])
    s = run.state_at(end)
    for t in rec.job["tasks"]:
        if t["id"] in run.start_index or t["kind"] in OPTIONAL:
            continue
        if t["circuit"] is not None and rec.left_off(t["circuit"]):
            continue
        report("S3", end, f"{t['id']} is not done")
    for c in rec.circuits:
        joints = rec.joints_of[c]
        if rec.left_off(c) or not any(j["place"] == "new" for j in joints):
            continue
        if any((j["id"] in s.made) != (j["place"] == "new") for j in joints):
            report("S3", end, f"{c} does not have its new joints only")
        if not run.circuit_live(s, c):
            report("S3", end, f"{c} is not live")
        for kind in ("connect", "dead_test", "live_test"):
            if not any(s.done.get(t["id"], (0, 0, False))[2]
                       for t in rec.tasks_of(kind, "circuit", c)):
                report("S3", end, f"{c}: {kind} is not done")


# --- F1 to F5 --------------------------------------------------------------------------------


def own_windows(run, load):
    return [w for w in run.rec.job["windows"] if set(load["areas"]) <= set(w["areas"])]


def f1_ok(run, load, s, e):
    """Does an outage [s, e) keep F1?"""
    margin = run.rec.policy["margin"]
    windows = own_windows(run, load)
    for w in windows:
        if not w["from"] <= s < w["to"]:
            continue
        if e <= w["to"] - margin:
            return True
        if not load["may_stay_out"]:
            continue
        for later in windows:
            if later["from"] >= w["from"] and later is not w and later["from"] <= e \
                    and e <= later["to"] - margin \
                    and not overlap(load["needed"], w["to"], later["from"]):
                return True
    return False


def f1(run, report, load, spans):
    """F1: begins in an open window, ends there in time, or in a later one if allowed."""
    for s, e in spans:
        if not f1_ok(run, load, s, e):
            report("F1", e, f"outage {s} to {e} of {load['id']} is not within a window")


def f2_f3(run, report, load, spans):
    """F2: limits on the counted outages. F3: none at all for a life-safety load."""
    for rule, t, what in limits(load, spans):
        report(rule, t, what)


def limits(load, spans):
    total = 0
    for part in counted(load, spans):
        if part is None:
            continue
        length = part[1] - part[0]
        total += length
        if load["max_single"] is not None and length > load["max_single"]:
            yield "F2", int(part[1]), f"{load['id']} is out for {float(length)} min"
        if load["life_safety"] and not said(load["measure"]):
            yield "F3", int(part[0]), f"life-safety load {load['id']} is out"
    if load["max_total"] is not None and total > load["max_total"]:
        yield "F2", int(spans[-1][1]), f"{load['id']} is out for {float(total)} min in all"


def f4_bad(run, load, spans):
    """Window ends at which a load is out that is needed before its next window."""
    windows = own_windows(run, load)
    for w in windows:
        end = w["to"]
        nexts = [max(x["from"], end) for x in windows if x is not w and x["to"] > end]
        until = min(nexts, default=run.rec.job["to"])
        if overlap(load["needed"], end, until) and any(s <= end < e for s, e in spans):
            yield end


def f4(run, report, load, spans):
    """F4: at a window's end every load needed before its next window is in service."""
    for end in f4_bad(run, load, spans):
        report("F4", end, f"{load['id']} is out at the end of a window")


def f5(run, report):
    """F5: what must be put right at the end of each visit and of the plan."""
    rec = run.rec
    ends = [(b, run.state_at(b)) for _, b in rec.visits]
    finish = run.steps[-1].t if run.steps else rec.job["from"]
    ends.append((finish, run.last))
    for t, s in ends:
        for b in rec.job["boards"]:
            if run.mounted(s, b["id"]) and not run.stripped(s, b["id"]) \
                    and b["id"] in s.cover_off and not rec.shrouded(b):
                report("F5", t, f"the cover of {b['id']} is off")
        for k, (device, owner, _) in s.locks.items():
            if not any(x["device"] == device and x["owner"] == owner and said(x["reason"])
                       for x in rec.job["standing_locks"]):
                report("F5", t, f"lock {k} of {owner} is on {device}")
        for box, owners in s.boxes.items():
            for o in owners:
                report("F5", t, f"lock of {o} is on {box}")
        for x in rec.job["surge_devices"]:
            if x["id"] in s.surge:
                continue
            if x["board"] is not None:
                if not run.mounted(s, x["board"]) or run.stripped(s, x["board"]):
                    continue
                fits = rec.tasks_of("fit_surge", "board", x["board"])
                if x["kind"] == "cartridge" and fits and not all(
                        f["id"] in s.done for f in fits):
                    continue
            report("F5", t, f"{x['id']} is not in")
        for g in s.rest:
            report("F5", t, f"{g} is at rest")
    reach(run, report, finish)


def reach(run, report, finish):
    """F5: at the plan's end every source reaches each load that it reached at the start."""
    rec, net = run.rec, run.net
    for source in rec.sources:
        start = {c for c in net.source_wires(source) if c[1] in LINES}
        old = net.walk(start, run.edges(run.first))
        new = net.walk(start, run.edges(run.last))
        for load in rec.job["loads"]:
            for c in load["circuits"]:
                if rec.left_off(c):
                    continue
                had, has = (any((n, w) in seen for n in rec.circuits[c]["nodes"] for w in LINES)
                            for seen in (old, new))
                if had and not has:
                    report("F5", finish, f"{source['id']} no longer reaches {load['id']}")
