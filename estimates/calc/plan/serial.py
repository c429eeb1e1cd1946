"""Serial schedule generation: task after task in a given order, each as early as it can be, gaps included.

The order is given as turns (jobs, once for each of their tasks) and each job's own order of tasks, so that every
sequence of turns can be carried out. A coach that finds no bay yet is owed its turns, and plays them once it does.
Source: Kolisch 1996, European Journal of Operational Research 90, serial schedule generation scheme (from memory).
"""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import DONE, FAR, NO_BAY, PLACED, Arena, Column, Work
from estimates.calc.plan.bays import bay_from, enter, note_bay_task
from estimates.calc.plan.clock import open_clock
from estimates.calc.plan.compiled import compiled
from estimates.calc.plan.placing import add_stay, place, place_running
from estimates.calc.plan.stock import clear_stock


@compiled
def decode(shop: Arena, work: Work, own: Column, turns: Column, state: Arena) -> int:
    """Make the plan of an order. Returns -1, or the task that the shifts are too short for."""
    outcome = begin(shop, work, own, state)
    if outcome < 0:
        outcome = go(shop, work, own, turns, state, 0, len(turns))
    return note_ready(shop, work, state) if outcome < 0 else outcome


@compiled
def begin(shop: Arena, work: Work, own: Column, state: Arena) -> int:
    """What stands before the first turn: the past, what runs, coaches in their bays."""
    _clear(shop, state)
    failed = _place_past(shop, work, state)
    if failed < 0:
        _count_bay_tasks(shop, work, own, state)
        _stand(shop, state)
    return failed


@compiled
def go(shop: Arena, work: Work, own: Column, turns: Column, state: Arena, at: int, until: int) -> int:
    """Play the turns from `at` on, where a run of turns begins, up to `until`, where one ends."""
    while at < until:
        job, run = turns[at], 1
        while at + run < until and turns[at + run] == job:
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
    return PLACED


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
                state[state[c.BAY_TO_GO] + task] = max(0, state[state[c.BAY_TO_GO] + task])
            if state[state[c.BAY_TO_GO] + task] >= 0:
                _pass_on(shop, state, task, work.length[task] if is_active else 0)
        note_last_bay_task(shop, work, own, state, job)


@compiled
def note_last_bay_task(shop: Arena, work: Work, own: Column, state: Arena, job: int) -> None:
    """Where in its own order a coach's last bay task stands; -1 without any."""
    base = shop[shop[c.TOPO_OFF] + job]
    at = shop[shop[c.TOPO_OFF] + job + 1] - base - 1
    while at >= 0 and not (shop[shop[c.CLAIMS_BAY] + own[base + at]] and work.active[own[base + at]]):
        at -= 1
    state[state[c.LAST_BAY] + job] = at


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
            outcome = enter(shop, work, own, state, job, run)
            if outcome == NO_BAY:
                state[state[c.OWED] + job] = run
            if outcome != PLACED:
                return outcome
            if state[state[c.TURN] + job] > at:
                run -= state[state[c.TURN] + job] - at
                continue
        if not place(shop, work, state, task, bay_from(shop, state, job)):
            return task
        state[state[c.TURN] + job] += 1
        run -= 1
        note_bay_task(shop, work, state, job, task)
    return PLACED


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
def note_ready(shop: Arena, work: Work, state: Arena) -> int:
    """When each coach is ready. Returns -1, or the last task of one that the shop's hours end before."""
    for job in range(shop[c.JOBS]):
        state[state[c.READY] + job] = -FAR
    for task in range(shop[c.TASKS]):
        if work.active[task]:
            job = shop[shop[c.JOB] + task]
            state[state[c.READY] + job] = max(state[state[c.READY] + job], state[state[c.END] + task])
    for job in range(shop[c.JOBS]):
        ready = hand_over(shop, job, state[state[c.READY] + job])
        state[state[c.READY] + job] = ready
        if ready == FAR:
            return (
                shop[shop[c.TOPO] + shop[shop[c.TOPO_OFF] + job + 1] - 1]
                if shop[shop[c.TOPO_OFF] + job + 1] > shop[shop[c.TOPO_OFF] + job]
                else 0
            )
    return PLACED


@compiled
def hand_over(shop: Arena, job: int, ends: int) -> int:
    """When a coach whose work ends at a moment is ready: then or, unless that is past, when the shop is open."""
    # Cures end on Sunday nights too; the coach is handed over when somebody is there.
    ready = max(ends, shop[shop[c.RELEASE] + job])
    return open_clock(shop, ready) if ready > shop[c.NOW] else ready
