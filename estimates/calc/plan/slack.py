"""How much later each task could end while nothing of another coach, and no coach's own date, moves."""

from estimates.calc.plan import arrays
from estimates.calc.plan.arrays import FAR, Arena, Shop, State, Work
from estimates.calc.plan.clock import end_clock, start_clock, to_u


def latest_ends(shop: Shop, arena: Arena, work: Work, state: State) -> list[int]:
    """For each task the latest end [clock s], holding all other coaches and the choice of people and bays.

    A backward pass over the placed plan: from the coach's own date, along precedence, and up to the next start on the
    same person, bay or equipment.
    """
    start = state.start
    latest = [state.ready[shop.job[task]] for task in range(shop.tasks)]
    _bound_by_people(shop, arena, work, state, start, latest)
    _bound_by_bays(shop, work, state, latest)
    _bound_by_equipment(shop, start, state, latest)
    for job in range(shop.jobs):
        for index in range(shop.topo_off[job + 1] - 1, shop.topo_off[job] - 1, -1):
            task = shop.topo[index]
            latest[task] = max(latest[task], state.end[task])
            begin = _latest_start(shop, arena, work, state, task, latest[task])
            for row in range(shop.before_off[task], shop.before_off[task + 1]):
                before = shop.before[row]
                latest[before] = min(latest[before], begin - shop.lag[row])
    return latest


def _latest_start(shop: Shop, arena: Arena, work: Work, state: State, task: int, latest: int) -> int:
    """When the task starts if it ends at its latest."""
    begin, end = state.start[task], state.end[task]
    if shop.kind[task] == arrays.WAIT and work.active[task]:
        return latest - work.length[task]
    if not work.active[task] or shop.kind[task] != arrays.LABOUR or begin == end:
        return latest - (end - begin)
    taken = to_u(arena, end) - to_u(arena, begin)
    return max(begin, int(start_clock(arena, to_u(arena, latest) - taken)))


def _bound_by_people(shop: Shop, arena: Arena, work: Work, state: State, start: list[int], latest: list[int]) -> None:
    following = [FAR] * len(shop.skills)
    for task in sorted(range(shop.tasks), key=lambda each: -state.end[each]):
        is_labour = shop.kind[task] in (arrays.LABOUR, arrays.RUNS_LABOUR)
        if not is_labour or not work.active[task] or start[task] == state.end[task]:
            continue
        for index in range(shop.who_off[task], shop.who_off[task + 1]):
            person = state.who[index]
            if following[person] < FAR:
                latest[task] = min(latest[task], int(end_clock(arena, to_u(arena, following[person]))))
            following[person] = shop.now if shop.kind[task] == arrays.RUNS_LABOUR else start[task]


def _bound_by_bays(shop: Shop, work: Work, state: State, latest: list[int]) -> None:
    for task in range(shop.tasks):
        job = shop.job[task]
        bay = state.bay[task] if shop.parks[job] else state.job_bay[job]
        if not (shop.claims_bay[task] and work.active[task]) or bay < 0:
            continue
        base = bay * shop.stay_room
        for index in range(base, base + state.stay_count[bay]):
            if state.stay_from[index] >= state.end[task]:
                latest[task] = min(latest[task], state.stay_from[index])
                break


def _bound_by_equipment(shop: Shop, start: list[int], state: State, latest: list[int]) -> None:
    users: dict[int, list[int]] = {}
    for task in range(shop.tasks):
        for row in range(shop.use_off[task], shop.use_off[task + 1]):
            users.setdefault(shop.use[row], []).append(task)
    for tasks in users.values():
        begins = sorted(start[task] for task in tasks)
        for task in tasks:
            latest[task] = min([latest[task], *(begin for begin in begins if begin >= state.end[task])])
