"""Which of a job's tasks come before which, and an order that respects it."""

import heapq
from collections.abc import Mapping, Sequence

from estimates.calc.plan.calendars import SECOND
from estimates.calc.plan.model import PlanJob, Task

# For each task of a job, by its place there, the places of those before it, each with its lag in seconds.
Before = list[dict[int, int]]


def before_of(task: Task) -> dict[str, int]:
    """The keys of the tasks before this one, each with its lag in seconds."""
    before = dict.fromkeys(task.after, 0)
    for key, lag in task.lags:
        before[key] = max(before.get(key, 0), lag // SECOND)
    return before


def places_before(job: PlanJob) -> Before:
    place = {task.key: number for number, task in enumerate(job.tasks)}
    return [{place[key]: lag for key, lag in before_of(task).items()} for task in job.tasks]


def in_order(before: Sequence[Mapping[int, int]]) -> list[int]:
    """The places in an order that respects precedence, as given where that is free.

    Tasks that wait for each other in a circle are left out, and with them all that waits for those.
    """
    if all(earlier < place for place, row in enumerate(before) for earlier in row):
        return list(range(len(before)))
    followers: list[list[int]] = [[] for _ in before]
    for place, row in enumerate(before):
        for earlier in row:
            followers[earlier].append(place)
    waiting = [len(row) for row in before]
    eligible = [place for place, count in enumerate(waiting) if not count]
    order = []
    while eligible:
        order.append(heapq.heappop(eligible))
        for place in followers[order[-1]]:
            waiting[place] -= 1
            if not waiting[place]:
                heapq.heappush(eligible, place)
    return order
