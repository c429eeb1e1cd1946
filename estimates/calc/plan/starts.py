"""Orders of the coaches that a search may begin with, each made by a rule in one go.

By promise, and by apparent tardiness cost: of the coaches left, the one goes next whose weight for its size is the
greatest, less so the longer its promise leaves to wait. The size is what the coach asks of what is short: its labour,
its way (bay time, mostly), or its hours of the skill with the most work a head.
Source: Vepsalainen and Morton 1987, Management Science 33, apparent tardiness cost (from memory; k as in practice).
"""

import math
from collections.abc import Iterator, Sequence

from estimates.calc.plan.arrays import FAR, LABOUR, Shop, Work
from estimates.calc.plan.building import Builder

# How far ahead a promise is looked at, in mean sizes; without bound it is weight for size alone.
LOOK_AHEAD = (0.5, 2.0, 8.0, math.inf)


def starts(builder: Builder, shop: Shop, work: Work, jobs: Sequence[int], last_ready: int) -> Iterator[list[int]]:
    """Orders of jobs (by number). jobs: the order in force, which settles ties; last_ready: when its last is done."""
    rank = {job: number for number, job in enumerate(jobs)}
    yield sorted(jobs, key=lambda job: (shop.promise[job], rank[job]))
    for sizes in (_labour(shop, work), _ways(shop, work), _scarce(builder, shop, work)):
        for look_ahead in LOOK_AHEAD:
            yield _by_cost(shop, jobs, sizes, look_ahead, last_ready - shop.now)


def _by_cost(shop: Shop, jobs: Sequence[int], sizes: list[float], look_ahead: float, span: float) -> list[int]:
    left, order, at = list(jobs), [], 0.0
    whole = sum(sizes) or 1.0
    reach = look_ahead * span / max(1, len(left))
    while left:
        chosen = max(left, key=lambda job: _cost(shop, job, sizes[job], at, reach, span / whole))
        left.remove(chosen)
        order.append(chosen)
        at += span * sizes[chosen] / whole
    return order


def _cost(shop: Shop, job: int, size: float, at: float, reach: float, pace: float) -> tuple[float, float]:
    """What a coach left waiting costs for what it takes; with none near its promise, weight for size decides."""
    worth = shop.weight[job] / max(size, 1.0)
    if math.isinf(reach):
        return worth, worth
    if shop.promise[job] >= FAR:
        return 0.0, worth
    waits = max(0.0, shop.promise[job] - shop.now - at - size * pace)
    return worth * math.exp(-min(700.0, waits / max(reach, 1.0))), worth


def _labour(shop: Shop, work: Work) -> list[float]:
    sizes = [0.0] * shop.jobs
    for task in shop.topo:
        if shop.kind[task] == LABOUR and work.active[task]:
            sizes[shop.job[task]] += float(work.length[task] * shop.spec_size[shop.spec[task]])
    return sizes


def _ways(shop: Shop, work: Work) -> list[float]:
    """The longest chain of each job."""
    to_go = [0.0] * shop.tasks
    sizes = [0.0] * shop.jobs
    for index in range(len(shop.topo) - 1, -1, -1):
        task = shop.topo[index]
        to_go[task] += float(work.length[task]) if work.active[task] else 0.0
        sizes[shop.job[task]] = max(sizes[shop.job[task]], to_go[task])
        for row in range(shop.before_off[task], shop.before_off[task + 1]):
            before = shop.before[row]
            to_go[before] = max(to_go[before], to_go[task] + shop.lag[row])
    return sizes


def _scarce(builder: Builder, shop: Shop, work: Work) -> list[float]:
    """Labour of the skill that has the most work a head."""
    loads = [[0.0] * shop.jobs for _ in builder.skill_number]
    for task in shop.topo:
        if shop.kind[task] == LABOUR and work.active[task]:
            spec = shop.spec[task]
            for slot in range(shop.slot_off[spec], shop.slot_off[spec + 1]):
                loads[shop.slot_skill[slot]][shop.job[task]] += float(work.length[task])
    heads = [sum(1 for own in shop.skills if own >> skill & 1) for skill in range(len(loads))]
    by_head = [sum(load) / max(1, count) for load, count in zip(loads, heads, strict=True)]
    return loads[by_head.index(max(by_head))] if loads else [0.0] * shop.jobs
