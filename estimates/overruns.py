"""Why a coach is expected later, or sooner, than promised: the recorded moves of its date, added up by cause."""

from collections.abc import Callable, Iterable
from datetime import date
from itertools import dropwhile

from estimates.calc.plan.causes import DateChange as Move
from estimates.calc.plan.causes import Step, attribute
from estimates.models import DateChange
from jobs.models import Promise

# What a move is put down to: its cause and what it is about. Moves alike in both are added up.
Telling = Callable[[DateChange], tuple[str, str]]


def _as_recorded(change: DateChange) -> tuple[str, str]:
    return change.cause, change.words


def steps_since(promise: Promise, changes: Iterable[DateChange], *, tell: Telling = _as_recorded) -> tuple[Step, ...]:
    """The causes since a promise was given, in calendar days that add up to expected minus promised.

    changes: the coach's moves, oldest first. The plan that stood when the promise was given is where the
    first move after it begins; a first plan made after the promise counts as the one expected then.
    """
    since = (change for change in changes if change.changed_at >= promise.promised_at)
    later = list(dropwhile(lambda change: _is_before(change, promise), since))
    expected_on = promise.expected_on or promise.ready_on
    if later:
        expected_on = later[0].from_on or later[0].to_on
    moves = [Move(change.from_on, change.to_on, *tell(change)) for change in later if change.from_on]
    return attribute(promise.ready_on, expected_on, moves)


def steps_until(promise: Promise, changes: Iterable[DateChange], days: int) -> tuple[Step, ...]:
    """The causes of `days` past the promise [calendar days]: the recorded ones, and what the plan knew nothing of.

    The plan takes a check to be signed off at once; a coach that waited for it became ready later than expected.
    """
    steps = steps_since(promise, changes)
    rest = days - sum(step.days for step in steps)
    return (*steps, Step("ready", "Ready on another day than the plan had it", rest)) if rest else steps


def _is_before(change: DateChange, promise: Promise) -> bool:
    """Of one instant with the promise, and not starting from the date expected then."""
    return change.changed_at == promise.promised_at and change.from_on != promise.expected_on


def over_days(promised_on: date | None, expected_on: date | None) -> int:
    """Calendar days by which a coach is expected after its promised day; 0 when in time or not known."""
    if promised_on is None or expected_on is None:
        return 0
    return max(0, (expected_on - promised_on).days)
