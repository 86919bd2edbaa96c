"""W1 to W14: when a plan is safe (model, section 4)."""

from record import LINES, merge, overlap, said
from replay import switching_task
from rules_proof import Proofs
from work import dead_tasks, one_way

def check(run, report):
    states = [(run.rec.job["from"], None, run.first)]
    states += [(s.t, s, s.after) for s in run.steps]
    for t, step, s in states:
        w1_and_w3(run, report, t, step, s)
        w5_state(run, report, t, s)
        w8_tests(run, report, t, s)
        w10_state(run, report, t, s)
        w12(run, report, t, s)
    for step in run.steps:
        w3_keys(run, report, step)
        w4(run, report, step)
        w5_switched(run, report, step)
        w6(run, report, step)
        w8_closing(run, report, step)
        w10_taken_off(run, report, step)
        w11(run, report, step)
    Proofs(run, report).check()
    w7(run, report)
    w13(run, report)
    w14(run, report)


def work_nodes(run, s, task):
    """(nodes bare there and own of the circuit, nodes of the rest of its neutral group)."""
    nodes, group, alone = [], [], one_way(run, s, task)
    for pos in run.rec.lays_open(task):
        if not (alone and pos == task["position"]):
            nodes += run.rec.bare(pos)
    if task["circuit"] is not None:
        for c in run.rec.neutral_group(task["circuit"]):
            (nodes if c == task["circuit"] else group).extend(run.own_nodes(c, task))
    return list(dict.fromkeys(nodes)), list(dict.fromkeys(group))


def w1_and_w3(run, report, t, step, s):
    """W1: bare and own conductors secured. W3: for each person, by the locks that they hold.

    What nobody has locked off is W1's alone: it is no question of keys.
    """
    for task, _, who in dead_tasks(run, s):
        nodes, group = work_nodes(run, s, task)
        bare = run.unsecured_of(s, nodes + group, s.locked())
        for c in bare[:1]:
            report("W1", t, f"{task['id']}: {c} is not secured")
        for p in who:
            mine = [c for c in run.unsecured_of(s, nodes + group, s.locked_by(p)) if c not in bare]
            for c in mine[:1]:
                report("W3", t, f"{task['id']}: {c} is not secured by locks that {p} holds")
        if one_way(run, s, task):
            w9(run, report, t, s, task, who)
    if step is not None and step.do in ("make", "break") and step.after is not step.before:
        j = run.rec.joints[step.event["joint"]]
        for node, side in ((j["a"], 0), (j["b"], 1)):
            wires = [(w.split(">") * 2)[side] for w in j["wires"]]
            for state in (step.before, step.after):
                for c in run.unsecured_of(state, [node], state.locked(), wires)[:1]:
                    report("W1", t, f"{step.do} {j['id']}: its end {c} is not secured")


def w9(run, report, t, s, task, who):
    """W9: one way at a time. Secured is W1's, proved is W2's to report."""
    rec, pos = run.rec, task["position"]
    board = rec.boards[rec.positions[pos]["board"]]
    if not said(board["one_way"]["justification"]):
        report("W9", t, f"{task['id']}: no written justification")
    if not board["ways_shrouded"]:
        report("W9", t, f"{task['id']}: the ways are not shrouded")
    for k, (_, others, _) in s.running.items():
        other = rec.tasks[k]
        if k != task["id"] and (pos in rec.lays_open(other) or pos in s.proved_now.get(k, ())):
            report("W9", t, f"{task['id']}: {k} is at the same position")
    ends = [c for src in rec.sources for c in run.net.source_wires(src)]
    edges = run.net.unsecured(frozenset(), s.made | s.loose)
    for node in run.own_nodes(task["circuit"], task):
        for c in run.net.line_conductors(node):
            if c[1] == "N":
                continue
            way = run.net.on_way(c, edges, ends)
            met, _ = run.net.first_met(c, way, lambda e: e.kind == "device" and e.breaks)
            for e in met:
                for p in who:
                    if e.id not in s.locked_by(p):
                        report("W9", t, f"{task['id']}: {e.id} is not locked by {p}")


# --- W3 --------------------------------------------------------------------------------------


def w3_keys(run, report, step):
    """W3: keys pass only while no lock is on the box; a lock comes off only by its owner."""
    e, before = step.event, step.before
    if step.after is before:
        return
    if step.do == "lock" and e["box"] is not None and before.boxes.get(e["box"]):
        report("W3", step.t, f"key of {e['lock']} goes into a locked box")
    if step.do == "unlock":
        _, owner, box = before.locks[e["lock"]]
        if owner != e["who"]:
            report("W3", step.t, f"lock {e['lock']} of {owner} taken off by {e['who']}")
        if box is not None and before.boxes.get(box):
            report("W3", step.t, f"key of {e['lock']} comes out of a locked box")
        others = [k for k, lock in before.locks.items() if k != e["lock"] and lock[0] == e["device"]
                  and e["device"] in before.locked_by(owner)
                  and (lock[1] == owner if lock[2] is None else owner in before.boxes[lock[2]])]
        for task, _, who in dead_tasks(run, before):
            nodes, group = work_nodes(run, before, task)
            if owner in who and not others \
                    and e["device"] in run.securing(before, tuple(nodes + group)):
                report("W3", step.t, f"{task['id']} relies on {e['lock']}")


# --- W4, W5, W6 ------------------------------------------------------------------------------


def newly_live(run, step):
    old = run.live(step.before)
    return {c for c in run.live(step.after) if c not in old}


def w4(run, report, step):
    """W4: what becomes live is complete or safe, tested, unattended, and has its neutral."""
    if not (step.after.closed - step.before.closed or
            step.after.sources - step.before.sources):
        return
    rec, s, t = run.rec, step.after, step.t
    new = newly_live(run, step)
    if not new:
        return
    nodes = {c[0] for c in new}
    for c in rec.circuits.values():
        if nodes & set(c["nodes"]) and s.phase[c["id"]] not in (
                "untouched", "tested", "hooked", "safe"):
            report("W4", t, f"{c['id']} becomes live and is not complete")
    for b in rec.job["boards"]:
        tests = rec.tasks_of("test_board", "board", b["id"])
        if not (tests or rec.tasks_of("mount", "board", b["id"])):
            continue
        if not run.mounted(s, b["id"]) or run.stripped(s, b["id"]):
            continue
        own = set(rec.bare(b["incoming"])) | set(rec.bare(b["ways"]))
        for o in rec.job["boards"]:
            if o["id"] != b["id"] and run.mounted(s, o["id"]) and not run.stripped(s, o["id"]):
                own -= set(rec.bare(o["incoming"])) | set(rec.bare(o["ways"]))
        if nodes & own and not any(s.done.get(x["id"], (0, 0, False))[2] for x in tests):
            report("W4", t, f"new board {b['id']} becomes live before its test has passed")
    for task, _, _ in dead_tasks(run, s):
        for pos in rec.lays_open(task):
            if nodes & set(rec.bare(pos)):
                report("W4", t, f"{pos} becomes live while {task['id']} is there")
    full = run.live(s, neutral_too=True)
    for n, w in sorted(new):
        if w == "N" or "N" not in run.net.wires.get(n, ()):
            continue
        for source, _ in run.live(s)[(n, w)]:
            if "N" in run.net.wires[source] and (source, "N") not in full.get((n, "N"), ()):
                report("W4", t, f"{n} {w} becomes live before its neutral")


def w5_state(run, report, t, s):
    """W5: nobody else at dead work while a live test runs, a board is switched, or under test."""
    rec = run.rec
    for k, (_, who, _) in s.running.items():
        task = rec.tasks[k]
        board = rec.board_of(task)
        others = [(o, w) for o, _, w in dead_tasks(run, s) if o["id"] != k and set(w) - set(who)]
        switched = (task["kind"] == "live_test" or
                    task["kind"] in ("isolate", "energise", "function_test"))
        if switched and board is not None:
            for o, _ in others:
                if rec.board_of(o) == board and o["position"] is not None:
                    report("W5", t, f"{o['id']} at board {board} during {k}")
        if task["kind"] == "live_test" and board is not None and board in s.cover_off \
                and not rec.shrouded(rec.boards[board]):
            for o, (_, people, _) in s.running.items():
                if o != k and set(people) - set(who) and rec.board_of(rec.tasks[o]) == board:
                    report("W5", t, f"{o} at board {board} with its cover off during {k}")
        if task["kind"] in ("dead_test", "hook_up") and task["circuit"] is not None:
            group = rec.neutral_group(task["circuit"])
            for o, _ in others:
                if o["circuit"] in group or shares_lines(run, s, task, o):
                    report("W5", t, f"{o['id']} on conductors under test in {k}")
        if task["kind"] == "test_board":
            for o, _ in others:
                if rec.board_of(o) == board:
                    report("W5", t, f"{o['id']} at board {board} during {k}")


def shares_lines(run, s, test, other):
    """Own line conductors of the other's circuit are joined to those under test."""
    if other["circuit"] is None:
        return False
    edges = [e for e in run.edges(s) if e.kind == "joint" or not e.breaks]
    starts = {c for n in run.rec.circuits[test["circuit"]]["nodes"]
              for c in run.net.line_conductors(n) if c[1] in LINES}
    reach = run.net.walk(starts, edges)
    return any((n, w) in reach for n in run.rec.circuits[other["circuit"]]["nodes"]
               for w in LINES)


def w5_switched(run, report, step):
    """W5: while a board is switched, by whatever task, nobody else is on a dead task there."""
    if step.do not in ("open", "close") or step.after is step.before:
        return
    board = run.rec.devices[step.event["device"]]["enclosure"]
    if board is None:
        return
    for task, _, who in dead_tasks(run, step.before):
        if run.rec.board_of(task) == board and set(who) - {step.event["who"]}:
            report("W5", step.t, f"board {board} is switched during {task['id']}")


def w6(run, report, step):
    """W6: an off-load device changes no circuit, and opens or closes no parallel path."""
    if step.do not in ("open", "close") or step.after is step.before:
        return
    d = run.rec.devices[step.event["device"]]
    if d["on_load"]:
        return
    old, new = run.live(step.before), run.live(step.after)
    for c in run.rec.circuits.values():
        for n in c["nodes"]:
            for x in run.net.line_conductors(n):
                if (x in old) != (x in new):
                    report("W6", step.t, f"{d['id']} switches {c['id']} on load")
                    break
    for state in (step.before, step.after):
        if d["id"] in state.closed:
            continue
        edges = run.edges(state)
        for e in run.net.edges:
            if e.kind == "device" and e.id == d["id"] and e.breaks \
                    and e.v in run.net.walk({e.u}, edges):
                report("W6", step.t, f"{d['id']} opens or closes a parallel path on {e.u}")


# --- W7, W8 ----------------------------------------------------------------------------------


def w7(run, report):
    """W7: a source that starts by itself is secured before the node that it watches goes dead."""
    rec, net = run.rec, run.net
    always = frozenset(n["id"] for n in rec.sources if not n["self_start"])

    def watched_live(s, node):
        lab = net.labels(always, (s.closed, s.made), run.edges(s))
        return any((node, w) in lab for w in LINES)
    for source in (n for n in rec.sources if n["self_start"]):
        ends = set(net.source_wires(source))
        dead_since = None      # state before it went dead
        for step in run.steps:
            was, now = (watched_live(x, source["watches"]) for x in (step.before, step.after))
            if was and not now:
                dead_since = step.before
            elif now:
                dead_since = None
            if dead_since is None or step.do != "start" or step.after is step.before:
                continue
            task = rec.tasks[step.event["task"]]
            if not rec.is_dead(task):
                continue
            joints = dead_since.made | dead_since.loose
            edges = net.unsecured(dead_since.locked(), joints)
            for pos in rec.lays_open(task):
                starts = {c for n in rec.bare(pos) for c in net.line_conductors(n)}
                if net.walk(starts, edges) & ends:
                    report("W7", step.t, f"{source['id']} was not secured from {pos} when "
                                         f"{source['watches']} went dead")


def w8_tests(run, report, t, s):
    """W8: cartridges and listed electronics are out of what an insulation test reaches."""
    rec, net = run.rec, run.net
    for k in s.running:
        task = rec.tasks[k]
        if task["kind"] in ("dead_test", "hook_up") and task["circuit"] is not None:
            nodes = list(rec.circuits[task["circuit"]]["nodes"])
        elif task["kind"] == "test_board" and task["board"] in rec.boards:
            b = rec.boards[task["board"]]
            nodes = rec.bare(b["incoming"]) + rec.bare(b["ways"])
        else:
            continue
        starts = {c for n in nodes for c in net.line_conductors(n)}
        reach = {c for c in net.walk(starts, run.edges(s))}
        for x in rec.job["surge_devices"]:
            if x["id"] in s.surge and any(c in reach for c in net.line_conductors(x["node"])):
                report("W8", t, f"{x['id']} is in during {k}")


def w8_closing(run, report, step):
    """W8: cartridges are in before a closing makes their node live."""
    if not step.after.closed - step.before.closed:
        return
    nodes = {c[0] for c in newly_live(run, step)}
    for x in run.rec.job["surge_devices"]:
        if x["kind"] == "cartridge" and x["id"] not in step.after.surge and x["node"] in nodes:
            report("W8", step.t, f"{x['node']} becomes live without {x['id']}")


# --- W10, W11, W12 ---------------------------------------------------------------------------


def w10_state(run, report, t, s):
    """W10: a circuit is live only while its PE reaches the main earthing terminal."""
    for c in run.rec.circuits.values():
        if not said(c["no_earth"]) and run.circuit_live(s, c["id"]) \
                and not run.earthed(s, c["id"]):
            report("W10", t, f"{c['id']} is live without its protective conductor")


def w10_taken_off(run, report, step):
    """W10: PE is taken off only when every circuit that relies on it is secured."""
    if step.do != "break" or step.after is step.before:
        return
    b, a = step.before, step.after
    for c in run.rec.circuits.values():
        lost = any((n, "PE") in run.earth_net(b) and (n, "PE") not in run.earth_net(a)
                   for n in c["nodes"])
        if lost and not run.secured(b, c["nodes"], b.locked()):
            report("W10", step.t, f"{c['id']} is not secured when its PE is taken off")


def w11(run, report, step):
    """W11: nothing is closed between different sources or lines, unless they may run parallel."""
    rec, net, s = run.rec, run.net, step.after
    new = (s.closed - step.before.closed) | (s.made - step.before.made)
    allowed = [set(p) for p in rec.job["parallel"]]
    for x in new:
        edges = net.active(s.closed - {x}, s.made - {x})
        lab = net.labels(s.sources, (s.closed - {x}, s.made - {x}), edges)
        for e in net.edges:
            if e.id != x or not e.breaks:
                continue
            for one, wire1 in lab.get(e.u, ()):
                for two, wire2 in lab.get(e.v, ()):
                    if wire1 != wire2 or (one != two and not any(
                            one in p and two in p for p in allowed)):
                        report("W11", step.t, f"{x} joins {one} {wire1} and {two} {wire2}")


def w12(run, report, t, s):
    """W12: one neutral bar, and the same residual-current devices, for a whole neutral group."""
    rec, net = run.rec, run.net
    for g in rec.groups:
        live = [c for c in g if run.circuit_live(s, c)]
        if len(live) < 2:
            continue
        key = ("w12", tuple(live), s.closed, s.made, s.sources)
        if key not in net._cache:
            net._cache[key] = _w12(run, s, live)
        for what in net._cache[key]:
            report("W12", t, what)


def _w12(run, s, live):
    rec, net = run.rec, run.net
    edges = run.edges(s)
    bars, rcds = {}, []
    for c in live:
        bars[c] = set()
        for n in rec.circuits[c]["nodes"]:
            for w in net.wires.get(n, ()):
                if w == "PE":
                    continue
                ends = [x for src in rec.sources if src["id"] in s.sources
                        for x in net.source_wires(src, neutral_too=True)]
                way = net.on_way((n, w), edges, ends)
                if way:
                    rcds.append((f"{c} {w}", {e.id for e in way if e.kind == "device"
                                              and e.item["rcd_ma"] is not None}))
                if w == "N":
                    bars[c] |= _bars(run, (n, w), edges)
    out = []
    if len(set().union(*bars.values())) != 1 or any(not b for b in bars.values()):
        out.append(f"{live} are live on neutral bars {[sorted(b) for b in bars.values()]}")
    for name, devices in rcds[1:]:
        if devices != rcds[0][1]:
            out.append(f"residual-current devices of {name} and {rcds[0][0]} differ")
            break
    return out


def _bars(run, start, edges):
    """Neutral bars first met along N."""
    seen, todo, met = {start}, [start], set()
    while todo:
        c = todo.pop()
        if c[1] == "N" and run.rec.nodes.get(c[0], {}).get("neutral_bar"):
            met.add(c[0])
            continue
        for e in edges:
            if c in (e.u, e.v) and e.other(c) not in seen:
                seen.add(e.other(c))
                todo.append(e.other(c))
    return met


# --- W13, W14 --------------------------------------------------------------------------------


def w13(run, report):
    """W13: closed when live, asked of every state that lasts."""
    rec = run.rec
    for t0, t1, s in run.spans:
        if t1 <= t0:
            continue
        there = [b for b in rec.job["boards"]
                 if run.mounted(s, b["id"]) and not run.stripped(s, b["id"])]
        kept = {n for b in there for p in (b["incoming"], b["ways"]) for n in rec.bare(p)}
        for b in rec.job["boards"]:
            if run.stripped(s, b["id"]):
                for n in set(rec.bare(b["incoming"])) | set(rec.bare(b["ways"])):
                    if n not in kept and run.any_live(s, n):
                        report("W13", t0, f"{n} stays live, board {b['id']} is stripped out")
        for b in there:
            if b["id"] not in s.cover_off:
                continue
            shroud = {b["incoming"]: b["incoming_shrouded"], b["ways"]: b["ways_shrouded"]}
            for pos in [p["id"] for p in rec.job["positions"] if p["board"] == b["id"]]:
                if shroud.get(pos) or not any(run.any_live(s, n) for n in rec.bare(pos)):
                    continue
                if not one_switching(run, s, b):
                    report("W13", t0, f"{pos} is live with its cover off")
        for p in rec.job["positions"]:
            if p["board"] is not None or not any(run.any_live(s, n) for n in rec.bare(p["id"])):
                continue
            at = any(p["id"] in rec.lays_open(task) for task, _, _ in dead_tasks(run, s))
            if at or any(p["id"] in done for done in s.proved_now.values()):
                report("W13", t0, f"{p['id']} is live while it is open")


def one_switching(run, s, board):
    """Exactly one live test or switching task at the board, nobody else there or within reach."""
    rec = run.rec
    near = {board["id"]} | set(board["within_reach"])
    near |= {o["id"] for o in rec.job["boards"] if board["id"] in o["within_reach"]}
    at = [rec.tasks[k] for k in s.running if rec.board_of(rec.tasks[k]) == board["id"]]
    main = [k for k in at if switching_task(k)]
    if len(main) != 1:
        return False
    return not any(people and k != main[0]["id"] and rec.board_of(rec.tasks[k]) in near
                   for k, (_, people, _) in s.running.items())


def w14(run, report):
    """W14: whoever proves, switches or tests live is not alone on site."""
    rec = run.rec
    if said(rec.policy["alone"]):
        return
    watched = []
    for step in run.steps:
        k = step.event.get("task")
        if step.after is step.before or k is None:
            continue
        if step.do == "finish":
            start, end, _ = step.after.done[k]
            people = step.before.running[k][1]
            if switching_task(rec.tasks[k]):
                watched.append((start, max(end, start + 1), people, k))
        elif step.do in ("open", "close", "prove"):
            watched.append((step.t, step.t + 1, (step.event["who"],), k))
    for start, end, people, k in watched:
        for me in people:
            others = merge([x for o in rec.job["people"] if o["id"] != me for x in o["present"]])
            if overlap(others, start, end) < end - start:
                report("W14", start, f"{me} is alone during {k}")
