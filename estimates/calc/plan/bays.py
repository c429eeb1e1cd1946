"""Which bay a coach takes, and from when until when.

A coach that has all its bay tasks in one run of turns may stand in any gap of a bay that is long enough; one whose
tasks are interleaved with others' takes a bay once the bay's last coach is placed for good.
"""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, NO_BAY, PLACED, Arena, Column, Work
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.keeping import go_back, keep
from estimates.calc.plan.placing import add_stay, after_predecessors, place


@compiled
def enter(shop: Arena, work: Work, own: Column, state: Arena, job: int, run: int) -> int:
    """See to it that a job whose next task needs a bay has one. May place tasks: all up to the last bay task."""
    if shop[shop[c.PARKS] + job]:
        return PLACED if _has_closed_bay(shop, state, job) else NO_BAY
    if state[state[c.JOB_BAY] + job] >= 0:
        return PLACED
    if state[state[c.TURN] + job] + run > state[state[c.LAST_BAY] + job]:
        return _enter_gap(shop, work, own, state, job)
    return _enter_after_all(shop, state, job)


@compiled
def bay_from(shop: Arena, state: Arena, job: int) -> int:
    """From when on the bay chosen for a job is its own."""
    return (
        -FAR
        if shop[shop[c.PARKS] + job] or shop[shop[c.STANDS_IN] + job] >= 0 or state[state[c.JOB_BAY] + job] < 0
        else state[state[c.OWN_STAY_FROM] + job]
    )


@compiled
def note_bay_task(shop: Arena, work: Work, state: Arena, job: int, task: int) -> None:
    """Stretch the stay over a bay task, and end it with the last."""
    if not (shop[shop[c.CLAIMS_BAY] + task] and work.active[task]):
        return
    state[state[c.BAY_LEFT] + job] -= 1
    if shop[shop[c.PARKS] + job]:
        return
    state[state[c.OWN_STAY_UNTIL] + job] = max(state[state[c.OWN_STAY_UNTIL] + job], state[state[c.END] + task])
    if state[state[c.BAY_LEFT] + job] == 0:
        _close(shop, state, job)


@compiled
def _close(shop: Arena, state: Arena, job: int) -> None:
    base = state[state[c.JOB_BAY] + job] * shop[c.STAY_ROOM]
    for index in range(base, base + state[state[c.STAY_COUNT] + state[state[c.JOB_BAY] + job]]):
        if state[state[c.STAY_JOB] + index] == job and state[state[c.STAY_UNTIL] + index] == FAR:
            state[state[c.STAY_UNTIL] + index] = max(state[state[c.OWN_STAY_UNTIL] + job], shop[c.NOW] + 1)


@compiled
def _has_closed_bay(shop: Arena, state: Arena, job: int) -> bool:
    for row in range(shop[shop[c.CHOICE_OFF] + job], shop[shop[c.CHOICE_OFF] + job + 1]):
        if _free_for_good(shop, state, shop[shop[c.CHOICE] + row]) < FAR:
            return True
    return False


@compiled
def _free_for_good(shop: Arena, state: Arena, bay: int) -> int:
    """When the last coach leaves a bay; FAR while that is not known."""
    count = state[state[c.STAY_COUNT] + bay]
    return max(shop[c.NOW], state[state[c.STAY_UNTIL] + bay * shop[c.STAY_ROOM] + count - 1]) if count else shop[c.NOW]


@compiled
def _enter_after_all(shop: Arena, state: Arena, job: int) -> int:
    """Hold the bay that is free for good first, from then on; the stay's end is known later."""
    best, best_from = -1, FAR
    for row in range(shop[shop[c.CHOICE_OFF] + job], shop[shop[c.CHOICE_OFF] + job + 1]):
        free_from = max(_free_for_good(shop, state, shop[shop[c.CHOICE] + row]), shop[shop[c.RELEASE] + job])
        if free_from < best_from:
            best, best_from = shop[shop[c.CHOICE] + row], free_from
    if best < 0:
        return NO_BAY
    state[state[c.JOB_BAY] + job], state[state[c.OWN_STAY_FROM] + job] = best, best_from
    add_stay(shop, state, best, job, best_from, FAR)
    return PLACED


@compiled
def _enter_gap(shop: Arena, work: Work, own: Column, state: Arena, job: int) -> int:
    """Place the job up to its last bay task in the first gap of a bay that holds all of its stay.

    A stay that has been tried and outlasts its gap is taken to need its end in every later gap as well.
    """
    tried_from, tried_idle, tried_row, ends = -1, -1, -1, -FAR
    begun_at, left = state[state[c.TURN] + job], state[state[c.BAY_LEFT] + job]
    first = own[shop[shop[c.TOPO_OFF] + job] + begun_at]
    earliest = max(shop[shop[c.RELEASE] + job], after_predecessors(shop, state, first))
    while True:
        tried_from, tried_idle, tried_row, gap_from, gap_until = _next_gap(
            shop, state, job, first, earliest, ends, tried_from, tried_idle, tried_row
        )
        if tried_from == FAR:
            return NO_BAY
        if gap_until < FAR:
            keep(shop, state)
        state[state[c.JOB_BAY] + job] = shop[shop[c.CHOICE] + tried_row]
        outcome, stay_from, stay_until = _place_stay(shop, work, own, state, job, gap_from)
        if outcome >= 0 and gap_until == FAR:
            return outcome
        if outcome == PLACED and stay_until <= gap_until:
            state[state[c.OWN_STAY_FROM] + job], state[state[c.OWN_STAY_UNTIL] + job] = stay_from, stay_until
            bay = state[state[c.JOB_BAY] + job]
            add_stay(shop, state, bay, job, stay_from, max(stay_until, shop[c.NOW] + 1))
            return PLACED
        ends = max(ends, FAR if outcome >= 0 else stay_until)
        go_back(shop, state)
        state[state[c.TURN] + job], state[state[c.BAY_LEFT] + job], state[state[c.JOB_BAY] + job] = begun_at, left, -1


@compiled
def _place_stay(shop: Arena, work: Work, own: Column, state: Arena, job: int, gap_from: int) -> tuple[int, int, int]:
    """Place the tasks up to the last bay task: (PLACED or the task that failed, begin of the stay, its end)."""
    base, stay_from, stay_until = shop[shop[c.TOPO_OFF] + job], FAR, -FAR
    while state[state[c.TURN] + job] <= state[state[c.LAST_BAY] + job]:
        task = own[base + state[state[c.TURN] + job]]
        if not place(shop, work, state, task, gap_from):
            return task, FAR, FAR
        state[state[c.TURN] + job] += 1
        if shop[shop[c.CLAIMS_BAY] + task] and work.active[task]:
            state[state[c.BAY_LEFT] + job] -= 1
            stay_from = min(stay_from, state[state[c.START] + task])
            stay_until = max(stay_until, state[state[c.END] + task])
    return PLACED, stay_from, stay_until


@compiled
def _next_gap(
    shop: Arena,
    state: Arena,
    job: int,
    first: int,
    earliest: int,
    ends: int,
    tried_from: int,
    tried_idle: int,
    tried_row: int,
) -> tuple[int, int, int, int, int]:
    """The gap after the one tried last: soonest to enter, then the least time idle before, then as the bays are listed.

    first: the task that asks for the bay; ends: what a gap must at least reach to.
    Returns (when it can be entered, idle time before, row of the choice, begin, end); the first is FAR if none is left.
    """
    best_from, best_idle, best_row, best_gap_from, best_gap_until = FAR, FAR, -1, 0, 0
    for row in range(shop[shop[c.CHOICE_OFF] + job], shop[shop[c.CHOICE_OFF] + job + 1]):
        bay = shop[shop[c.CHOICE] + row]
        base, count = bay * shop[c.STAY_ROOM], state[state[c.STAY_COUNT] + bay]
        gap_from = shop[c.NOW]
        for index in range(count + 1):
            gap_until = state[state[c.STAY_FROM] + base + index] if index < count else FAR
            enter = max(gap_from, earliest)
            key = (enter, enter - gap_from, row)
            holds = gap_from < FAR and max(ends, enter + state[state[c.BAY_TO_GO] + first]) <= gap_until
            if holds and (tried_from, tried_idle, tried_row) < key < (best_from, best_idle, best_row):
                best_from, best_idle, best_row = key
                best_gap_from, best_gap_until = gap_from, gap_until
            if index < count:
                gap_from = max(gap_from, state[state[c.STAY_UNTIL] + base + index])
    return best_from, best_idle, best_row, best_gap_from, best_gap_until
