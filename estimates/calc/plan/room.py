"""Room for making plans in, sized once for a shop."""

from itertools import accumulate
from typing import Any

import numpy as np

from estimates.calc.plan.arrays import Shop, State
from estimates.calc.plan.compiled import IS_COMPILED


def empty_state(shop: Shop) -> Any:
    """Room for making plans of a shop; one for each thread."""
    task, job, crew = shop.tasks, shop.jobs, max([shop.people, *shop.spec_size]) + 1
    busy, level, stay = shop.people * shop.room, shop.things * shop.use_room, shop.bays * shop.stay_room
    sizes = {
        "start": task,
        "end": task,
        "who": int(shop.who_off[-1]),
        "bay": task,
        "bay_to_go": task,
        "busy_from": busy,
        "busy_until": busy,
        "busy_count": shop.people,
        "level_at": level,
        "level": level,
        "level_count": shop.things,
        "stay_from": stay,
        "stay_until": stay,
        "stay_job": stay,
        "stay_count": shop.bays,
        "turn": job,
        "owed": job,
        "job_bay": job,
        "bay_left": job,
        "own_stay_from": job,
        "own_stay_until": job,
        "last_bay": job,
        "ready": job,
        "kept_busy": shop.people + 2 * busy,
        "kept_level": shop.things + 2 * level,
        "chosen": crew,
        "gap_from": crew,
        "gap_until": crew,
        "free": crew,
        "holder": crew,
        "held": crew,
        "seen": crew,
        "queue": crew,
    }
    counts = [sizes[name] for name in State._fields]
    begins = list(accumulate(counts, initial=len(counts)))
    if not IS_COMPILED:
        return [*begins[:-1], *([0] * sum(counts))]
    arena = np.zeros(begins[-1], dtype=np.int64)
    arena[: len(counts)] = begins[:-1]
    return arena


def empty_states(shop: Shop, count: int) -> Any:
    """Room for so many plans, numbered from 0."""
    states = [empty_state(shop) for _ in range(count)]
    return np.array(states) if IS_COMPILED else states
