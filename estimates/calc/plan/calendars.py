"""Everybody's hours laid on one axis of working seconds, and the axes of those who work only part of it."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from itertools import accumulate, pairwise

from estimates.calc.plan.model import Problem, Worker

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SECOND = timedelta(seconds=1)
# A midday break does not end a shift.
LONGEST_BREAK_S = 90 * 60

Seconds = tuple[int, int]
Spans = tuple[Seconds, ...]


def seconds(at: datetime) -> int:
    """Clock seconds since the epoch, whole."""
    return (at - EPOCH) // SECOND


def moment(clock: int) -> datetime:
    return EPOCH + timedelta(seconds=clock)


def clock_spans(spans: Iterable[tuple[datetime, datetime]]) -> Spans:
    return tuple((seconds(begin), seconds(end)) for begin, end in spans)


def merged(spans: Iterable[Seconds]) -> Spans:
    """Sorted, with those that overlap made one; those that only touch stay two shifts."""
    done: list[Seconds] = []
    for begin, end in sorted(spans):
        if done and begin < done[-1][1]:
            done[-1] = (done[-1][0], max(end, done[-1][1]))
        elif end > begin:
            done.append((begin, end))
    return tuple(done)


def longest_shift(shifts: Iterable[tuple[datetime, datetime]]) -> timedelta:
    """The most work between two nights, midday breaks left aside."""
    longest = length = timedelta(0)
    closed_at = None
    for opens_at, closes_at in shifts:
        is_break = closed_at is not None and opens_at - closed_at <= timedelta(seconds=LONGEST_BREAK_S)
        length = (length if is_break else timedelta(0)) + (closes_at - opens_at)
        longest, closed_at = max(longest, length), closes_at
    return longest


class Calendars:
    """The calendars of a problem: number 0 is the shop's shifts, others are people's own hours."""

    def __init__(self, problem: Problem) -> None:
        self.hours: list[Spans] = [clock_spans(problem.shifts)]
        self._numbers: dict[Spans, int] = {self.hours[0]: 0}
        self.of_worker = {worker.key: self._number(worker) for worker in problem.workers}
        self.all = self.hours[0] if len(self.hours) == 1 else _elementary(self.hours)
        self.opens = [begin for begin, _ in self.all]
        self.before = list(accumulate((end - begin for begin, end in self.all), initial=0))
        self.axes: list[Spans] = []
        self._axis_of: dict[frozenset[int], int] = {}
        self._in_u: dict[int, Spans] = {}
        self._blocks: dict[int, list[tuple[int, int, int]]] = {}

    def _number(self, worker: Worker) -> int:
        if worker.hours is None and not worker.overtime:
            return 0
        own = self.hours[0] if worker.hours is None else clock_spans(worker.hours)
        spans = merged((*own, *clock_spans(worker.overtime)))
        if spans not in self._numbers:
            self._numbers[spans] = len(self.hours)
            self.hours.append(spans)
        return self._numbers[spans]

    def to_u(self, clock: int) -> int:
        index = bisect_right(self.opens, clock) - 1
        if index < 0:
            return 0
        return self.before[index] + min(clock, self.all[index][1]) - self.opens[index]

    def axis(self, numbers: frozenset[int]) -> int:
        """The axis of the hours that these calendars share."""
        if numbers not in self._axis_of:
            self._axis_of[numbers] = len(self.axes)
            spans = self.spans_in_u(min(numbers))
            for number in sorted(numbers)[1:]:
                spans = _shared(spans, self.spans_in_u(number))
            self.axes.append(spans)
        return self._axis_of[numbers]

    def spans_in_u(self, number: int) -> Spans:
        if number not in self._in_u:
            self._in_u[number] = tuple((self.to_u(begin), self.to_u(end)) for begin, end in self.hours[number])
        return self._in_u[number]

    def blocks(self, axis: int) -> list[tuple[int, int, int]]:
        """Begin, end and work of what lies between two nights (or longer breaks) of an axis."""
        if axis not in self._blocks:
            self._blocks[axis] = self._find_blocks(axis)
        return self._blocks[axis]

    def _find_blocks(self, axis: int) -> list[tuple[int, int, int]]:
        found: list[tuple[int, int, int]] = []
        last_clock = None
        for begin, end in self.axes[axis]:
            opens, closes = self._start_clock(begin), self._end_clock(end)
            if last_clock is None or opens - last_clock > LONGEST_BREAK_S:
                found.append((begin, end, end - begin))
            else:
                found[-1] = (found[-1][0], end, found[-1][2] + end - begin)
            last_clock = closes
        return found

    def longest_block_s(self, axis: int) -> int:
        """The longest stretch of work between two nights [s]."""
        return max((work for *_, work in self.blocks(axis)), default=0)

    def away(self, worker: Worker) -> Spans:
        """The worker's absences in u, as far as they touch the worker's own hours."""
        own = self.spans_in_u(self.of_worker[worker.key])
        spans = ((self.to_u(seconds(begin)), self.to_u(seconds(end))) for begin, end in worker.away)
        shared = ((begin, end) for begin, end in spans if end > begin and _touches(own, begin, end))
        return tuple(_joined(shared))

    def work_between(self, axis: int, begin: int, end: int) -> int:
        """Working seconds of an axis between two points in u."""
        spans = (min(until, end) - max(start, begin) for start, until in self.axes[axis])
        return sum(span for span in spans if span > 0)

    def is_plain(self, axis: int) -> bool:
        """Whether the axis has no hole in u, so that its working seconds are simply added."""
        return all(earlier[1] == later[0] for earlier, later in pairwise(self.axes[axis]))

    def _start_clock(self, u: int) -> int:
        index = bisect_right(self.before, u) - 1
        return self.opens[index] + u - self.before[index]

    def _end_clock(self, u: int) -> int:
        return self._start_clock(u - 1) + 1


def _elementary(calendars: Sequence[Spans]) -> Spans:
    """The hours in which anybody works, cut wherever somebody's begin or end."""
    edges = sorted({edge for spans in calendars for span in spans for edge in span})
    covered = _joined([span for spans in calendars for span in spans])
    starts = [begin for begin, _ in covered]
    cut = []
    for begin, end in pairwise(edges):
        index = bisect_right(starts, begin) - 1
        if index >= 0 and end <= covered[index][1]:
            cut.append((begin, end))
    return tuple(cut)


def _joined(spans: Iterable[Seconds]) -> list[Seconds]:
    """Sorted, with those that overlap or touch made one."""
    done: list[Seconds] = []
    for begin, end in sorted(spans):
        if done and begin <= done[-1][1]:
            done[-1] = (done[-1][0], max(end, done[-1][1]))
        else:
            done.append((begin, end))
    return done


def _shared(first: Spans, second: Spans) -> Spans:
    """The spans that lie in both."""
    found, left, right = [], 0, 0
    while left < len(first) and right < len(second):
        begin, end = max(first[left][0], second[right][0]), min(first[left][1], second[right][1])
        if begin < end:
            found.append((begin, end))
        if first[left][1] <= second[right][1]:
            left += 1
        else:
            right += 1
    return tuple(found)


def _touches(spans: Spans, begin: int, end: int) -> bool:
    """Whether begin to end shares any time with the spans."""
    index = max(0, bisect_right(spans, (begin, begin)) - 1)
    while index < len(spans) and spans[index][0] < end:
        if max(spans[index][0], begin) < min(spans[index][1], end):
            return True
        index += 1
    return False
