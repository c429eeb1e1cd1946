"""Placing one task as early as it can be, given all that is placed already."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import EVENT, FAR, LABOUR, LEAST_REMAINDER_S, MARKER, RUNS_LABOUR, WAIT, Arena, Work
from estimates.calc.plan.clock import end_clock, last_at_or_before, open_clock, start_clock, to_u
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.crews import book, find_crew
from estimates.calc.plan.stock import free_stock, take_stock


@compiled
def place(shop: Arena, work: Work, state: Arena, task: int, bay_from: int) -> bool:
    """Place a task whose predecessors are placed. False if the shifts end before it does."""
    kind, length = shop[shop[c.KIND] + task], work.length[task]
    if not work.active[task] or kind == MARKER:
        at = after_predecessors(shop, state, task)
        if at == -FAR:  # nothing before it
            at = max(shop[c.NOW], shop[shop[c.RELEASE] + shop[shop[c.JOB] + task]])
        state[state[c.START] + task] = state[state[c.END] + task] = at
        return True
    earliest = _earliest(shop, work, state, task, bay_from)
    if kind == EVENT or (kind == LABOUR and not length):
        at = open_clock(shop, earliest) if shop[shop[c.SHOP_HOURS] + task] else earliest
        state[state[c.START] + task] = state[state[c.END] + task] = at
        return at != FAR
    if kind == WAIT:
        return _place_wait(shop, work, state, task, earliest)
    return _place_labour(shop, state, task, earliest, length)


@compiled
def place_running(shop: Arena, work: Work, state: Arena, task: int) -> bool:
    """Running work keeps its start and its people and goes on with what is left of it."""
    state[state[c.START] + task] = shop[shop[c.FIXED_START] + task]
    if shop[shop[c.KIND] + task] != RUNS_LABOUR:
        state[state[c.END] + task] = max(shop[shop[c.FIXED_START] + task] + work.length[task], shop[c.NOW])
    else:
        left = max(work.length[task] - shop[shop[c.DONE_S] + task], LEAST_REMAINDER_S)
        start, end = find_crew(shop, state, shop[shop[c.SPEC] + task], shop[c.NOW_U], left, 0)
        if start == FAR:
            return False
        _note_crew(shop, state, task, start, end)
        state[state[c.END] + task] = end_clock(shop, end)
    take_stock(shop, state, task, shop[c.NOW], state[state[c.END] + task])
    return True


@compiled
def after_predecessors(shop: Arena, state: Arena, task: int) -> int:
    at = -FAR
    for row in range(shop[shop[c.BEFORE_OFF] + task], shop[shop[c.BEFORE_OFF] + task + 1]):
        at = max(at, state[state[c.END] + shop[shop[c.BEFORE] + row]] + shop[shop[c.LAG] + row])
    return at


@compiled
def _earliest(shop: Arena, work: Work, state: Arena, task: int, bay_from: int) -> int:
    at = max(
        shop[c.NOW],
        shop[shop[c.RELEASE] + shop[shop[c.JOB] + task]],
        after_predecessors(shop, state, task),
        work.not_before[task],
    )
    return max(at, bay_from) if shop[shop[c.CLAIMS_BAY] + task] else at


@compiled
def _place_wait(shop: Arena, work: Work, state: Arena, task: int, earliest: int) -> bool:
    start, length, until = earliest, work.length[task], work.until[task]
    holds = shop[shop[c.USE_OFF] + task] < shop[shop[c.USE_OFF] + task + 1]
    while True:
        if holds:  # somebody must be there to set it up
            start = open_clock(shop, start)
        if start >= FAR:
            return False
        later = _later_for_things(shop, state, task, start, max(start + length, until))
        if later == start:
            break
        start = later
    state[state[c.START] + task], state[state[c.END] + task] = start, max(start + length, until)
    _hold_things(shop, state, task)
    return True


@compiled
def _place_labour(shop: Arena, state: Arena, task: int, earliest: int, length: int) -> bool:
    u = to_u(shop, earliest)
    while True:
        begin, finish = find_crew(shop, state, shop[shop[c.SPEC] + task], u, length, shop[shop[c.ONE_SHIFT] + task])
        if begin == FAR:
            return False
        start, end = start_clock(shop, begin), end_clock(shop, finish)
        later = _later_for_things(shop, state, task, start, end)
        if later == start:
            break
        if later >= FAR:
            return False
        u = max(to_u(shop, later), begin + 1)
    state[state[c.START] + task], state[state[c.END] + task] = start, end
    _note_crew(shop, state, task, begin, finish)
    _hold_things(shop, state, task)
    return True


@compiled
def _note_crew(shop: Arena, state: Arena, task: int, begin: int, finish: int) -> None:
    for index in range(shop[shop[c.SPEC_SIZE] + shop[shop[c.SPEC] + task]]):
        state[state[c.WHO] + shop[shop[c.WHO_OFF] + task] + index] = state[state[c.CHOSEN] + index]
        book(shop, state, state[state[c.CHOSEN] + index], begin, finish)


@compiled
def _later_for_things(shop: Arena, state: Arena, task: int, start: int, end: int) -> int:
    """`start` itself when equipment and (for a coach that parks outside) a bay are free, else a later moment."""
    later = start
    if shop[shop[c.USE_OFF] + task] < shop[shop[c.USE_OFF] + task + 1]:
        later = free_stock(shop, state, task, start, end)
    if later == start and shop[shop[c.CLAIMS_BAY] + task] and shop[shop[c.PARKS] + shop[shop[c.JOB] + task]]:
        later = _free_bay(shop, state, task, start, end)
    return later


@compiled
def _free_bay(shop: Arena, state: Arena, task: int, start: int, end: int) -> int:
    """Choose a bay that is free from start to end, for this task alone; else when the first becomes free."""
    job, later = shop[shop[c.JOB] + task], FAR
    for row in range(shop[shop[c.CHOICE_OFF] + job], shop[shop[c.CHOICE_OFF] + job + 1]):
        bay = shop[shop[c.CHOICE] + row]
        base = bay * shop[c.STAY_ROOM]
        index = last_at_or_before(
            state, state[c.STAY_FROM], base, base + state[state[c.STAY_COUNT] + bay], max(start, end - 1)
        )
        if index < base or state[state[c.STAY_UNTIL] + index] <= start:
            state[state[c.BAY] + task] = bay
            return start
        later = min(later, state[state[c.STAY_UNTIL] + index])
    return later


@compiled
def _hold_things(shop: Arena, state: Arena, task: int) -> None:
    take_stock(shop, state, task, state[state[c.START] + task], state[state[c.END] + task])
    if shop[shop[c.CLAIMS_BAY] + task] and shop[shop[c.PARKS] + shop[shop[c.JOB] + task]]:
        add_stay(
            shop,
            state,
            state[state[c.BAY] + task],
            shop[shop[c.JOB] + task],
            state[state[c.START] + task],
            state[state[c.END] + task],
        )


@compiled
def add_stay(shop: Arena, state: Arena, bay: int, job: int, start: int, end: int) -> None:
    base, count = bay * shop[c.STAY_ROOM], state[state[c.STAY_COUNT] + bay]
    at = last_at_or_before(state, state[c.STAY_FROM], base, base + count, start) + 1
    for index in range(base + count, at, -1):
        state[state[c.STAY_FROM] + index] = state[state[c.STAY_FROM] + index - 1]
        state[state[c.STAY_UNTIL] + index] = state[state[c.STAY_UNTIL] + index - 1]
        state[state[c.STAY_JOB] + index] = state[state[c.STAY_JOB] + index - 1]
    state[state[c.STAY_FROM] + at], state[state[c.STAY_UNTIL] + at], state[state[c.STAY_JOB] + at] = start, end, job
    state[state[c.STAY_COUNT] + bay] = count + 1
