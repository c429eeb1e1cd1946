"""What a plan is worth: lateness against promises first, then early finish, then few changes."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, Arena, Column, Work
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.serial import hand_over

# A second of weighted lateness outweighs so many of weighted finish; a changed start counts as a minute of finish.
LATE_WEIGHT = 100
CHANGE_COST = 60_000
LEAST_CHANGE_S = 3600


@compiled
def weigh(shop: Arena, last: Column, state: Arena) -> int:
    """What the plan in the state is worth: the less the better. All sums are weighted by job, in thousandths."""
    late, finish, changes = measure(shop, last, state)
    return LATE_WEIGHT * late + finish + CHANGE_COST * changes


@compiled
def measure(shop: Arena, last: Column, state: Arena) -> tuple[int, int, int]:
    """(lateness [s x weight / 1000], time to finish [same], starts an hour or more off the last plan's)."""
    late, finish, changes = 0, 0, 0
    for job in range(shop[c.JOBS]):
        ready, weight = state[state[c.READY] + job], shop[shop[c.WEIGHT] + job]
        late += weight * max(0, ready - shop[shop[c.PROMISE] + job])
        finish += weight * max(0, ready - shop[c.NOW])
    for task in range(shop[c.TASKS]):
        if last[task] != -FAR and abs(state[state[c.START] + task] - last[task]) >= LEAST_CHANGE_S:
            changes += 1
    return late, finish, changes


@compiled
def is_placed(shop: Arena, state: Arena, job: int) -> bool:
    """Whether all of a coach's tasks are placed."""
    return state[state[c.TURN] + job] == shop[shop[c.TOPO_OFF] + job + 1] - shop[shop[c.TOPO_OFF] + job]


@compiled
def cost_placed(shop: Arena, work: Work, state: Arena, job: int) -> int:
    """What a coach costs that has its tasks placed: its share of weigh(), changes left aside."""
    ends = -FAR
    for index in range(shop[shop[c.TOPO_OFF] + job], shop[shop[c.TOPO_OFF] + job + 1]):
        task = shop[shop[c.TOPO] + index]
        if work.active[task]:
            ends = max(ends, state[state[c.END] + task])
    ready = hand_over(shop, job, ends)
    late, finish = max(0, ready - shop[shop[c.PROMISE] + job]), max(0, ready - shop[c.NOW])
    return shop[shop[c.WEIGHT] + job] * (LATE_WEIGHT * late + finish)
