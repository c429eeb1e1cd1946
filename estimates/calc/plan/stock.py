"""Counted equipment: how much of it is in use when, on the clock."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, Arena
from estimates.calc.plan.clock import last_at_or_before
from estimates.calc.plan.compiled import compiled


@compiled
def clear_stock(shop: Arena, state: Arena) -> None:
    for which in range(shop[c.THINGS]):
        state[state[c.LEVEL_AT] + which * shop[c.USE_ROOM]] = -FAR
        state[state[c.LEVEL] + which * shop[c.USE_ROOM]] = 0
        state[state[c.LEVEL_COUNT] + which] = 1


@compiled
def free_stock(shop: Arena, state: Arena, task: int, start: int, end: int) -> int:
    """`start` itself when all the task needs is there until `end`, else a later moment to try."""
    for row in range(shop[shop[c.USE_OFF] + task], shop[shop[c.USE_OFF] + task + 1]):
        which = shop[shop[c.USE] + row]
        base, left = which * shop[c.USE_ROOM], shop[shop[c.CAPACITY] + which] - shop[shop[c.NEED] + row]
        index = last_at_or_before(state, state[c.LEVEL_AT], base, base + state[state[c.LEVEL_COUNT] + which], end - 1)
        while index >= base:
            until = (
                state[state[c.LEVEL_AT] + index + 1] if index + 1 < base + state[state[c.LEVEL_COUNT] + which] else FAR
            )
            if until <= start:
                break
            if state[state[c.LEVEL] + index] > left:
                return until
            index -= 1
    return start


@compiled
def take_stock(shop: Arena, state: Arena, task: int, start: int, end: int) -> None:
    """Hold the task's equipment from start to end."""
    if end <= start:
        return
    for row in range(shop[shop[c.USE_OFF] + task], shop[shop[c.USE_OFF] + task + 1]):
        which = shop[shop[c.USE] + row]
        first = _break_at(shop, state, which, start)
        last = _break_at(shop, state, which, end)
        for index in range(first, last):
            state[state[c.LEVEL] + index] += shop[shop[c.NEED] + row]


@compiled
def _break_at(shop: Arena, state: Arena, which: int, clock: int) -> int:
    """The index of the step that begins at a moment, made if need be."""
    base, count = which * shop[c.USE_ROOM], state[state[c.LEVEL_COUNT] + which]
    index = last_at_or_before(state, state[c.LEVEL_AT], base, base + count, clock)
    if state[state[c.LEVEL_AT] + index] == clock:
        return index
    for other in range(base + count, index + 1, -1):
        state[state[c.LEVEL_AT] + other] = state[state[c.LEVEL_AT] + other - 1]
        state[state[c.LEVEL] + other] = state[state[c.LEVEL] + other - 1]
    state[state[c.LEVEL_AT] + index + 1] = clock
    state[state[c.LEVEL] + index + 1] = state[state[c.LEVEL] + index]
    state[state[c.LEVEL_COUNT] + which] = count + 1
    return index + 1
