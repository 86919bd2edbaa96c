#!/usr/bin/env python3
"""Small jobs as a constraint model for a general solver, to compare its plans with the program's.

    cargo test --test it general_solver        # writes target/tmp/general-solver.json
    python3 tests/outside/best_plan.py FILE SECONDS

Needs the package ortools (CP-SAT, Apache licence). FILE is a list of jobs as figures: durations in
minutes with people, weights, prices. Prints one line of JSON a job: {"name", "status", "j", "bound",
"seconds", "plan"}. J is counted from the plan found, minute by minute, by section 8 of the planning
model, and not taken from the solver.

What the model has: one board pair, `place` (new board where the old one stood), `tails` (beside it,
taking its tails over) or `side` (beside it, with a supply of its own, tested and made live once before
the first load is out); one load a circuit, in hours in which nothing is needed; all people alike, all of
them at each proof; one tester; at most one temporary supply, who rides on it, and who keeps its key
on the way on and on the way off; the tasks of section 3 in their order, once each; every order, time and
waiting; proofs that are void after an hour.

What it leaves out, so that its plans are some of those that are allowed: a second visit, a second dead
period of a board, riders that come and go one by one, fewer people, and the acts of one task
in the same minute (the opening is a minute before the end of the isolation, or two where cartridges
are taken out besides). What it leaves out although it might forbid a plan: breaks, people who are
absent, places to stand (with two people there are enough).
"""

import json
import sys
from fractions import Fraction

from ortools.sat.python import cp_model


class Model:
    def __init__(self, job):
        self.job, self.m = job, cp_model.CpModel()
        self.people = job["people"]
        self.tasks = {}     # name: (start, end, present or None, people, minutes)
        total = sum(x[0] for x in job["board"].values())
        total += sum(sum(c[k][0] for k in c if k != "weight") for c in job["circuits"])
        total += sum(x[0] for x in (job["supply"] or {"none": [0, 0]}).values() if x is not None)
        self.horizon = total
        self.crew = {}
        self.who = {}       # name: for each person, whether on the task
        self.instrument, self.at_box = [], []
        self.named = job["supply"] is not None
        self.crews = [[] for _ in range(self.people)]
        self.all, self.demand = [], []
        self.at_new = []
        self.build()

    # --- parts -------------------------------------------------------------------------------

    def task(self, name, figures, present=None, instrument=False, box=False, new=False,
             everybody=False):
        minutes, crew = figures
        crew = self.people if everybody else min(crew, self.people)
        start = self.m.new_int_var(0, self.horizon, name)
        end = start + minutes
        if present is None:
            interval = self.m.new_fixed_size_interval_var(start, minutes, name)
        else:
            interval = self.m.new_optional_fixed_size_interval_var(start, minutes, present, name)
        self.tasks[name] = (start, end, present, minutes)
        self.crew[name] = crew
        self.all.append(interval)
        self.demand.append(crew)
        if instrument:
            self.instrument.append(interval)
        if box:
            self.at_box.append(interval)
        if new:
            self.at_new.append((name, interval))
        if self.named:
            on = []
            for p in range(self.people):
                b = self.m.new_bool_var(f"{name} by {p}")
                self.crews[p].append(
                    self.m.new_optional_fixed_size_interval_var(start, minutes, b, f"{name} {p}"))
                on.append(b)
            self.m.add(sum(on) == (crew if present is None else crew * present))
            self.who[name] = on

    def after(self, later, earlier):
        if later in self.tasks and earlier in self.tasks:
            start, end = self.tasks[later][0], self.tasks[earlier][1]
            need = [x for x in (self.tasks[later][2], self.tasks[earlier][2]) if x is not None]
            constraint = self.m.add(start >= end)
            if need:
                constraint.only_enforce_if(need)

    def soon_after(self, later, earlier, minutes, unless=None):
        """A proof that nobody works on is void after a while; tails lay the ways open too."""
        soon = self.m.add(self.tasks[later][0] <= self.tasks[earlier][1] + minutes)
        if unless is not None:
            soon.only_enforce_if(unless.negated())

    # --- the tasks of section 3 --------------------------------------------------------------

    def build(self):
        job, board = self.job, self.job["board"]
        n, family = len(job["circuits"]), job["family"]
        supply = job["supply"]
        of = job["circuits"]
        self.rides = [self.m.new_bool_var(f"rides {c}") if supply else None for c in range(n)]
        any_ride = self.m.new_bool_var("somebody rides") if supply else None
        self.any_ride = any_ride
        if supply:
            self.m.add_max_equality(any_ride, self.rides)
            self.m.add(sum(self.rides) <= supply["ways"][0])
            self.task("prove box", supply["prove"], any_ride, instrument=True)
        self.task("isolate", board["isolate"])
        self.task("prove old", board["prove_old"], instrument=True, everybody=True)
        self.after("prove old", "isolate")
        # Nothing hangs on when the night's work begins.
        self.m.add(self.tasks["isolate"][0] == (supply["prove"][0] if supply else 0))
        life = job["proof_life"]
        for c in range(n):
            self.task(f"disconnect {c}", of[c]["disconnect"])
            self.after(f"disconnect {c}", "prove old")
        if supply:
            self.ride_on(n, of, supply)
        if family == "place":
            self.task("strip out", board["strip_out"])
            self.task("prove new", board["prove_new"], instrument=True, everybody=True)
            self.task("mount", board["mount"], new=True)
            self.task("fit surge", board["fit_surge"], new=True)
            self.task("new tails", board["new_tails"], new=True)
            for c in range(n):
                self.after("strip out", f"disconnect {c}")
            self.after("prove new", "strip out")
            self.after("mount", "prove new")
            self.after("fit surge", "mount")
            self.after("new tails", "mount")
            self.soon_after("new tails", "prove new", life)
        if family == "tails":
            self.task("old tails", board["old_tails"])
            self.task("strip out", board["strip_out"])
            self.task("new tails", board["new_tails"], new=True)
            self.after("old tails", "prove old")
            self.after("strip out", "old tails")
            self.after("new tails", "old tails")
            for c in range(n):
                self.after("strip out", f"disconnect {c}")
            # The new board is proved with the old one, and once more if nobody comes to it in time.
            again = self.m.new_bool_var("new board proved again")
            self.task("prove new again", board["prove_new_again"], again, instrument=True,
                      everybody=True)
            self.after("prove new again", "prove old")
            self.after("new tails", "prove new again")
            self.soon_after("new tails", "prove old", life, unless=again)
            self.m.add(self.tasks["new tails"][0] <= self.tasks["prove new again"][1] + life) \
                .only_enforce_if(again)
        if supply:
            self.ride_off(n, of, supply)
        for c in range(n):
            self.task(f"connect {c}", of[c]["connect"], new=True)
            for before in ("mount", f"disconnect {c}", f"unhook {c}"):
                self.after(f"connect {c}", before)
            self.task(f"dead test {c}", of[c]["dead_test"], instrument=True, new=True)
            self.after(f"dead test {c}", f"connect {c}")
        energise = board["energise"]
        if family == "side":
            # Tested and made live once before; dead again, and proved, when it is needed.
            energise = board["energise_again"]
        else:
            self.task("test board", board["test_board"], instrument=True)
            for before in ("mount", "fit surge", "new tails"):
                self.after("test board", before)
            _, _, _, minutes = self.tasks["test board"]
            test = self.all[list(self.tasks).index("test board")]
            for _, interval in self.at_new:
                self.m.add_no_overlap([test, interval])
        self.task("energise", energise)
        self.after("energise", "test board")
        self.after("energise", "strip out")
        for c in range(n):
            self.after("energise", f"dead test {c}")
        self.live_tests(n, of)
        self.work_over_people()
        self.resources()
        self.objective(n)

    def work_over_people(self):
        """Implied by the rest, to help the solver: no phase is shorter than its work over the people."""
        def span(names, start, end):
            work = 0
            for name in names:
                _, _, present, minutes = self.tasks[name]
                # Beside the test of a board nobody can work at it.
                crew = self.people if name == "test board" else self.crew[name]
                work += crew * minutes if present is None else crew * minutes * present
            self.m.add(self.people * (end - start) >= work)
        names = list(self.tasks)
        end = self.tasks["energise"][0]
        own = {x: [y for y in names if y.startswith(x + " ")]
               for x in ("disconnect", "connect", "dead test", "hook up", "unhook")}
        if "mount" in self.tasks:
            span(own["disconnect"], self.tasks["prove old"][1], self.tasks["strip out"][0])
            span(own["connect"] + own["dead test"] + ["fit surge", "new tails", "test board"],
                 self.tasks["mount"][1], end)
        else:
            every = own["disconnect"] + own["connect"] + own["dead test"] + own["hook up"]
            every += own["unhook"] + [x for x in ("old tails", "new tails", "strip out")
                                      if x in self.tasks]
            span(every, self.tasks["prove old"][1], end)

    def live_tests(self, n, of):
        """One after the other when everything else is over, by Smith's rule (1956): weight over time.

        Nobody rides by then, since connecting comes before the energising, so that each load waits
        for its own test at its own constant price.
        """
        def price(c):
            return Fraction(of[c]["weight"], of[c]["live_test"][0])
        self.test_end, now = {}, 0
        for c in sorted(range(n), key=price, reverse=True):
            now += of[c]["live_test"][0]
            self.test_end[c] = now

    def ride_on(self, n, of, supply):
        self.keeper_on = self.m.new_int_var(0, self.people - 1, "keeper on")
        self.task("supply on", supply["on"], self.any_ride)
        for c in range(n):
            self.task(f"hook up {c}", of[c]["hook_up"], self.rides[c], instrument=True, box=True)
            self.after(f"hook up {c}", "prove box")
            self.after(f"hook up {c}", f"disconnect {c}")
            self.after("supply on", f"hook up {c}")
            self.m.add(self.tasks[f"hook up {c}"][0]
                       <= self.tasks["prove box"][1] + self.job["proof_life"]) \
                .only_enforce_if(self.rides[c])
        self.kept(self.keeper_on, ["prove box", "supply on"] + [f"hook up {c}" for c in range(n)])

    def ride_off(self, n, of, supply):
        self.keeper_off = self.m.new_int_var(0, self.people - 1, "keeper off")
        self.task("supply off", supply["off"], self.any_ride)
        self.task("prove box again", supply["prove_again"], self.any_ride, instrument=True)
        self.after("supply off", "supply on")
        self.after("prove box again", "supply off")
        for c in range(n):
            self.task(f"unhook {c}", of[c]["unhook"], self.rides[c], box=True)
            self.after(f"unhook {c}", "prove box again")
        self.kept(self.keeper_off, ["supply off", "prove box again"]
                  + [f"unhook {c}" for c in range(n)])

    def kept(self, keeper, names):
        """All of it by the one who keeps the key."""
        for p in range(self.people):
            mine = self.m.new_bool_var(f"{names[0]} kept by {p}")
            self.m.add(keeper == p).only_enforce_if(mine)
            self.m.add(keeper != p).only_enforce_if(mine.negated())
            for name in names:
                self.m.add_implication(self.who[name][p], mine)

    def resources(self):
        if self.named:
            for crew in self.crews:
                self.m.add_no_overlap(crew)
        self.m.add_cumulative(self.all, self.demand, self.people)
        self.m.add_no_overlap(self.instrument)
        if self.at_box:
            self.m.add_no_overlap(self.at_box)

    # --- section 8 -------------------------------------------------------------------------

    def objective(self, n):
        """In twentieths of J: 2 a weight and minute, 10 a weight and outage, 1 a minute carried."""
        opened = self.tasks["isolate"][1] - (2 if self.job["family"] == "tails" else 1)
        terms = []
        for c in range(n):
            w = self.job["circuits"][c]["weight"]
            out = self.tasks["energise"][1] + self.test_end[c] - opened
            terms.append(2 * w * out + 10 * w)
            if self.job["supply"]:
                gain = self.m.new_int_var(0, self.horizon, f"on the lead {c}")
                carried = self.m.new_int_var(0, self.horizon, f"carried {c}")
                ride = self.rides[c]
                spared = self.tasks["supply off"][1] - self.tasks["supply on"][1]
                self.m.add(gain == spared).only_enforce_if(ride)
                self.m.add(gain == 0).only_enforce_if(ride.negated())
                lead = self.tasks[f"unhook {c}"][1] - self.tasks[f"hook up {c}"][1]
                self.m.add(carried == lead).only_enforce_if(ride)
                self.m.add(carried == 0).only_enforce_if(ride.negated())
                terms.append(carried - 2 * w * gain + 10 * w * ride)
        self.m.minimize(sum(terms))

    def visits(self):
        return Fraction(str(self.job["v"])) * self.people

    def solve(self, seconds):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        solver.parameters.max_time_in_seconds = seconds
        status = solver.solve(self.m)
        name = solver.status_name(status)
        answer = {"name": self.job["name"], "status": name, "seconds": round(solver.wall_time, 2)}
        if name in ("OPTIMAL", "FEASIBLE"):
            plan = {}
            for task, (start, _, present, minutes) in self.tasks.items():
                if present is None or solver.value(present):
                    begin = solver.value(start)
                    plan[task] = [begin, begin + minutes]
            for c, end in self.test_end.items():
                end += plan["energise"][1]
                plan[f"live test {c}"] = [end - self.job["circuits"][c]["live_test"][0], end]
            j = cost(self.job, plan) + self.visits()
            told = Fraction(round(solver.objective_value), 20) + self.visits()
            assert j == told, f"{self.job['name']}: {j} counted, {told} told by the solver"
            answer["j"] = float(j)
            answer["plan"] = dict(sorted(plan.items(), key=lambda x: x[1]))
        answer["bound"] = float(Fraction(int(solver.best_objective_bound), 20) + self.visits())
        return answer


def cost(job, plan):
    """J of a plan without its visits, minute by minute."""
    f, q, h = (Fraction(str(job[k])) for k in "fqh")
    opened = plan["isolate"][1] - (2 if job["family"] == "tails" else 1)
    end = max(e for _, e in plan.values())
    total = Fraction(0)
    for c, circuit in enumerate(job["circuits"]):
        rides, before = f"hook up {c}" in plan, False
        for minute in range(opened, end):
            on_lead = rides and plan["supply on"][1] <= minute < plan["supply off"][1]
            out = minute < plan[f"live test {c}"][1] and not on_lead
            total += circuit["weight"] * f * (int(out) + (q if out and not before else 0))
            before = out
        if rides:
            total += h * Fraction(plan[f"unhook {c}"][1] - plan[f"hook up {c}"][1], 60)
    return total


def main(path, seconds):
    with open(path) as file:
        jobs = json.load(file)
    for job in jobs:
        print(json.dumps(Model(job).solve(seconds)), flush=True)


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]))
