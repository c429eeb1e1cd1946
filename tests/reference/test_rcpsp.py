"""The serial schedule on a published benchmark of project scheduling (PSPLIB, Kolisch and Sprecher 1996).

An instance maps to one job: resources are skills with as many single-skilled people as the capacity, one period is
one hour of an unbroken shift. The bundle of published results holds no figure for a single pass of a priority rule,
so three things are checked instead: the schedule is feasible on the original instance, no makespan is below the
published lower bound, and on average makespans stay within one point of a textbook serial schedule generation with
the same rule (latest start time) written here without the engine. They are not equal everywhere: the engine puts
named people on work, and three people who are free one after the other are not one who is free throughout. Averages
over the best known makespans are printed.
"""

import csv
import tarfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from estimates.calc.plan import PlanJob, Problem, Task, Worker, plan
from estimates.calc.plan.checker import violations

DATA = Path(__file__).parent / "data" / "plan"
START = datetime(2026, 1, 1, tzinfo=UTC)
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Instance:
    name: str
    durations: list[int]
    demands: list[list[int]]
    successors: list[list[int]]
    capacities: list[int]


def parse(name, text):
    lines = text.splitlines()
    at = next(index for index, line in enumerate(lines) if line.startswith("PRECEDENCE"))
    count = int(next(line for line in lines if line.startswith("jobs")).split(":")[1])
    successors = [[int(part) - 1 for part in line.split()[3:]] for line in lines[at + 2 : at + 2 + count]]
    at = next(index for index, line in enumerate(lines) if line.startswith("REQUESTS"))
    requests = [[int(part) for part in line.split()] for line in lines[at + 3 : at + 3 + count]]
    at = next(index for index, line in enumerate(lines) if line.startswith("RESOURCEAVAIL"))
    capacities = [int(part) for part in lines[at + 2].split()]
    return Instance(name, [row[2] for row in requests], [row[3:] for row in requests], successors, capacities)


def instances(name, keep):
    with tarfile.open(DATA / f"psplib_{name}.tar.gz") as archive:
        members = sorted(member.name for member in archive.getmembers() if member.name.endswith(".sm"))
        chosen = [member for number, member in enumerate(members) if keep(number)]
        return [parse(Path(member).stem, archive.extractfile(member).read().decode("latin-1")) for member in chosen]


def bounds(name):
    with (DATA / f"psplib_{name}_bounds.csv").open(encoding="utf-8", newline="") as file:
        return {row["instance"]: (int(row["lb"]), int(row["ub"])) for row in csv.DictReader(file)}


def as_problem(instance):
    before = [[] for _ in instance.durations]
    for index, followers in enumerate(instance.successors):
        for follower in followers:
            before[follower].append(index)
    tasks = tuple(
        Task(
            key=f"t{index}",
            words=f"t{index}",
            kind="labour" if duration else "event",
            duration=duration * HOUR,
            crew=tuple((f"r{number}", need) for number, need in enumerate(instance.demands[index]) if need),
            after=tuple(f"t{each}" for each in before[index]),
        )
        for index, duration in enumerate(instance.durations)
    )
    workers = tuple(
        Worker(f"r{number}-{each:03}", frozenset({f"r{number}"}))
        for number, capacity in enumerate(instance.capacities)
        for each in range(capacity)
    )
    horizon = (START, START + sum(instance.durations) * HOUR)
    return Problem(START, (horizon,), workers, (), (PlanJob("job", 1, START, tasks=tasks),))


def textbook_makespan(instance):
    """Serial schedule generation, latest start time first: period by period on capacities, nothing shared."""
    count = len(instance.durations)
    to_go = [0] * count
    for index in reversed(range(count)):  # successors always have higher numbers
        to_go[index] = instance.durations[index] + max((to_go[each] for each in instance.successors[index]), default=0)
    before = [[each for each in range(count) if index in instance.successors[each]] for index in range(count)]
    free = [[capacity] * (sum(instance.durations) + 1) for capacity in instance.capacities]
    end = {}
    while len(end) < count:
        eligible = [index for index in range(count) if index not in end and all(each in end for each in before[index])]
        index = min(eligible, key=lambda each: (-to_go[each], each))
        start = max((end[each] for each in before[index]), default=0)
        span = instance.durations[index]
        while any(
            free[number][period] < need
            for number, need in enumerate(instance.demands[index])
            for period in range(start, start + span)
        ):
            start += 1
        for number, need in enumerate(instance.demands[index]):
            for period in range(start, start + span):
                free[number][period] -= need
        end[index] = start + span
    return max(end.values())


def is_feasible(instance, plan_of_job):
    starts = {int(task.key[1:]): (task.start_at - START) // HOUR for task in plan_of_job.tasks}
    in_order = all(
        starts[index] + instance.durations[index] <= starts[follower]
        for index, followers in enumerate(instance.successors)
        for follower in followers
    )
    horizon = max(starts[index] + duration for index, duration in enumerate(instance.durations))
    within = all(
        sum(
            instance.demands[index][number]
            for index, duration in enumerate(instance.durations)
            if starts[index] <= period < starts[index] + duration
        )
        <= capacity
        for number, capacity in enumerate(instance.capacities)
        for period in range(horizon)
    )
    return in_order and within


SETS = [("j30", lambda number: number % 3 == 0), ("j120", lambda number: number % 10 == 0)]


@pytest.mark.parametrize(("name", "keep"), SETS, ids=["every third of j30", "every tenth of j120"])
def test_the_serial_schedule_is_feasible_and_what_the_rule_gives(name, keep, capsys):
    known = bounds(name)
    chosen = instances(name, keep)
    deviations, textbook = [], []

    for instance in chosen:
        problem = as_problem(instance)
        schedule = plan(problem)
        makespan = (schedule.jobs["job"].ready_at - START) // HOUR
        low, best = known[instance.name]
        assert violations(problem, schedule) == []
        assert is_feasible(instance, schedule.jobs["job"])
        assert makespan >= low, f"{instance.name}: {makespan} is below the lower bound {low}"
        deviations.append(100 * (makespan - best) / best)
        textbook.append(100 * (textbook_makespan(instance) - best) / best)

    assert len(chosen) >= 20
    mean, rule = sum(deviations) / len(deviations), sum(textbook) / len(textbook)
    with capsys.disabled():
        print(f"\n{name}: {len(chosen)} instances; above the best known: {mean:.2f} %, textbook rule {rule:.2f} %")
    assert mean <= rule + 1
