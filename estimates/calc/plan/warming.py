"""Having the engine's code ready before anybody asks: read from disk, or compiled where it was never used before."""

import gc
import threading
from datetime import UTC, datetime, timedelta

from estimates.calc.plan.engine import prepare
from estimates.calc.plan.forecast import forecast
from estimates.calc.plan.model import PlanJob, Problem, Task, Worker
from estimates.calc.plan.search import search

MORE_THAN_RULES = 20  # a search begins with some rules of thumb, then it anneals
_begun = threading.Lock()


def warm_up() -> None:
    """Ask every question once of a shop of two tasks."""
    day = datetime(2026, 1, 5, tzinfo=UTC)
    tasks = (
        Task("cut", "Cut", "labour", timedelta(hours=1), (("body", 1),), needs_bay=True),
        Task("dry", "Dry", "wait", timedelta(hours=1), after=("cut",)),
    )
    job = PlanJob("job", 1, day, bay_choices=("bay",), tasks=tasks)
    shifts = ((day, day + timedelta(days=5)),)
    prepared = prepare(Problem(day, shifts, (Worker("ann", frozenset({"body"})),), ("bay",), (job,)))
    search(prepared, schedules=MORE_THAN_RULES)
    forecast(prepared, samples=1, threads=1)


def settle() -> None:
    """Warm up, and take all that is loaded by then out of the garbage collector's rounds: it stays.

    A plan's thousands of small objects wake the collector; walking through what the process began with took 140 ms of
    every tenth plan.
    """
    warm_up()
    gc.collect()
    gc.freeze()


def warm_up_aside() -> threading.Thread | None:
    """Settle in a thread of its own, once in a process; None if that was begun before."""
    if not _begun.acquire(blocking=False):
        return None
    thread = threading.Thread(target=settle, name="warm-up", daemon=True)
    thread.start()
    return thread
