"""Small changes of the order in which tasks are placed: what a search tries next.

A step takes all turns of a coach, some turns in a row, or a task within its coach's order, and puts them elsewhere.
Random numbers come from the minimal standard generator (Park and Miller 1988, multiplier 48271), so that both engines
take the same steps.
"""

import math

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import Arena, Column
from estimates.calc.plan.compiled import compiled

MODULUS = 2147483647
MEAN_PLACES = 6.0  # how many coaches further a coach goes on average


@compiled
def draw(numbers: Column, below: int) -> int:
    """A random whole number from 0 to below - 1."""
    numbers[0] = numbers[0] * 48271 % MODULUS
    return numbers[0] % below


@compiled
def draw_wait(numbers: Column) -> float:
    """A random number of the exponential distribution with mean 1."""
    numbers[0] = numbers[0] * 48271 % MODULUS
    return -math.log(numbers[0] / MODULUS)


@compiled
def step(shop: Arena, own: Column, turns: Column, numbers: Column, given: int, is_by_start: bool) -> int:
    """Change the order a little. Returns the first turn from which on the plan may differ, or -1 if nothing changed.

    numbers: the random state. given: the first turns, which stay where they are; at least two must follow.
    """
    kind = draw(numbers, 10)
    if kind < 1:
        return _move_task(shop, own, turns, numbers)
    if kind < 2:
        return _move_turns(turns, numbers, given)
    return _move_stretch(turns, numbers, given) if is_by_start else _move_coach(shop, turns, numbers, given)


@compiled
def _move_coach(shop: Arena, turns: Column, numbers: Column, given: int) -> int:
    """Take all turns of a coach and put them in a row some coaches earlier or later, more often near than far."""
    job = draw(numbers, shop[c.JOBS])
    places, is_earlier = 1 + int(MEAN_PLACES * draw_wait(numbers)), draw(numbers, 2) == 0
    taken, first, kept = 0, -1, given
    for index in range(given, len(turns)):
        if turns[index] == job:
            taken += 1
            first = kept if first < 0 else first
        else:
            turns[kept] = turns[index]
            kept += 1
    if not taken:
        return -1
    at = _runs_before(turns, first, given, places) if is_earlier else _runs_after(turns, first, kept, places)
    for index in range(kept - 1, at - 1, -1):
        turns[index + taken] = turns[index]
    for index in range(at, at + taken):
        turns[index] = job
    return min(first, at)


@compiled
def _runs_before(turns: Column, at: int, given: int, count: int) -> int:
    """Where the run of turns begins that lies so many runs before a place."""
    while count and at > given:
        at -= 1
        while at > given and turns[at - 1] == turns[at]:
            at -= 1
        count -= 1
    return at


@compiled
def _runs_after(turns: Column, at: int, until: int, count: int) -> int:
    while count and at < until:
        at += 1
        while at < until and turns[at] == turns[at - 1]:
            at += 1
        count -= 1
    return at


@compiled
def _move_turns(turns: Column, numbers: Column, given: int) -> int:
    """Move some turns in a row to another place."""
    count = len(turns)
    size = 1 + draw(numbers, min(12, count - given - 1))
    begin = given + draw(numbers, count - given - size + 1)
    reach = 1 + draw(numbers, min(3 * size + 20, count - given))
    if draw(numbers, 3):  # mostly to the front
        target = max(given, begin - reach)
        _rotate(turns, target, begin, begin + size)
        return target if target != begin else -1
    target = min(count, begin + size + reach)
    _rotate(turns, begin, begin + size, target)
    return begin if target != begin + size else -1


@compiled
def _move_stretch(turns: Column, numbers: Column, given: int) -> int:
    """Let some turns of one coach in succession come a little earlier or later, past those of others."""
    begin = given + draw(numbers, len(turns) - given)
    job, left, places = turns[begin], 1 + draw(numbers, 8), 1 + draw(numbers, 20)
    if draw(numbers, 2):
        index, lowest = begin, begin
        while left and index < len(turns):
            if turns[index] == job:
                to = max(given, index - places)
                _rotate(turns, to, index, index + 1)
                lowest, left = min(lowest, to), left - 1
            index += 1
        return lowest
    index = begin
    while left and index + 1 < len(turns):
        left -= 1 if turns[index] == job else 0
        index += 1
    while index >= begin:
        if turns[index] == job:
            _rotate(turns, index, index + 1, min(len(turns), index + 1 + places))
        index -= 1
    return begin


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
def _move_task(shop: Arena, own: Column, turns: Column, numbers: Column) -> int:
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
        return -1
    target = first + draw(numbers, at - first)
    for index in range(at, target, -1):
        own[index] = own[index - 1]
    own[target] = task
    for index in range(len(turns)):
        if turns[index] == shop[shop[c.JOB] + task]:
            return index
    return -1


@compiled
def _comes_before(shop: Arena, before: int, task: int) -> bool:
    for row in range(shop[shop[c.BEFORE_OFF] + task], shop[shop[c.BEFORE_OFF] + task + 1]):
        if shop[shop[c.BEFORE] + row] == before:
            return True
    return False
