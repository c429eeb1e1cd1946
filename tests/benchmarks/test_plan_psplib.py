"""The engine on PSPLIB (Kolisch and Sprecher 1996) through an adapter, beside published deviations of heuristics.

A project is one coach; its resources are counted equipment and its activities waits that hold it. Orders come from a
small genetic search over activity lists (two-point crossover, Hartmann 1998). A child is justified to the right, then
to the left (Valls, Ballestin and Quintanilla 2005): three schedules each, every one by the engine's own decoder, the
right-justified ones on the project turned round. j30 is measured from the optimum, others from the critical path; the
sets of j60 and j120 here are 300 instances each, of 480 and 600, so compare with what is best known of them.
One command: pytest tests/benchmarks/test_plan_psplib.py. FULL_BENCHMARKS=1 runs every instance at 1000 and 5000.
"""

import csv
import os
import random
from datetime import UTC, datetime, timedelta

import pytest

from estimates.calc.plan import PlanJob, Problem, Task, prepare
from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import column
from estimates.calc.plan.room import empty_state
from estimates.calc.plan.serial import decode
from tests.reference.test_rcpsp import DATA, instances

FULL = os.environ.get("FULL_BENCHMARKS") == "1"
START = datetime(2026, 1, 1, tzinfo=UTC)
HOUR_S = 3600
SIZES = {"j30": (40, 0.28), "j60": (30, 12.4), "j120": (40, 37.5)}  # every how manieth by default, figure to reach
BUDGETS = (1000, 5000) if FULL else (1000,)
POPULATION, DRAWN_ANEW, SWAPPED = 40, 0.3, 0.08


class Side:
    """A project as the engine takes it, forward or turned round."""

    def __init__(self, instance, successors):
        count = len(instance.durations)
        before = [[] for _ in range(count)]
        for index, followers in enumerate(successors):
            for follower in followers:
                before[follower].append(index)
        tasks = tuple(
            Task(
                f"t{index}",
                f"t{index}",
                "wait" if length else "event",
                timedelta(hours=length),
                after=tuple(f"t{each}" for each in before[index]),
                equipment=tuple((f"r{n}", need) for n, need in enumerate(instance.demands[index]) if need),
            )
            for index, length in enumerate(instance.durations)
        )
        things = tuple((f"r{number}", capacity) for number, capacity in enumerate(instance.capacities))
        shifts = ((START, START + timedelta(days=400)),)
        self.prepared = prepare(Problem(START, shifts, (), (), (PlanJob("job", 1, START, tasks=tasks),), things))
        self.count, self.turns, self.state = count, column([0] * count), empty_state(self.prepared.shop)
        self.ends_at = int(self.state[c.END])

    def ends(self, order):
        """The end of every activity [h] when placed in this order."""
        assert decode(self.prepared.arena, self.prepared.work, column(order), self.turns, self.state) < 0
        begin = self.prepared.shop.now
        return [(int(end) - begin) // HOUR_S for end in self.state[self.ends_at : self.ends_at + self.count]]


class Project:
    def __init__(self, instance):
        count = len(instance.durations)
        turned = [[] for _ in range(count)]
        for index, followers in enumerate(instance.successors):
            for follower in followers:
                turned[follower].append(index)
        self.forward, self.backward = Side(instance, instance.successors), Side(instance, turned)
        self.before = turned
        self.to_go = [0] * count
        for index in reversed(range(count)):
            followers = instance.successors[index]
            self.to_go[index] = instance.durations[index] + max((self.to_go[each] for each in followers), default=0)
        self.critical = self.to_go[0]
        self.successors = instance.successors
        self.made = 0

    def drawn(self, chance):
        """An order that mostly takes the longest way to go first (regret-based biased sampling, Drexl 1991)."""
        left = [len(before) for before in self.before]
        free, order = [0], []
        while free:
            least = min(self.to_go[each] for each in free)
            chosen = chance.choices(free, [(self.to_go[each] - least + 1) ** 1.5 for each in free])[0]
            free.remove(chosen)
            order.append(chosen)
            for follower in self.successors[chosen]:
                left[follower] -= 1
                if not left[follower]:
                    free.append(follower)
        return order

    def justified(self, order):
        """(makespan, order by starts) after a pass forward, one from the right, one from the left."""
        self.made += 3
        ends = self.forward.ends(order)
        shortest = max(ends)
        turned = self.backward.ends(sorted(range(len(ends)), key=lambda each: (-ends[each], -each)))
        ends = self.forward.ends(sorted(range(len(ends)), key=lambda each: (-turned[each], each)))
        return min(shortest, max(ends)), sorted(range(len(ends)), key=lambda each: (ends[each], each))


def crossed(mother, father, chance):
    """The mother's first and last part, in between what is missing in the father's order; precedence holds."""
    low, high = sorted(chance.sample(range(len(mother) + 1), 2))
    head = mother[:low]
    known = set(head)
    middle = [each for each in father if each not in known][: high - low]
    known.update(middle)
    return head + middle + [each for each in mother if each not in known]


def mutated(project, order, chance):
    for index in range(len(order) - 1):
        first, second = order[index], order[index + 1]
        if chance.random() < SWAPPED and first not in project.before[second]:
            order[index], order[index + 1] = second, first
    return order


def shortest(project, budgets, seed):
    """The best makespan known after each number of schedules."""
    chance = random.Random(seed)
    people, best = [], []
    while len(best) < len(budgets):
        if len(people) < POPULATION or chance.random() < DRAWN_ANEW:
            order = project.drawn(chance)
        else:
            mother, father = (min(chance.sample(people, 2))[1] for _ in range(2))
            order = mutated(project, crossed(mother, father, chance), chance)
        child = project.justified(order)
        if child not in people:
            people.append(child)
        if len(people) > POPULATION:
            people.remove(max(people))
        shortest_known = min(people)[0]
        done = shortest_known == project.critical
        while len(best) < len(budgets) and (done or project.made + 3 > budgets[len(best)]):
            best.append(shortest_known)
    return best


def known(name):
    with (DATA / f"psplib_{name}_bounds.csv").open(encoding="utf-8", newline="") as file:
        return {row["instance"]: row for row in csv.DictReader(file)}


def published(name):
    with (DATA / "published_rcpsp_deviations.csv").open(encoding="utf-8", newline="") as file:
        reference = "optimum" if name == "j30" else "CPM"
        return [row for row in csv.DictReader(file) if row["set"] == name and row["reference"] == reference]


@pytest.mark.timeout(7200 if FULL else 600)
@pytest.mark.parametrize("name", SIZES)
def test_the_deviation_beside_published_ones(name, capsys):
    each, to_reach = SIZES[name]
    rows, sums, best_known = known(name), [0.0] * len(BUDGETS), 0.0
    chosen = instances(name, lambda number: FULL or number % each == 0)
    for number, instance in enumerate(chosen):
        row = rows[instance.name]
        makespans = shortest(Project(instance), BUDGETS, number)
        base = int(row["ub"] if name == "j30" else row["cpm_lower_bound"])
        best_known += 100 * (int(row["ub"]) - base) / base
        assert min(makespans) >= int(row["lb"]), f"{instance.name} is shorter than the published lower bound"
        sums = [total + 100 * (made - base) / base for total, made in zip(sums, makespans, strict=True)]

    means = [total / len(chosen) for total in sums]
    with capsys.disabled():
        print(f"\n{name}, {len(chosen)} instances, % above {'the optimum' if name == 'j30' else 'the critical path'}:")
        for budget, mean in zip(BUDGETS, means, strict=True):
            print(f"  {budget:5} schedules: {mean:6.2f}   (to reach at 5000 over all instances: {to_reach})")
        print(f"  best known of these instances: {best_known / len(chosen):.2f}; published, over all of them:")
        for row in published(name):
            print(f"  {row['schedules'] or '-':>5} {float(row['avg_dev_percent']):6.2f}  {row['method']}")
    assert len(chosen) >= 8
