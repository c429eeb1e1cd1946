"""How far a shop's coaches are past their promises: one measure, wherever it is shown."""

from collections.abc import Iterable
from datetime import date


def days_past_promises(coaches: Iterable[tuple[date, date | None]]) -> int:
    """Calendar days from promise to ready, all coaches together. One that is early or not promised counts nothing.

    coaches: (ready on, promised on).
    """
    return sum(max(0, (ready_on - promised_on).days) for ready_on, promised_on in coaches if promised_on)
