"""Planning sample after sample, inside the engine."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import Arena, Column, Work
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.serial import decode


@compiled
def simulate(
    shop: Arena, drawn: Work, work: Work, own: Column, turns: Column, state: Arena, ready: Column, begin: int, end: int
) -> int:
    """Fill ready (sample after sample, job by job) for samples begin to end - 1. Returns -1 or the task that failed.

    drawn: columns of work, sample after sample; work: room for one of them.
    """
    tasks, jobs = shop[c.TASKS], shop[c.JOBS]
    for sample in range(begin, end):
        base = sample * tasks
        for task in range(tasks):
            work.length[task] = drawn.length[base + task]
            work.active[task] = drawn.active[base + task]
            work.not_before[task] = drawn.not_before[base + task]
        failed = decode(shop, work, own, turns, state)
        if failed >= 0:
            return failed
        for job in range(jobs):
            ready[sample * jobs + job] = state[state[c.READY] + job]
    return -1
