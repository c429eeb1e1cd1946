"""Plans half made, copied at marks along the order: an order that differs further on goes on from there."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import Arena
from estimates.calc.plan.compiled import compiled


@compiled
def copy_plan(shop: Arena, source: Arena, target: Arena) -> None:
    """Copy what is placed so far to another state of the same shop, and none of the room left over."""
    _copy(source, target, source[c.START], source[c.BUSY_FROM])
    _copy_rows(source, target, shop[c.PEOPLE], shop[c.ROOM], source[c.BUSY_COUNT], source[c.BUSY_FROM], 2)
    _copy_rows(source, target, shop[c.THINGS], shop[c.USE_ROOM], source[c.LEVEL_COUNT], source[c.LEVEL_AT], 2)
    _copy_rows(source, target, shop[c.BAYS], shop[c.STAY_ROOM], source[c.STAY_COUNT], source[c.STAY_FROM], 3)
    _copy(source, target, source[c.TURN], source[c.READY])


@compiled
def _copy_rows(source: Arena, target: Arena, rows: int, room: int, counts: int, entries: int, columns: int) -> None:
    """Copy calendars: columns of rows x room that lie one behind the other, as far as each row is filled."""
    _copy(source, target, counts, counts + rows)
    for column in range(columns):
        for row in range(rows):
            begin = entries + (column * rows + row) * room
            _copy(source, target, begin, begin + source[counts + row])


@compiled
def _copy(source: Arena, target: Arena, begin: int, end: int) -> None:
    for index in range(begin, end):
        target[index] = source[index]
