"""Compares the program's cheapest lock sets with minimum cuts of a general graph library.

    python3 tests/outside/cuts.py FILE

`cargo test --test it network::cuts` writes the cases and runs this. Needs networkx. Each case is a
plain graph, one lane a connection; a device's capacity is its outage, with a thousandth for the
lock itself, so that the least outage comes first and then the fewest locks. Connections without a
figure cannot be cut.
"""

import json
import sys

import networkx as nx

LOCK = 1
OUTAGE = 1000


def minimum(case):
    graph = nx.Graph()
    graph.add_node("source")
    # Joints first: a device beside a joint cuts nothing.
    for a, b, outage in sorted(case["edges"], key=lambda e: e[2] is not None):
        if a == b:
            continue
        if outage is None:
            graph.add_edge(a, b)  # without a capacity: infinite
        elif not graph.has_edge(a, b):
            graph.add_edge(a, b, capacity=outage * OUTAGE + LOCK)
        elif "capacity" in graph[a][b]:
            graph[a][b]["capacity"] += outage * OUTAGE + LOCK
    for source in case["sources"]:
        graph.add_edge("source", source)
    try:
        value, _ = nx.minimum_cut(graph, "source", case["target"])
    except nx.NetworkXUnbounded:
        return None, None
    return divmod(value, OUTAGE)


def main(path):
    cases = json.load(open(path, encoding="utf-8"))
    wrong = uncut = 0
    for number, case in enumerate(cases):
        outage, locks = minimum(case)
        uncut += outage is None
        if (outage, locks) != (case["outage"], case["locks"]):
            wrong += 1
            print(f"case {number}: library {outage}, {locks}; program {case['outage']}, {case['locks']}")
    print(f"{len(cases)} cases, {uncut} without a cut, {wrong} differ")
    return 1 if wrong or not cases else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
