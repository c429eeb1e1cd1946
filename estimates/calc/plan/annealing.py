"""Simulated annealing over the order in which tasks are placed.

An order that is worse is taken as well, the more readily the less worse it is and the hotter the search, so that it
leaves behind what only looks like the best; as it cools it settles. Only what lies behind the first change of an order
is planned anew, from the last mark before it, and no further than it takes to see that the order is too bad.
Source: Kirkpatrick, Gelatt and Vecchi 1983, Science 220, acceptance by exp(-worsening / heat) (from memory).
"""

from typing import NamedTuple

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, Arena, Column, Work
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.marks import copy_plan
from estimates.calc.plan.serial import begin, go, note_last_bay_task, note_ready
from estimates.calc.plan.steps import draw_wait, step
from estimates.calc.plan.worth import cost_placed, is_placed, weigh

MARKS = 16
CURRENT, BEST = 0, 1  # in Walk.value
UNKNOWN = -1


class Walk(NamedTuple):
    """Where a search stands: three orders, what two of them are worth, and how far the current one is at each mark.

    Marks are kept twice: the current order's, and room for those of an order that is tried. side says which is which.
    """

    own: Column
    turns: Column
    own_tried: Column
    turns_tried: Column
    own_best: Column
    turns_best: Column
    value: Column
    numbers: Column  # the random state
    last: Column  # starts in the plan in force
    cost: Column  # what each coach costs in the current order
    cost_tried: Column
    side: Column
    mark_at: Column  # turns played before each mark; both sides of a mark side by side
    marks: list[Arena]


@compiled
def anneal(
    shop: Arena,
    work: Work,
    state: Arena,
    walk: Walk,
    given: int,
    is_by_start: bool,
    heat: int,
    doubt: int,
    schedules: int,
) -> None:
    """Try so many orders. given: turns that stay in front.

    heat: a worsening that is taken with a chance of exp(-1). doubt: by how much an order half planned must be too bad
    to be given up, the coaches still to place taken to cost what they do in the current order.
    """
    for _ in range(schedules):
        _copy_order(walk.own, walk.turns, walk.own_tried, walk.turns_tried)
        at = step(shop, walk.own_tried, walk.turns_tried, walk.numbers, given, is_by_start)
        if at < 0:
            continue
        most = walk.value[CURRENT] + int(heat * draw_wait(walk.numbers))
        mark = _mark_before(walk, at)
        copy_plan(shop, walk.marks[2 * mark + walk.side[mark]], state)
        note_last_bay_task(shop, work, walk.own_tried, state, walk.turns_tried[at])
        value = _plan_tried(shop, work, state, walk, mark, most + doubt)
        if value <= most:
            _take(walk, mark, value)


@compiled
def begin_walk(shop: Arena, work: Work, state: Arena, walk: Walk) -> None:
    """Plan the order to be tried from its beginning and take it for the current and the best one."""
    begin(shop, work, walk.own_tried, state)
    for job in range(shop[c.JOBS]):
        walk.cost[job] = cost_placed(shop, work, state, job)  # for coaches without anything to place
    walk.side[0] = walk.mark_at[0] = 0
    copy_plan(shop, state, walk.marks[0])
    _take(walk, 0, _plan_tried(shop, work, state, walk, 0, FAR - 1))


@compiled
def _plan_tried(shop: Arena, work: Work, state: Arena, walk: Walk, mark: int, give_up_at: int) -> int:
    """What the order tried is worth, planned on from a mark; FAR where it cannot be planned or is given up."""
    at, turns = walk.mark_at[2 * mark + walk.side[mark]], walk.turns_tried
    for job in range(shop[c.JOBS]):
        walk.cost_tried[job] = walk.cost[job] if is_placed(shop, state, job) else UNKNOWN
    for further in range(mark + 1, MARKS):
        until = max(at, _run_from(turns, further * len(turns) // MARKS))
        if go(shop, work, walk.own_tried, turns, state, at, until) >= 0:
            return FAR
        if _expected(shop, work, state, walk) > give_up_at:
            return FAR
        place = 2 * further + 1 - walk.side[further]
        copy_plan(shop, state, walk.marks[place])
        walk.mark_at[place] = at = until
    if go(shop, work, walk.own_tried, turns, state, at, len(turns)) >= 0 or note_ready(shop, work, state) >= 0:
        return FAR
    _expected(shop, work, state, walk)
    return weigh(shop, walk.last, state)


@compiled
def _expected(shop: Arena, work: Work, state: Arena, walk: Walk) -> int:
    """What an order half planned comes to, the coaches still to place taken to cost what they do in the current one."""
    cost = 0
    for job in range(shop[c.JOBS]):
        if walk.cost_tried[job] == UNKNOWN and is_placed(shop, state, job):
            walk.cost_tried[job] = cost_placed(shop, work, state, job)
        cost += walk.cost[job] if walk.cost_tried[job] == UNKNOWN else walk.cost_tried[job]
    return cost


@compiled
def _take(walk: Walk, mark: int, value: int) -> None:
    """Make the order that was tried the current one, and its marks behind the one it went on from."""
    _copy_order(walk.own_tried, walk.turns_tried, walk.own, walk.turns)
    walk.value[CURRENT] = value
    for job in range(len(walk.cost)):
        walk.cost[job] = walk.cost_tried[job]
    for further in range(mark + 1, MARKS):
        walk.side[further] = 1 - walk.side[further]
    if value < walk.value[BEST]:
        walk.value[BEST] = value
        _copy_order(walk.own, walk.turns, walk.own_best, walk.turns_best)


@compiled
def _mark_before(walk: Walk, at: int) -> int:
    """The last mark up to which the order tried is the current one, turn for turn and run for run."""
    turns = walk.turns_tried
    for mark in range(MARKS - 1, 0, -1):
        begins = walk.mark_at[2 * mark + walk.side[mark]]
        if begins <= at and (begins == 0 or begins == len(turns) or turns[begins] != turns[begins - 1]):
            return mark
    return 0


@compiled
def _run_from(turns: Column, at: int) -> int:
    """Where a run of turns begins, at a place or behind it."""
    while 0 < at < len(turns) and turns[at] == turns[at - 1]:
        at += 1
    return at


@compiled
def _copy_order(own: Column, turns: Column, own_to: Column, turns_to: Column) -> None:
    for index in range(len(own)):
        own_to[index] = own[index]
    for index in range(len(turns)):
        turns_to[index] = turns[index]
