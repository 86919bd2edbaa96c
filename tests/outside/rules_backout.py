"""B1: the back-out (model, section 9; plan-record, `back_out`)."""

from cost import task_spans
from record import KINDS, said
from rules_feasible import f1_ok, f4_bad, limits


def check(run, report, outs):
    rec = run.rec
    spans = task_spans(run)
    steps = {}
    for step in rec.plan["back_out"]["steps"]:
        where = spans.get(step["task"], (rec.job["from"],))[0]
        if step["task"] not in spans:
            report("B1", where, f"back-out from {step['task']}, which does not run")
        if step["task"] in steps:
            report("B1", where, f"two back-out steps from {step['task']}")
        steps[step["task"]] = step
        shape(run, report, where, step)
    points = visit_points(run, report)
    loads = [x for x in rec.job["loads"] if not any(rec.left_off(c) for c in x["circuits"])]
    for k, (start, end, _, _) in spans.items():
        visit = next(((a, b) for a, b in rec.visits if start < b and (end > a or start >= a)),
                     None)
        last = end
        if visit is not None:
            nexts = [x[0] for o, x in spans.items() if visit[0] <= x[0] < visit[1]
                     and run.start_index[o] > run.start_index[k]]
            last = max([end] + ([min(nexts)] if nexts else []))
        out_at = {}
        for m in range(start, max(last, start + 1)):
            out = [(x, s, e) for x in loads for s, e in outs[x["id"]] if s <= m < e]
            if out:
                out_at[m] = out
        step = steps.get(k)
        if not out_at and step is None:
            continue
        if step is None:
            report("B1", start, f"no back-out step from {k}")
            continue
        direction(run, report, k, step, visit, points, start, last)
        if step["to"] == "forward":
            need = max((e - m for m, out in out_at.items() for _, _, e in out), default=0)
            if step["minutes"] < need:
                report("B1", start, f"forward from {k} takes {need} min, not {step['minutes']}")
        else:
            back_in_time(run, report, k, step, out_at, outs)


def shape(run, report, t, step):
    """A step's tasks: kinds, subjects, none shorter than planned, and their length."""
    rec = run.rec
    name = step["task"]
    if step["to"] not in ("back", "forward"):
        report("B1", t, f"step from {name} leads nowhere")
    if step["to"] == "back" and not step["tasks"]:
        report("B1", t, f"step back from {name} lists no task")
    for x in step["tasks"]:
        if x["kind"] not in KINDS:
            report("B1", t, f"step from {name}: {x['kind']} is no kind of task")
            continue
        subjects = [rec.circuits, rec.boards, rec.emergency_groups, rec.positions]
        if x["of"] is not None and not any(x["of"] in s for s in subjects):
            report("B1", t, f"step from {name}: {x['of']} is no subject")
        same = [task for task in rec.job["tasks"] if task["kind"] == x["kind"]
                and (x["of"] is None or x["of"] in (
                    task["circuit"], task["board"], task["group"], task["position"]))]
        if same and x["minutes"] < min(task["planned"] for task in same):
            report("B1", t, f"step from {name}: {x['kind']} is shorter than planned")
        if x["minutes"] < 0 or x["at"] < 0:
            report("B1", t, f"step from {name}: {x['kind']} before its moment")
    if step["tasks"] and step["minutes"] != max(x["at"] + x["minutes"] for x in step["tasks"]):
        report("B1", t, f"step from {name} is not as long as its tasks")


def visit_points(run, report):
    """{visit: its point of no return or None}; strip out ends all going back."""
    rec, out = run.rec, {}
    spans = task_spans(run)
    for p in rec.plan["back_out"]["points_of_no_return"]:
        visit = [p["from"], p["to"]]
        if visit not in rec.visits or tuple(visit) in out:
            report("B1", p["from"], f"point of no return of {visit}, which is no visit, or twice")
            continue
        out[tuple(visit)] = p["t"]
        if p["t"] is None:
            continue
        strips = [x[0] for k, x in spans.items() if rec.tasks[k]["kind"] == "strip_out"
                  and visit[0] <= x[0] < visit[1]]
        if not visit[0] <= p["t"] <= visit[1] or any(p["t"] > x for x in strips):
            report("B1", p["t"], "point of no return outside its visit or after strip out")
    for c in rec.plan["back_out"]["checkpoints"]:
        done = run.last.done.get(c["task"])
        if done is None or done[1] > c["latest"] or not said(c["else"]):
            report("B1", c["latest"], f"checkpoint {c['task']} is missed")
    return out


def direction(run, report, k, step, visit, points, start, last):
    point = points.get(visit) if visit else None
    want = "back" if point is not None and last <= point else "forward"
    if step["to"] != want:
        report("B1", start, f"step from {k} leads {step['to']}, not {want}")
    if step["to"] == "back" and visit is not None:
        for o, x in task_spans(run).items():
            if run.rec.tasks[o]["kind"] == "strip_out" and visit[0] <= x[0] < visit[1] \
                    and x[0] < last:
                report("B1", start, f"step back from {k} after strip out has begun")


def back_in_time(run, report, k, step, out_at, outs):
    """Going back from every moment keeps F1 to F4."""
    for m, out in out_at.items():
        for load, s, _ in out:
            spans = [x for x in outs[load["id"]] if x[0] < s] + [(s, m + step["minutes"])]
            bad = [] if f1_ok(run, load, *spans[-1]) else ["F1"]
            bad += [rule for rule, _, _ in limits(load, spans)]
            bad += ["F4"] if list(f4_bad(run, load, spans)) else []
            if bad:
                report("B1", m, f"going back from {k} at {m}: {load['id']} breaks {bad[0]}")
                return
