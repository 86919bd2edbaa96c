"""Conductors and the paths between them (model, sections 1 and 2).

A conductor is (node, wire). An edge is one wire of a device or joint. Everything here works on a
given set of active edges; which edges are active is what a state decides.
"""

from record import LINES, pairs, said


class Edge:
    def __init__(self, kind, item, u, v, breaks):
        self.kind, self.id, self.item = kind, item["id"], item
        self.u, self.v = u, v
        self.breaks = breaks            # the device opens this wire

    def other(self, c):
        return self.v if c == self.u else self.u


class Network:
    def __init__(self, rec):
        self.rec = rec
        self.edges = []
        for d in rec.job["devices"]:
            broken = {w.partition(">")[0] for w in d["breaks"]}
            for a, b in pairs(d["wires"]):
                self.edges.append(Edge("device", d, (d["a"], a), (d["b"], b), a in broken))
        for j in rec.job["joints"]:
            for a, b in pairs(j["wires"]):
                self.edges.append(Edge("joint", j, (j["a"], a), (j["b"], b), True))
        self.declared = {n["id"] for n in rec.sources
                         if n["system"] == "TN" and said(n["neutral_earthed"])}
        self.wires = {n["id"]: n["wires"] for n in rec.job["nodes"]}
        self._cache = {}

    # --- which edges -----------------------------------------------------------------------

    def active(self, closed, joints):
        """Edges that conduct: closed devices, unbroken wires of open ones, joints that exist."""
        key = ("active", closed, joints)
        if key not in self._cache:
            self._cache[key] = [e for e in self.edges if (
                e.id in joints if e.kind == "joint" else (e.id in closed or not e.breaks))]
        return self._cache[key]

    def unsecured(self, locked, joints):
        """Edges that no lock and no removed joint breaks: for `secured`, section 2.

        `locked`: devices whose lock counts; `joints`: made, or taken off in a task still running.
        """
        key = ("unsecured", locked, joints)
        if key not in self._cache:
            self._cache[key] = [e for e in self.edges if (
                e.id in joints if e.kind == "joint"
                else not (e.id in locked and e.breaks and e.item["isolates"]))]
        return self._cache[key]

    # --- walks -----------------------------------------------------------------------------

    def source_wires(self, source, neutral_too=False):
        """Conductors at which a source is met: its lines, and N unless declared earthed."""
        out = [(source["id"], w) for w in source["wires"] if w in LINES]
        if "N" in source["wires"] and (neutral_too or source["id"] not in self.declared):
            out.append((source["id"], "N"))
        return out

    def walk(self, starts, edges):
        """Every conductor reached; a path along N ends at a source whose N is declared."""
        near = {}
        for e in edges:
            near.setdefault(e.u, []).append(e)
            near.setdefault(e.v, []).append(e)
        seen, todo = set(starts), list(starts)
        while todo:
            c = todo.pop()
            if c[1] == "N" and c[0] in self.declared and c not in starts:
                continue
            for e in near.get(c, ()):
                o = e.other(c)
                if o not in seen:
                    seen.add(o)
                    todo.append(o)
        return seen

    def labels(self, running, edges_key, edges, neutral_too=False):
        """{conductor: set of (source, wire) whose voltage is on it}; PE is never live.

        With `neutral_too` also paths along a declared neutral count ("path to a running source").
        """
        key = ("labels", running, edges_key, neutral_too)
        if key not in self._cache:
            out = {}
            for s in self.rec.sources:
                if s["id"] not in running:
                    continue
                for start in self.source_wires(s, neutral_too):
                    for c in self.walk({start}, edges):
                        if c[1] != "PE":
                            out.setdefault(c, set()).add(start)
            self._cache[key] = out
        return self._cache[key]

    def line_conductors(self, node):
        """Conductors of a node that can be live: lines and N."""
        return [(node, w) for w in self.wires.get(node, ()) if w != "PE"]

    def reaches_source(self, edges_key, edges):
        """Conductors from which some source, running or not, is met along these edges."""
        everyone = frozenset(s["id"] for s in self.rec.sources)
        return self.labels(everyone, edges_key, edges)

    # --- ways to a source --------------------------------------------------------------------

    def on_way(self, start, edges, targets):
        """Edges on a simple path from `start` to one of the target conductors."""
        targets = [t for t in targets if t != start]
        near = {}
        for e in edges:
            near.setdefault(e.u, []).append(e)
            near.setdefault(e.v, []).append(e)
        found = set()
        for t in targets:
            comp = self.walk({start}, edges)
            if t not in comp:
                continue
            alive = {e for e in edges if e.u in comp and e.u != e.v}
            # Dead ends lie on no path: prune conductors with one edge until nothing changes.
            while True:
                degree = {}
                for e in alive:
                    degree[e.u] = degree.get(e.u, 0) + 1
                    degree[e.v] = degree.get(e.v, 0) + 1
                loose = {e for e in alive
                         if any(degree[c] == 1 and c not in (start, t) for c in (e.u, e.v))}
                if not loose:
                    break
                alive -= loose
            nodes = {c for e in alive for c in (e.u, e.v)}
            if len(alive) == len(nodes) - 1:
                found |= alive
            else:
                found |= {e for e in alive if _simple(start, t, e, alive)}
        return found

    def first_met(self, start, way, wanted):
        """(wanted edges first met from `start` along `way`, conductors reached before them)."""
        seen, todo, met = {start}, [start], set()
        while todo:
            c = todo.pop()
            for e in way:
                if c in (e.u, e.v):
                    if wanted(e):
                        met.add(e)
                    elif e.other(c) not in seen:
                        seen.add(e.other(c))
                        todo.append(e.other(c))
        return met, seen


def _simple(s, t, edge, edges):
    """Is `edge` on a simple path from s to t? Two vertex-disjoint paths {s,t} to {u,v}."""
    near = {}
    for e in edges:
        if e is not edge:
            near.setdefault(e.u, []).append(e.v)
            near.setdefault(e.v, []).append(e.u)
    ends = {edge.u, edge.v}
    if len({s, t} | ends) == 2:
        return True
    # Unit-capacity flow on split vertices (c, 0) -> (c, 1), undirected edges both ways.
    cap = {}

    def arc(a, b):
        cap.setdefault(a, {})[b] = 1
        cap.setdefault(b, {}).setdefault(a, 0)
    for c in set(near) | ends | {s, t}:
        arc((c, 0), (c, 1))
    for c, others in near.items():
        for o in others:
            arc((c, 1), (o, 0))
    for c in {s, t}:
        arc("S", (c, 0))
    for c in ends:
        arc((c, 1), "T")
    for _ in range(2):
        back, todo = {"S": None}, ["S"]
        while todo and "T" not in back:
            a = todo.pop()
            for b, left in cap[a].items():
                if left and b not in back:
                    back[b] = a
                    todo.append(b)
        if "T" not in back:
            return False
        b = "T"
        while back[b] is not None:
            a = back[b]
            cap[a][b] -= 1
            cap[b][a] = cap[b].get(a, 0) + 1
            b = a
    return True
