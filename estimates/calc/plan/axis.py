"""The working-time axis: clock time to working seconds and back."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import accumulate, pairwise

from estimates.calc.plan.model import HorizonTooShort

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SECOND = timedelta(seconds=1)
# A midday break does not end a shift.
LONGEST_BREAK_S = 90 * 60


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
        # Work seconds at which a night (or a longer break) cuts the axis: one-shift work lies between two cuts.
        self.cuts = [
            self.before[index]
            for index in range(len(self.opens))
            if index == 0 or self.opens[index] - self.closes[index - 1] > LONGEST_BREAK_S
        ] + [self.before[-1]]
        self.longest = max((end - begin for begin, end in pairwise(self.cuts)), default=0)

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
        """The earliest work second from `work` on at which `length` fits between two cuts.

        What is longer than a whole shift starts with one: it cannot be done better.
        """
        index = bisect_right(self.cuts, work) - 1
        while index + 1 < len(self.cuts):
            begin = max(work, self.cuts[index])
            if begin + length <= self.cuts[index + 1]:
                return begin
            if begin == self.cuts[index] and length > self.longest:
                return begin
            index += 1
        raise HorizonTooShort("The shifts end before the work does.")

    def _check(self, index: int) -> None:
        if index >= len(self.opens):
            raise HorizonTooShort("The shifts end before the work does.")
