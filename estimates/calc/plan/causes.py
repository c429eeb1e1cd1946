"""Why a coach is late: every move of its date since the promise, added up."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

Change = TypeVar("Change")


@dataclass(frozen=True)
class DateChange:
    """One move of the expected date."""

    from_on: date
    to_on: date
    cause: str
    words: str


@dataclass(frozen=True)
class Step:
    """Calendar days that one cause added (or, negative, took away)."""

    cause: str
    words: str
    days: int


def attribute(promised_on: date, expected_at_promise_on: date, changes: Sequence[DateChange]) -> tuple[Step, ...]:
    """The causes whose days add up exactly to the expected date minus the promised one [calendar days].

    changes: the moves since the promise, oldest first, each starting where the one before ended.
    The first step is what the plan already stood past (or before) the promise when it was given.
    Steps of one cause and words are merged; those that come to nothing are left out.
    Raises ValueError if the changes do not form a chain from expected_at_promise_on.
    """
    days: dict[tuple[str, str], int] = {
        ("promise", "Plan when the date was promised"): (expected_at_promise_on - promised_on).days
    }
    at = expected_at_promise_on
    for change in changes:
        if change.from_on != at:
            raise ValueError(f"changes must form a chain: {change.from_on} does not follow {at}")
        key = (change.cause, change.words)
        days[key] = days.get(key, 0) + (change.to_on - change.from_on).days
        at = change.to_on
    return tuple(Step(cause, words, total) for (cause, words), total in days.items() if total)


def split(before_on: date, stages: Sequence[tuple[Change, date]]) -> tuple[tuple[Change, date, date], ...]:
    """Whose days are whose, when several changes moved one date: (change, from, to), those that moved it.

    stages: the changes in the order they happened, each with the date that the plan had with it and all before it
    put in. The moves form a chain from before_on to the last date, so their days add up exactly to the whole move.
    """
    moves, at = [], before_on
    for change, to_on in stages:
        if to_on != at:
            moves.append((change, at, to_on))
            at = to_on
    return tuple(moves)
