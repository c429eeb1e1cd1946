"""Serial schedule generation: task after task in a given order, each as early as it can be, gaps included.

The order is given as turns (jobs, once for each of their tasks) and each job's own order of tasks, so that every
sequence of turns can be carried out. A coach that has all its bay tasks in one run of turns may stand in any gap of
a bay that is long enough; one whose tasks are interleaved with others' takes a bay once the bay's last coach is placed
for good, and waits its turn until then.
Source: Kolisch 1996, European Journal of Operational Research 90, serial schedule generation scheme (from memory).
"""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import DONE, FAR, Arena, Column, Work
from estimates.calc.plan.clock import open_clock
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.placing import add_stay, after_predecessors, place, place_running
from estimates.calc.plan.stock import clear_stock

PLACED, NO_BAY = -1, -2


@compiled
def decode(shop: Arena, work: Work, own: Column, turns: Column, state: Arena) -> int:
    """Make the plan of an order. Returns -1, or the task that the shifts are too short for."""
    _clear(shop, state)
    failed = _place_past(shop, work, state)
    if failed >= 0:
        return failed
    _count_bay_tasks(shop, work, own, state)
    _stand(shop, state)
    count, at = len(turns), 0
    while at < count:
        job, run = turns[at], 1
        while at + run < count and turns[at + run] == job:
            run += 1
        at += run
        if state[state[c.OWED] + job]:
            state[state[c.OWED] + job] += run
            continue
        outcome = _play(shop, work, own, state, job, run)
        if outcome >= 0:
            return outcome
        if outcome == NO_BAY or state[state[c.BAY_LEFT] + job] == 0:
            outcome = _pay(shop, work, own, state)
            if outcome >= 0:
                return outcome
    return _note_ready(shop, work, state)


@compiled
def _clear(shop: Arena, state: Arena) -> None:
    for person in range(shop[c.PEOPLE]):
        state[state[c.BUSY_COUNT] + person] = 0
        base = person * shop[c.ROOM]
        for index in range(shop[shop[c.AWAY_OFF] + person], shop[shop[c.AWAY_OFF] + person + 1]):
            state[state[c.BUSY_FROM] + base + state[state[c.BUSY_COUNT] + person]] = shop[shop[c.AWAY_FROM] + index]
            state[state[c.BUSY_UNTIL] + base + state[state[c.BUSY_COUNT] + person]] = shop[shop[c.AWAY_UNTIL] + index]
            state[state[c.BUSY_COUNT] + person] += 1
    clear_stock(shop, state)
    for bay in range(shop[c.BAYS]):
        state[state[c.STAY_COUNT] + bay] = 0
    for job in range(shop[c.JOBS]):
        state[state[c.TURN] + job] = state[state[c.OWED] + job] = state[state[c.BAY_LEFT] + job] = 0
        state[state[c.JOB_BAY] + job] = -1
        state[state[c.OWN_STAY_FROM] + job], state[state[c.OWN_STAY_UNTIL] + job], state[state[c.LAST_BAY] + job] = (
            FAR,
            -FAR,
            -1,
        )


@compiled
def _place_past(shop: Arena, work: Work, state: Arena) -> int:
    for task in range(shop[c.TASKS]):
        if shop[shop[c.KIND] + task] == DONE:
            state[state[c.START] + task], state[state[c.END] + task] = (
                shop[shop[c.FIXED_START] + task],
                shop[shop[c.FIXED_END] + task],
            )
    for index in range(shop[c.RUNS]):
        task = shop[shop[c.RUNNING] + index]
        if not place_running(shop, work, state, task):
            return task
        if shop[shop[c.CLAIMS_BAY] + task]:
            job = shop[shop[c.JOB] + task]
            state[state[c.OWN_STAY_UNTIL] + job] = max(state[state[c.OWN_STAY_UNTIL] + job], state[state[c.END] + task])
    return PLACED


@compiled
def _count_bay_tasks(shop: Arena, work: Work, own: Column, state: Arena) -> None:
    """Count each coach's bay tasks to come, and how long each of its tasks is at least before the last of them ends."""
    for task in range(shop[c.TASKS]):
        state[state[c.BAY_TO_GO] + task] = -1
    for job in range(shop[c.JOBS]):
        base = shop[shop[c.TOPO_OFF] + job]
        for index in range(shop[shop[c.TOPO_OFF] + job + 1] - base - 1, -1, -1):
            task = own[base + index]
            is_active = work.active[task]
            if shop[shop[c.CLAIMS_BAY] + task] and is_active:
                state[state[c.BAY_LEFT] + job] += 1
                state[state[c.LAST_BAY] + job] = max(state[state[c.LAST_BAY] + job], index)
                state[state[c.BAY_TO_GO] + task] = max(0, state[state[c.BAY_TO_GO] + task])
            if state[state[c.BAY_TO_GO] + task] >= 0:
                _pass_on(shop, state, task, work.length[task] if is_active else 0)


@compiled
def _pass_on(shop: Arena, state: Arena, task: int, length: int) -> None:
    """Add a task to its own way and hand that to the tasks before it."""
    to_go = state[state[c.BAY_TO_GO] + task] + length
    state[state[c.BAY_TO_GO] + task] = to_go
    for row in range(shop[shop[c.BEFORE_OFF] + task], shop[shop[c.BEFORE_OFF] + task + 1]):
        before = shop[shop[c.BEFORE] + row]
        state[state[c.BAY_TO_GO] + before] = max(state[state[c.BAY_TO_GO] + before], to_go + shop[shop[c.LAG] + row])


@compiled
def _stand(shop: Arena, state: Arena) -> None:
    """Coaches that stand in a bay hold it from now on, however late they are placed."""
    for job in range(shop[c.JOBS]):
        bay = shop[shop[c.STANDS_IN] + job]
        if bay < 0:
            continue
        state[state[c.JOB_BAY] + job] = bay
        state[state[c.OWN_STAY_FROM] + job] = min(shop[c.NOW], shop[shop[c.BEGUN] + job])
        state[state[c.OWN_STAY_UNTIL] + job] = max(shop[c.NOW], state[state[c.OWN_STAY_UNTIL] + job])
        is_open = state[state[c.BAY_LEFT] + job] > 0 and not shop[shop[c.PARKS] + job]
        add_stay(
            shop,
            state,
            bay,
            job,
            shop[c.NOW],
            FAR if is_open else max(shop[c.NOW] + 1, state[state[c.OWN_STAY_UNTIL] + job]),
        )


@compiled
def _play(shop: Arena, work: Work, own: Column, state: Arena, job: int, run: int) -> int:
    """Place the job's next tasks, `run` of them. Returns PLACED, NO_BAY (turns are owed), or the task that failed."""
    base = shop[shop[c.TOPO_OFF] + job]
    while run > 0:
        at = state[state[c.TURN] + job]
        task = own[base + at]
        if shop[shop[c.CLAIMS_BAY] + task] and work.active[task]:
            outcome = _enter(shop, work, own, state, job, run)
            if outcome == NO_BAY:
                state[state[c.OWED] + job] = run
            if outcome != PLACED:
                return outcome
            if state[state[c.TURN] + job] > at:
                run -= state[state[c.TURN] + job] - at
                continue
        if not place(shop, work, state, task, _bay_from(shop, state, job)):
            return task
        state[state[c.TURN] + job] += 1
        run -= 1
        _note_bay_task(shop, work, state, job, task)
    return PLACED


@compiled
def _enter(shop: Arena, work: Work, own: Column, state: Arena, job: int, run: int) -> int:
    """See to it that a job whose next task needs a bay has one. May place tasks: all up to the last bay task."""
    if shop[shop[c.PARKS] + job]:
        return PLACED if _has_closed_bay(shop, state, job) else NO_BAY
    if state[state[c.JOB_BAY] + job] >= 0:
        return PLACED
    if state[state[c.TURN] + job] + run > state[state[c.LAST_BAY] + job]:
        return _enter_gap(shop, work, own, state, job)
    return _enter_after_all(shop, state, job)


@compiled
def _pay(shop: Arena, work: Work, own: Column, state: Arena) -> int:
    """Let those play their owed turns who find a bay now."""
    moves = True
    while moves:
        moves = False
        for job in range(shop[c.JOBS]):
            owed = state[state[c.OWED] + job]
            if owed:
                state[state[c.OWED] + job] = 0
                outcome = _play(shop, work, own, state, job, owed)
                if outcome >= 0:
                    return outcome
                moves = moves or state[state[c.OWED] + job] < owed
    return PLACED


@compiled
def _bay_from(shop: Arena, state: Arena, job: int) -> int:
    """From when on the bay chosen for a job is its own."""
    return (
        -FAR
        if shop[shop[c.PARKS] + job] or shop[shop[c.STANDS_IN] + job] >= 0 or state[state[c.JOB_BAY] + job] < 0
        else state[state[c.OWN_STAY_FROM] + job]
    )


@compiled
def _note_bay_task(shop: Arena, work: Work, state: Arena, job: int, task: int) -> None:
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
            _keep(shop, state)
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
        _go_back(shop, state)
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


@compiled
def _keep(shop: Arena, state: Arena) -> None:
    """Copy the calendars of people and equipment, to go back to."""
    at = 0
    for person in range(shop[c.PEOPLE]):
        state[state[c.KEPT_BUSY] + at] = state[state[c.BUSY_COUNT] + person]
        at += 1
        for index in range(person * shop[c.ROOM], person * shop[c.ROOM] + state[state[c.BUSY_COUNT] + person]):
            state[state[c.KEPT_BUSY] + at], state[state[c.KEPT_BUSY] + at + 1] = (
                state[state[c.BUSY_FROM] + index],
                state[state[c.BUSY_UNTIL] + index],
            )
            at += 2
    at = 0
    for which in range(shop[c.THINGS]):
        state[state[c.KEPT_LEVEL] + at] = state[state[c.LEVEL_COUNT] + which]
        at += 1
        for index in range(which * shop[c.USE_ROOM], which * shop[c.USE_ROOM] + state[state[c.LEVEL_COUNT] + which]):
            state[state[c.KEPT_LEVEL] + at], state[state[c.KEPT_LEVEL] + at + 1] = (
                state[state[c.LEVEL_AT] + index],
                state[state[c.LEVEL] + index],
            )
            at += 2


@compiled
def _go_back(shop: Arena, state: Arena) -> None:
    at = 0
    for person in range(shop[c.PEOPLE]):
        state[state[c.BUSY_COUNT] + person] = state[state[c.KEPT_BUSY] + at]
        at += 1
        for index in range(person * shop[c.ROOM], person * shop[c.ROOM] + state[state[c.BUSY_COUNT] + person]):
            state[state[c.BUSY_FROM] + index], state[state[c.BUSY_UNTIL] + index] = (
                state[state[c.KEPT_BUSY] + at],
                state[state[c.KEPT_BUSY] + at + 1],
            )
            at += 2
    at = 0
    for which in range(shop[c.THINGS]):
        state[state[c.LEVEL_COUNT] + which] = state[state[c.KEPT_LEVEL] + at]
        at += 1
        for index in range(which * shop[c.USE_ROOM], which * shop[c.USE_ROOM] + state[state[c.LEVEL_COUNT] + which]):
            state[state[c.LEVEL_AT] + index], state[state[c.LEVEL] + index] = (
                state[state[c.KEPT_LEVEL] + at],
                state[state[c.KEPT_LEVEL] + at + 1],
            )
            at += 2


@compiled
def _note_ready(shop: Arena, work: Work, state: Arena) -> int:
    """When each coach is ready: its work over and, unless that is past, the shop open."""
    for job in range(shop[c.JOBS]):
        state[state[c.READY] + job] = -FAR
    for task in range(shop[c.TASKS]):
        if work.active[task]:
            job = shop[shop[c.JOB] + task]
            state[state[c.READY] + job] = max(state[state[c.READY] + job], state[state[c.END] + task])
    for job in range(shop[c.JOBS]):
        # Cures end on Sunday nights too; the coach is handed over when somebody is there.
        ready = max(state[state[c.READY] + job], shop[shop[c.RELEASE] + job])
        state[state[c.READY] + job] = open_clock(shop, ready) if ready > shop[c.NOW] else ready
        if state[state[c.READY] + job] == FAR:
            return (
                shop[shop[c.TOPO] + shop[shop[c.TOPO_OFF] + job + 1] - 1]
                if shop[shop[c.TOPO_OFF] + job + 1] > shop[shop[c.TOPO_OFF] + job]
                else 0
            )
    return PLACED
