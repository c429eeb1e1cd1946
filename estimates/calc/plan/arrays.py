"""The shapes the engine works on: columns of whole seconds and indexes, and nothing else.

For the compiled engine all columns of a shop lie one behind the other in one array, its arena, headed by where each
begins: shop[shop[KIND] + task] is the kind of a task, shop[NOW] a plain number. A compiler that must carry a hundred
arrays through every call takes minutes; one takes seconds. Without the compiler an arena is a list.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np

from estimates.calc.plan.compiled import IS_COMPILED

# Written down as lists; for the compiled engine they are int64 arrays, which it uses in the same way.
Column = list[int]
Arena = list[int]

# Kinds of tasks as the engine sees them.
DONE, RUNS_LABOUR, RUNS_WAIT, MARKER, EVENT, WAIT, LABOUR = range(7)
FIRST_TO_PLACE = MARKER
FAR = 1 << 60
# What placing turns may come to, beside the number of a task that the shifts end before.
PLACED, NO_BAY = -1, -2
LEAST_REMAINDER_S = 15 * 60  # what is running is never taken for finished: this much is left of it at least


class Shop(NamedTuple):
    """What no what-if changes. Ragged columns come with their offsets: row i lies in x[x_off[i]:x_off[i + 1]]."""

    now: int
    now_u: int
    tasks: int
    jobs: int
    people: int
    bays: int
    things: int
    runs: int
    u_spans: int
    shifts: int
    room: int  # intervals a person may need
    stay_room: int
    use_room: int
    # clock to working time and back: all hours of all people, laid end to end
    u_open: Column
    u_close: Column
    u_before: Column
    # the shop's own opening hours
    shop_open: Column
    shop_close: Column
    # working-time axes in u: spans, and the blocks between two nights
    axis_off: Column
    axis_from: Column
    axis_until: Column
    axis_work: Column
    axis_plain: Column
    axis_longest: Column
    block_off: Column
    block_from: Column
    block_until: Column
    # tasks
    kind: Column
    job: Column
    shop_hours: Column
    one_shift: Column
    claims_bay: Column
    spec: Column
    fixed_start: Column
    fixed_end: Column
    done_s: Column
    first: Column  # 1 for what goes before all the rest: frozen starts and what comes before them
    before_off: Column
    before: Column
    lag: Column
    use_off: Column
    use: Column
    need: Column
    who_off: Column
    topo_off: Column
    topo: Column  # tasks of each job in an order that respects precedence
    running: Column
    # crews
    spec_size: Column
    spec_is_one_skill: Column
    slot_off: Column
    slot_skill: Column
    option_off: Column
    option_axis: Column
    able_off: Column
    able: Column
    skills: Column
    # people's absences in u, as they stand before anything is booked
    away_off: Column
    away_from: Column
    away_until: Column
    # jobs
    release: Column
    promise: Column
    weight: Column
    stands_in: Column
    parks: Column
    begun: Column
    choice_off: Column
    choice: Column
    # equipment
    capacity: Column


class Work(NamedTuple):
    """What a what-if or a sample changes: durations, whether a task is done at all, earliest start, earliest end."""

    length: Column
    active: Column
    not_before: Column
    until: Column  # of waits, clock s; -FAR where any end will do


class State(NamedTuple):
    """The plan being made, and the room for making it."""

    start: Column
    end: Column
    who: Column
    bay: Column
    bay_to_go: Column  # least seconds from a task's start to the end of the coach's last bay task
    # people
    busy_from: Column
    busy_until: Column
    busy_count: Column
    # equipment
    level_at: Column
    level: Column
    level_count: Column
    # bays
    stay_from: Column
    stay_until: Column
    stay_job: Column
    stay_count: Column
    # jobs
    turn: Column  # how many of its tasks are placed
    owed: Column  # turns that wait for a bay
    job_bay: Column
    bay_left: Column  # bay tasks still to place
    own_stay_from: Column
    own_stay_until: Column
    last_bay: Column  # position of the last bay task in the job's own order
    ready: Column
    # copies to go back to
    kept_busy: Column
    kept_level: Column
    # room for choosing a crew
    chosen: Column
    gap_from: Column
    gap_until: Column
    free: Column
    holder: Column
    held: Column
    seen: Column
    queue: Column


# Where the head of an arena says each column begins: the fields above, in their order.
(
    NOW,
    NOW_U,
    TASKS,
    JOBS,
    PEOPLE,
    BAYS,
    THINGS,
    RUNS,
    U_SPANS,
    SHIFTS,
    ROOM,
    STAY_ROOM,
    USE_ROOM,
    U_OPEN,
    U_CLOSE,
    U_BEFORE,
    SHOP_OPEN,
    SHOP_CLOSE,
    AXIS_OFF,
    AXIS_FROM,
    AXIS_UNTIL,
    AXIS_WORK,
    AXIS_PLAIN,
    AXIS_LONGEST,
    BLOCK_OFF,
    BLOCK_FROM,
    BLOCK_UNTIL,
    KIND,
    JOB,
    SHOP_HOURS,
    ONE_SHIFT,
    CLAIMS_BAY,
    SPEC,
    FIXED_START,
    FIXED_END,
    DONE_S,
    FIRST,
    BEFORE_OFF,
    BEFORE,
    LAG,
    USE_OFF,
    USE,
    NEED,
    WHO_OFF,
    TOPO_OFF,
    TOPO,
    RUNNING,
    SPEC_SIZE,
    SPEC_IS_ONE_SKILL,
    SLOT_OFF,
    SLOT_SKILL,
    OPTION_OFF,
    OPTION_AXIS,
    ABLE_OFF,
    ABLE,
    SKILLS,
    AWAY_OFF,
    AWAY_FROM,
    AWAY_UNTIL,
    RELEASE,
    PROMISE,
    WEIGHT,
    STANDS_IN,
    PARKS,
    BEGUN,
    CHOICE_OFF,
    CHOICE,
    CAPACITY,
) = range(len(Shop._fields))
(
    START,
    END,
    WHO,
    BAY,
    BAY_TO_GO,
    BUSY_FROM,
    BUSY_UNTIL,
    BUSY_COUNT,
    LEVEL_AT,
    LEVEL,
    LEVEL_COUNT,
    STAY_FROM,
    STAY_UNTIL,
    STAY_JOB,
    STAY_COUNT,
    TURN,
    OWED,
    JOB_BAY,
    BAY_LEFT,
    OWN_STAY_FROM,
    OWN_STAY_UNTIL,
    LAST_BAY,
    READY,
    KEPT_BUSY,
    KEPT_LEVEL,
    CHOSEN,
    GAP_FROM,
    GAP_UNTIL,
    FREE,
    HOLDER,
    HELD,
    SEEN,
    QUEUE,
) = range(len(State._fields))


Columns = TypeVar("Columns", Shop, Work, State)


def column(values: Sequence[int]) -> Any:
    return np.array(values, dtype=np.int64) if IS_COMPILED else list(values)


def pack(fields: Sequence[Any]) -> Any:
    """One arena of plain numbers and columns, in the order given."""
    head, body = [], []
    at = len(fields)
    for each in fields:
        if isinstance(each, int):
            head.append(each)
            continue
        head.append(at)
        body.append(each)
        at += len(each)
    if IS_COMPILED:
        return np.concatenate([np.array(head, dtype=np.int64), *body])
    return [*head, *(value for each in body for value in each)]


def as_lists(columns: Columns) -> Columns:
    """The same columns to be read one value at a time, which an array is several times slower at."""
    lists: list[Any] = [each.tolist() if isinstance(each, np.ndarray) else each for each in columns]
    return type(columns)(*lists)


def unpack_state(arena: Arena) -> State:
    """The columns of a state, to be read."""
    begins = [int(each) for each in arena[: len(State._fields)]]
    ends = [*begins[1:], len(arena)]
    return State(*(arena[begin:end] for begin, end in zip(begins, ends, strict=True)))
