"""The working-time axis: clock time to working seconds and back."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import accumulate

from estimates.calc.plan.model import HorizonTooShort

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SECOND = timedelta(seconds=1)


def seconds(at: datetime) -> int:
    """Clock seconds since the epoch, whole."""
    return (at - EPOCH) // SECOND


def moment(clock: int) -> datetime:
    return EPOCH + timedelta(seconds=clock)


class WorkAxis:
    """Shifts laid end to end. Work second w lies in the shift whose span of work seconds holds it."""

    def __init__(self, shifts: Sequence[tuple[datetime, datetime]]) -> None:
        self.opens = [seconds(opens) for opens, _ in shifts]
        self.closes = [seconds(closes) for _, closes in shifts]
        lengths = [closes - opens for opens, closes in zip(self.opens, self.closes, strict=True)]
        self.before = list(accumulate(lengths, initial=0))

    def work(self, clock: int) -> int:
        """Working seconds up to a clock second."""
        index = bisect_right(self.opens, clock) - 1
        if index < 0:
            return 0
        return self.before[index] + min(clock, self.closes[index]) - self.opens[index]

    def start_clock(self, work: int) -> int:
        """When the work second begins: at the end of a shift, that is the opening of the next."""
        index = bisect_right(self.before, work) - 1
        self._check(index)
        return self.opens[index] + work - self.before[index]

    def end_clock(self, work: int) -> int:
        """When the work second before this one is over: at the end of a shift, that is its closing."""
        index = max(0, bisect_left(self.before, work) - 1)
        self._check(index)
        return self.opens[index] + work - self.before[index]

    def open_clock(self, clock: int) -> int:
        """The clock second itself when the shop is open then (closing included), else the next opening."""
        index = bisect_right(self.opens, clock) - 1
        if index >= 0 and clock <= self.closes[index]:
            return clock
        self._check(index + 1)
        return self.opens[index + 1]

    def shift_start(self, work: int, length: int) -> int:
        """The earliest work second from `work` on at which `length` fits inside one shift."""
        index = bisect_right(self.before, work) - 1
        while True:
            self._check(index)
            begin = max(work, self.before[index])
            if begin + length <= self.before[index + 1]:
                return begin
            index += 1

    def _check(self, index: int) -> None:
        if index >= len(self.opens):
            raise HorizonTooShort("The shifts end before the work does.")
