"""Who is busy when, in working seconds, and the earliest time a crew is free together."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, Arena
from estimates.calc.plan.clock import advance, align, fit, last_at_or_before
from estimates.calc.plan.compiled import compiled


@compiled
def book(shop: Arena, state: Arena, person: int, start: int, end: int) -> None:
    """Enter a span into a person's calendar; spans that touch become one."""
    base, count = person * shop[c.ROOM], state[state[c.BUSY_COUNT] + person]
    at = last_at_or_before(state, state[c.BUSY_FROM], base, base + count, start) + 1
    joins_left = at > base and state[state[c.BUSY_UNTIL] + at - 1] >= start
    joins_right = at < base + count and state[state[c.BUSY_FROM] + at] <= end
    if joins_left and joins_right:
        state[state[c.BUSY_UNTIL] + at - 1] = max(state[state[c.BUSY_UNTIL] + at - 1], state[state[c.BUSY_UNTIL] + at])
        for index in range(at, base + count - 1):
            state[state[c.BUSY_FROM] + index] = state[state[c.BUSY_FROM] + index + 1]
            state[state[c.BUSY_UNTIL] + index] = state[state[c.BUSY_UNTIL] + index + 1]
        state[state[c.BUSY_COUNT] + person] = count - 1
    elif joins_left:
        state[state[c.BUSY_UNTIL] + at - 1] = max(state[state[c.BUSY_UNTIL] + at - 1], end)
    elif joins_right:
        state[state[c.BUSY_FROM] + at] = start
    else:
        for index in range(base + count, at, -1):
            state[state[c.BUSY_FROM] + index] = state[state[c.BUSY_FROM] + index - 1]
            state[state[c.BUSY_UNTIL] + index] = state[state[c.BUSY_UNTIL] + index - 1]
        state[state[c.BUSY_FROM] + at], state[state[c.BUSY_UNTIL] + at] = start, end
        state[state[c.BUSY_COUNT] + person] = count + 1


@compiled
def gap(shop: Arena, state: Arena, person: int, axis: int, u: int, length: int, one_shift: int) -> tuple[int, int]:
    """The first span of `length` from u on in which a person is free: (start, end), or (FAR, FAR)."""
    if shop[shop[c.AXIS_PLAIN] + axis] and not one_shift:
        return _plain_gap(shop, state, person, axis, u, length)
    base = person * shop[c.ROOM]
    while True:
        start, end = fit(shop, axis, u, length, one_shift)
        if start == FAR:
            return FAR, FAR
        last = last_at_or_before(state, state[c.BUSY_FROM], base, base + state[state[c.BUSY_COUNT] + person], end - 1)
        if last < base or state[state[c.BUSY_UNTIL] + last] <= start:
            return start, end
        # Any start before the end of this booking would run into it.
        u = state[state[c.BUSY_UNTIL] + last]


@compiled
def _plain_gap(shop: Arena, state: Arena, person: int, axis: int, u: int, length: int) -> tuple[int, int]:
    """As gap, on an axis without holes: from booking to booking until there is room between two."""
    starts, ends = state[c.BUSY_FROM] + person * shop[c.ROOM], state[c.BUSY_UNTIL] + person * shop[c.ROOM]
    count = state[state[c.BUSY_COUNT] + person]
    start = align(shop, axis, u)
    index = last_at_or_before(state, starts, 0, count, start)
    if index >= 0:
        start = max(start, state[ends + index])
    index += 1
    while index < count and state[starts + index] - start < length:
        start = state[ends + index]
        index += 1
    end = advance(shop, axis, start, length) if start < FAR else FAR
    return (start, end) if end < FAR else (FAR, FAR)


@compiled
def find_crew(shop: Arena, state: Arena, spec: int, u: int, length: int, one_shift: int) -> tuple[int, int]:
    """The earliest end of `length` for a whole crew from u on: (start, end); who it is lies in the column CHOSEN."""
    size = shop[shop[c.SPEC_SIZE] + spec]
    if size == 0:  # work that names nobody goes on in the shop's hours
        return fit(shop, shop[shop[c.OPTION_AXIS] + shop[shop[c.OPTION_OFF] + spec]], u, length, one_shift)
    best_start, best_end = FAR, FAR
    for option in range(shop[shop[c.OPTION_OFF] + spec], shop[shop[c.OPTION_OFF] + spec + 1]):
        if size == 1:
            start, end, who = _find_one(shop, state, option, u, length, one_shift, best_end)
            is_better = end < best_end or (end == best_end and end != FAR and who < state[state[c.CHOSEN] + 0])
            if is_better:
                state[state[c.CHOSEN] + 0] = who
        else:
            start, end = _find_several(shop, state, spec, option, u, length, one_shift, best_end)
            is_better = end < best_end
        if is_better:
            best_start, best_end = start, end
    return best_start, best_end


@compiled
def _find_one(
    shop: Arena, state: Arena, option: int, u: int, length: int, one_shift: int, limit: int
) -> tuple[int, int, int]:
    """Who of one option ends first, and when: (start, end, person). Nobody is looked for who ends after the limit."""
    best_start, best_end, who = FAR, FAR, -1
    axis = shop[shop[c.OPTION_AXIS] + option]
    for index in range(shop[shop[c.ABLE_OFF] + option], shop[shop[c.ABLE_OFF] + option + 1]):
        if u + length >= best_end or u + length > limit:
            break  # whoever is left ends no earlier
        person = shop[shop[c.ABLE] + index]
        start, end = gap(shop, state, person, axis, u, length, one_shift)
        if end < best_end:
            best_start, best_end, who = start, end, person
    return best_start, best_end, who


@compiled
def _find_several(
    shop: Arena, state: Arena, spec: int, option: int, u: int, length: int, one_shift: int, limit: int
) -> tuple[int, int]:
    """As find_crew, by one option; CHOSEN is touched only when it ends before the limit."""
    low, able = shop[shop[c.ABLE_OFF] + option], shop[shop[c.ABLE_OFF] + option + 1] - shop[shop[c.ABLE_OFF] + option]
    for index in range(able):
        state[state[c.GAP_FROM] + index] = -1
    at = u
    while True:
        soonest = _next_gaps(shop, state, option, at, length, one_shift)
        free, end, following = 0, FAR, FAR
        for index in range(able):
            if state[state[c.GAP_FROM] + index] == soonest:
                state[state[c.FREE] + free] = shop[shop[c.ABLE] + low + index]
                end = state[state[c.GAP_UNTIL] + index]
                free += 1
            else:
                following = min(following, state[state[c.GAP_FROM] + index])
        if end >= limit:
            return FAR, FAR
        if _choose(shop, state, spec, free):
            return soonest, end
        # Nobody else becomes free before the next of them, so no crew forms earlier.
        at = following


@compiled
def _next_gaps(shop: Arena, state: Arena, option: int, at: int, length: int, one_shift: int) -> int:
    """Bring everybody's next gap to `at` or later; the soonest of their starts, FAR if none is left."""
    soonest = FAR
    low, axis = shop[shop[c.ABLE_OFF] + option], shop[shop[c.OPTION_AXIS] + option]
    for index in range(shop[shop[c.ABLE_OFF] + option + 1] - low):
        if state[state[c.GAP_FROM] + index] < at:
            person = shop[shop[c.ABLE] + low + index]
            start, end = gap(shop, state, person, axis, at, length, one_shift)
            state[state[c.GAP_FROM] + index], state[state[c.GAP_UNTIL] + index] = start, end
        soonest = min(soonest, state[state[c.GAP_FROM] + index])
    return soonest


@compiled
def _choose(shop: Arena, state: Arena, spec: int, free: int) -> bool:
    """Choose a crew among the free people, into CHOSEN; False if they do not make one."""
    size = shop[shop[c.SPEC_SIZE] + spec]
    if free < size:
        return False
    for index in range(free):
        state[state[c.HOLDER] + index] = 0 if shop[shop[c.SPEC_IS_ONE_SKILL] + spec] and index < size else -1
    if not shop[shop[c.SPEC_IS_ONE_SKILL] + spec]:
        for slot in range(size):
            if not _seat(shop, state, spec, slot, free):
                return False
    count = 0
    for index in range(free):
        if state[state[c.HOLDER] + index] >= 0:
            state[state[c.CHOSEN] + count] = state[state[c.FREE] + index]
            count += 1
    return True


@compiled
def _seat(shop: Arena, state: Arena, spec: int, slot: int, free: int) -> bool:
    """Give one more place a person, moving others to places they can fill too (augmenting path, breadth first)."""
    for index in range(free):
        state[state[c.SEEN] + index] = -1
    state[state[c.QUEUE]] = slot
    head, tail, found = 0, 1, -1
    while head < tail and found < 0:
        place = state[state[c.QUEUE] + head]
        head += 1
        skill = shop[shop[c.SLOT_SKILL] + shop[shop[c.SLOT_OFF] + spec] + place]
        tail, found = _reach(shop, state, place, skill, free, tail)
    if found < 0:
        return False
    while True:
        place = state[state[c.SEEN] + found]
        before = state[state[c.HELD] + place]
        state[state[c.HOLDER] + found], state[state[c.HELD] + place] = place, found
        if place == slot:
            return True
        found = before


@compiled
def _reach(shop: Arena, state: Arena, place: int, skill: int, free: int, tail: int) -> tuple[int, int]:
    """Look at all who could fill a place: (the queue's new end, somebody without a place or -1)."""
    for index in range(free):
        can = (shop[shop[c.SKILLS] + state[state[c.FREE] + index]] >> skill) & 1
        if state[state[c.SEEN] + index] >= 0 or not can:
            continue
        state[state[c.SEEN] + index] = place
        if state[state[c.HOLDER] + index] < 0:
            return tail, index
        state[state[c.QUEUE] + tail] = state[state[c.HOLDER] + index]
        tail += 1
    return tail, -1
