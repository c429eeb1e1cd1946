"""In which order tasks are placed: by the rule, by a wish for coaches, or as in a plan that was kept."""

import heapq
from collections.abc import Sequence

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import Arena, Column, Shop, Work
from estimates.calc.plan.building import Builder, column, job_order
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.model import TaskKey


@compiled
def order_by_way_to_go(shop: Arena, work: Work, to_go: Column, own: Column) -> None:
    """Each job's own order: starts given out first, then the longest way still to go (latest start time rule).

    The way runs to the job's end along the longest chain, people and nights left aside.
    Source: Kolisch 1996, Journal of Operations Management 14 (from memory).
    """
    for task in range(shop[c.TASKS]):
        to_go[task] = 0
    for job in range(shop[c.JOBS]):
        low, high = shop[shop[c.TOPO_OFF] + job], shop[shop[c.TOPO_OFF] + job + 1]
        for index in range(high - 1, low - 1, -1):
            task = shop[shop[c.TOPO] + index]
            if work.active[task]:
                to_go[task] += work.length[task]
            for row in range(shop[shop[c.BEFORE_OFF] + task], shop[shop[c.BEFORE_OFF] + task + 1]):
                before = shop[shop[c.BEFORE] + row]
                to_go[before] = max(to_go[before], to_go[task] + shop[shop[c.LAG] + row])
        for index in range(low, high):
            task, at = shop[shop[c.TOPO] + index], index
            while at > low and (shop[shop[c.FIRST] + task], to_go[task]) > (
                shop[shop[c.FIRST] + own[at - 1]],
                to_go[own[at - 1]],
            ):
                own[at] = own[at - 1]
                at -= 1
            own[at] = task


def coaches(builder: Builder, wanted: Sequence[str]) -> list[int]:
    """Jobs in the order they are placed: those wanted first, then by the rule."""
    place = {key: number for number, key in enumerate(wanted)}
    numbered = enumerate(builder.problem.jobs)
    ordered = sorted(numbered, key=lambda each: (place.get(each[1].key, len(place)), job_order(each[1])))
    return [number for number, _ in ordered]


def turns_of(shop: Shop, jobs: Sequence[int]) -> Column:
    """Job after job, but first of all the starts that were given out."""
    first, rest = [], []
    for job in jobs:
        low, high = shop.topo_off[job], shop.topo_off[job + 1]
        given = sum(shop.first[shop.topo[index]] for index in range(low, high))
        first += [job] * given
        rest += [job] * (high - low - given)
    turns: Column = column(first + rest)
    return turns


def order_by_start(shop: Shop, own: Column, start: Column) -> tuple[Column, Column]:
    """(own order of each job, turns) as the tasks of a plan start, starts that were given out in front."""
    own_sorted, keyed = [], []
    for job in range(shop.jobs):
        tasks = [own[index] for index in range(shop.topo_off[job], shop.topo_off[job + 1])]
        tasks.sort(key=lambda task: (1 - shop.first[task], start[task]))  # ties stay, and so does precedence
        own_sorted += tasks
        keyed += [(1 - shop.first[task], start[task], job) for task in tasks]
    return column(own_sorted), column(job for *_, job in sorted(keyed))


def kept_order(builder: Builder, shop: Shop, kept: Sequence[TaskKey], jobs: Sequence[int]) -> tuple[Column, Column]:
    """(own order of each job, turns) as in a plan that was kept.

    What that plan did not know goes before what follows it in its job, else after the last of its job.
    """
    place = _places(builder, shop, kept, jobs)
    own, turns = [], []
    for job in range(shop.jobs):
        order = _repaired(shop, job, place)
        own += order
        turns += sorted(((*place[task], job) for task in order), key=lambda each: each)
    return column(own), column(job for *_, job in sorted(turns))


def _places(
    builder: Builder, shop: Shop, kept: Sequence[TaskKey], jobs: Sequence[int]
) -> dict[int, tuple[int, float, int]]:
    """For each task to be placed: (0 if its start was given out, place in the kept order, place of its coach)."""
    known = {builder.number[key]: float(n) for n, key in enumerate(kept) if key in builder.number}
    rank = {job: number for number, job in enumerate(jobs)}
    places: dict[int, tuple[int, float, int]] = {}
    for job in range(shop.jobs):
        tasks = [shop.topo[index] for index in range(shop.topo_off[job], shop.topo_off[job + 1])]
        last = max((known[task] for task in tasks if task in known), default=float("inf"))
        at = {task: known.get(task, last) for task in tasks}
        for task in reversed(tasks):
            for row in range(shop.before_off[task], shop.before_off[task + 1]):
                before = shop.before[row]
                if before in at and before not in known:
                    at[before] = min(at[before], at[task])
        places |= {task: (1 - shop.first[task], at[task], rank[job]) for task in tasks}
    return places


def _repaired(shop: Shop, job: int, place: dict[int, tuple[int, float, int]]) -> list[int]:
    """The job's tasks by their places, as far as precedence allows."""
    tasks = [shop.topo[index] for index in range(shop.topo_off[job], shop.topo_off[job + 1])]
    followers: dict[int, list[int]] = {task: [] for task in tasks}
    waiting = dict.fromkeys(tasks, 0)
    for task in tasks:
        for row in range(shop.before_off[task], shop.before_off[task + 1]):
            if shop.before[row] in followers:
                followers[shop.before[row]].append(task)
                waiting[task] += 1
    topo = {task: number for number, task in enumerate(tasks)}
    eligible = [(place[task], topo[task], task) for task in tasks if not waiting[task]]
    heapq.heapify(eligible)
    order = []
    while eligible:
        _, _, task = heapq.heappop(eligible)
        order.append(task)
        for follower in followers[task]:
            waiting[follower] -= 1
            if not waiting[follower]:
                heapq.heappush(eligible, (place[follower], topo[follower], follower))
    return order
