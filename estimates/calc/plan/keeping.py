"""Copies of the calendars of people and equipment, to go back to when a coach does not fit a gap after all."""

from estimates.calc.plan import arrays as c
from estimates.calc.plan.arrays import Arena
from estimates.calc.plan.compiled import compiled


@compiled
def keep(shop: Arena, state: Arena) -> None:
    _copy(state, state[c.KEPT_BUSY], shop[c.PEOPLE], shop[c.ROOM], state[c.BUSY_COUNT], state[c.BUSY_FROM], False)
    _copy(state, state[c.KEPT_LEVEL], shop[c.THINGS], shop[c.USE_ROOM], state[c.LEVEL_COUNT], state[c.LEVEL_AT], False)


@compiled
def go_back(shop: Arena, state: Arena) -> None:
    _copy(state, state[c.KEPT_BUSY], shop[c.PEOPLE], shop[c.ROOM], state[c.BUSY_COUNT], state[c.BUSY_FROM], True)
    _copy(state, state[c.KEPT_LEVEL], shop[c.THINGS], shop[c.USE_ROOM], state[c.LEVEL_COUNT], state[c.LEVEL_AT], True)


@compiled
def _copy(state: Arena, kept: int, rows: int, room: int, counts: int, entries: int, is_back: bool) -> None:
    """Copy calendars out or back. Two columns of rows x room lie one behind the other from `entries` on."""
    second = rows * room
    for row in range(rows):
        count = state[kept] if is_back else state[counts + row]
        state[kept] = state[counts + row] = count
        kept += 1
        for at in range(entries + row * room, entries + row * room + count):
            if is_back:
                state[at], state[at + second] = state[kept], state[kept + 1]
            else:
                state[kept], state[kept + 1] = state[at], state[at + second]
            kept += 2
