"""Clock seconds and working seconds, inside the engine.

u counts working seconds along all hours of all people; an axis is a part of it, for those who work only then.
"""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import FAR, Arena
from estimates.calc.plan.compiled import compiled


@compiled
def last_at_or_before(arena: Arena, column: int, low: int, high: int, value: int) -> int:
    """The last index in low..high-1 of a column whose entry is at or before the value, or low - 1."""
    count = high - low
    while count > 0:  # without a jump that depends on the entries: a processor guesses every second one wrong
        half = (count + 1) >> 1
        low += half if arena[column + low + half - 1] <= value else 0
        count -= half
    return low - 1


@compiled
def to_u(shop: Arena, clock: int) -> int:
    """Working seconds up to a clock second."""
    index = last_at_or_before(shop, shop[c.U_OPEN], 0, shop[c.U_SPANS], clock)
    if index < 0:
        return 0
    return shop[shop[c.U_BEFORE] + index] + min(clock, shop[shop[c.U_CLOSE] + index]) - shop[shop[c.U_OPEN] + index]


@compiled
def start_clock(shop: Arena, u: int) -> int:
    """When the working second begins: at the end of a shift, that is the opening of the next."""
    index = last_at_or_before(shop, shop[c.U_BEFORE], 0, shop[c.U_SPANS], u)
    return shop[shop[c.U_OPEN] + index] + u - shop[shop[c.U_BEFORE] + index]


@compiled
def end_clock(shop: Arena, u: int) -> int:
    """When the working second before this one is over: at the end of a shift, that is its closing."""
    index = max(0, last_at_or_before(shop, shop[c.U_BEFORE], 0, shop[c.U_SPANS], u - 1))
    return shop[shop[c.U_OPEN] + index] + u - shop[shop[c.U_BEFORE] + index]


@compiled
def open_clock(shop: Arena, clock: int) -> int:
    """The clock second itself when the shop is open then (closing included), else the next opening; FAR if none."""
    index = last_at_or_before(shop, shop[c.SHOP_OPEN], 0, shop[c.SHIFTS], clock)
    if index >= 0 and clock <= shop[shop[c.SHOP_CLOSE] + index]:
        return clock
    if index + 1 >= shop[c.SHIFTS]:
        return FAR
    return shop[shop[c.SHOP_OPEN] + index + 1]


@compiled
def align(shop: Arena, axis: int, u: int) -> int:
    """The first working second of the axis from u on; FAR if there is none."""
    low, high = shop[shop[c.AXIS_OFF] + axis], shop[shop[c.AXIS_OFF] + axis + 1]
    if low == high or u >= shop[shop[c.AXIS_UNTIL] + high - 1]:
        return FAR
    if shop[shop[c.AXIS_PLAIN] + axis]:
        return max(u, shop[shop[c.AXIS_FROM] + low])
    index = last_at_or_before(shop, shop[c.AXIS_FROM], low, high, u)
    if index >= low and u < shop[shop[c.AXIS_UNTIL] + index]:
        return u
    return shop[shop[c.AXIS_FROM] + index + 1]


@compiled
def advance(shop: Arena, axis: int, u: int, length: int) -> int:
    """Where `length` of the axis' working seconds from u, one of them, end; FAR if the axis ends before."""
    low, high = shop[shop[c.AXIS_OFF] + axis], shop[shop[c.AXIS_OFF] + axis + 1]
    if shop[shop[c.AXIS_PLAIN] + axis]:
        return u + length if u + length <= shop[shop[c.AXIS_UNTIL] + high - 1] else FAR
    index = last_at_or_before(shop, shop[c.AXIS_FROM], low, high, u)
    work = shop[shop[c.AXIS_WORK] + index] + u - shop[shop[c.AXIS_FROM] + index] + length
    while (
        index < high
        and work > shop[shop[c.AXIS_WORK] + index] + shop[shop[c.AXIS_UNTIL] + index] - shop[shop[c.AXIS_FROM] + index]
    ):
        index += 1
    if index == high:
        return FAR
    return shop[shop[c.AXIS_FROM] + index] + work - shop[shop[c.AXIS_WORK] + index]


@compiled
def fit(shop: Arena, axis: int, u: int, length: int, one_shift: int) -> tuple[int, int]:
    """The first span from u on that holds `length`: (start, end), or (FAR, FAR).

    In one shift: inside one block between two nights. What is longer than any block begins with one; a problem with
    such work is refused, but a sample of a forecast may stretch work that far.
    """
    start = align(shop, axis, u)
    if start == FAR:
        return FAR, FAR
    if not one_shift:
        end = advance(shop, axis, start, length)
        return (start, end) if end != FAR else (FAR, FAR)
    high = shop[shop[c.BLOCK_OFF] + axis + 1]
    block = last_at_or_before(shop, shop[c.BLOCK_FROM], shop[shop[c.BLOCK_OFF] + axis], high, start)
    while block < high:
        start = align(shop, axis, max(u, shop[shop[c.BLOCK_FROM] + block]))
        end = advance(shop, axis, start, length) if start != FAR else FAR
        if start < shop[shop[c.BLOCK_UNTIL] + block] and end != FAR:
            is_first = start == shop[shop[c.BLOCK_FROM] + block]
            if end <= shop[shop[c.BLOCK_UNTIL] + block] or (is_first and length > shop[shop[c.AXIS_LONGEST] + axis]):
                return start, end
        block += 1
    return FAR, FAR
