"""The steps of hill climbing over the order in which tasks are placed, and what a plan is worth.

A step takes a coach's turns, some turns in a row, or a task within its coach's order, puts them elsewhere and keeps
the order if the plan is no worse. Coaches that are late are tried most. Random numbers come from the minimal standard
generator (Park and Miller 1988, multiplier 48271), so that both engines take the same steps.
"""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, Arena, Column
from estimates.calc.plan.compiled import compiled

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
def draw(numbers: Column, below: int) -> int:
    """A random whole number from 0 to below - 1."""
    numbers[0] = numbers[0] * 48271 % 2147483647
    return numbers[0] % below


@compiled
def step(shop: Arena, own: Column, turns: Column, state: Arena, numbers: Column, given: int) -> bool:
    """Change the order a little. False if nothing came of it.

    state: the plan tried last. numbers: the random state. given: the first turns, which stay where they are.
    """
    kind = draw(numbers, 10)
    if len(turns) - given < 2:
        return False
    if kind < 7:
        return _move_coach(shop, turns, state, numbers, given)
    if kind < 8:
        return _move_turns(turns, numbers, given)
    return _swap_tasks(shop, own, numbers)


@compiled
def _some_job(shop: Arena, state: Arena, numbers: Column) -> int:
    """A job, of three drawn the one that is latest (weighted) in the plan tried last."""
    best, most = -1, -FAR
    for _ in range(3):
        job = draw(numbers, shop[c.JOBS])
        late = shop[shop[c.WEIGHT] + job] * (state[state[c.READY] + job] - min(shop[shop[c.PROMISE] + job], FAR >> 20))
        if late > most:
            best, most = job, late
    return best


@compiled
def _move_coach(shop: Arena, turns: Column, state: Arena, numbers: Column, given: int) -> bool:
    """Take all turns of a coach and put them in a row somewhere, mostly earlier."""
    job = _some_job(shop, state, numbers)
    taken, first, kept = 0, -1, given
    for index in range(given, len(turns)):
        if turns[index] == job:
            taken += 1
            first = kept if first < 0 else first
        else:
            turns[kept] = turns[index]
            kept += 1
    if not taken:
        return False
    goes_anywhere = draw(numbers, 4) == 0 or first == given
    at = given + draw(numbers, (kept if goes_anywhere else first) - given + 1)
    for index in range(kept - 1, at - 1, -1):
        turns[index + taken] = turns[index]
    for index in range(at, at + taken):
        turns[index] = job
    return True


@compiled
def _move_turns(turns: Column, numbers: Column, given: int) -> bool:
    """Move some turns in a row to another place."""
    count = len(turns)
    size = 1 + draw(numbers, min(12, count - given - 1))
    begin = given + draw(numbers, count - given - size + 1)
    reach = 1 + draw(numbers, min(3 * size + 20, count - given))
    if draw(numbers, 3):  # mostly to the front
        target = max(given, begin - reach)
        _rotate(turns, target, begin, begin + size)
        return target != begin
    target = min(count, begin + size + reach)
    _rotate(turns, begin, begin + size, target)
    return target != begin + size


@compiled
def _rotate(column: Column, low: int, middle: int, high: int) -> None:
    """Exchange the stretches low..middle and middle..high (by three reversals)."""
    _reverse(column, low, middle)
    _reverse(column, middle, high)
    _reverse(column, low, high)


@compiled
def _reverse(column: Column, low: int, high: int) -> None:
    high -= 1
    while low < high:
        column[low], column[high] = column[high], column[low]
        low += 1
        high -= 1


@compiled
def _swap_tasks(shop: Arena, own: Column, numbers: Column) -> bool:
    """Move a task forward in its coach's own order, as far as precedence allows or less."""
    at = draw(numbers, len(own))
    task = own[at]
    low = shop[shop[c.TOPO_OFF] + shop[shop[c.JOB] + task]]
    first = at
    while (
        first > low
        and not _comes_before(shop, own[first - 1], task)
        and (shop[shop[c.FIRST] + own[first - 1]] == shop[shop[c.FIRST] + task])
    ):
        first -= 1
    if first == at:
        return False
    target = first + draw(numbers, at - first)
    for index in range(at, target, -1):
        own[index] = own[index - 1]
    own[target] = task
    return True


@compiled
def _comes_before(shop: Arena, before: int, task: int) -> bool:
    for row in range(shop[shop[c.BEFORE_OFF] + task], shop[shop[c.BEFORE_OFF] + task + 1]):
        if shop[shop[c.BEFORE] + row] == before:
            return True
    return False
