"""Who is busy when, on the working-time axis, and the earliest time a crew is free together."""

from bisect import bisect_right, insort
from collections.abc import Sequence

from estimates.calc.plan.axis import WorkAxis, seconds
from estimates.calc.plan.model import Worker

Interval = tuple[int, int]
NEVER = 1 << 62


class People:
    """The workers' calendars in work seconds; bookings can be undone."""

    def __init__(self, workers: Sequence[Worker], axis: WorkAxis) -> None:
        # Those who can do least come first, so that the many-sided stay free.
        self.workers = sorted(workers, key=lambda worker: (len(worker.skills), worker.key))
        self.axis = axis
        self.busy: dict[str, list[Interval]] = {worker.key: [] for worker in workers}
        self.log: list[tuple[str, Interval]] = []
        for worker in workers:
            for start, end in _union(worker, axis):
                self.book([worker.key], start, end)

    def book(self, keys: Sequence[str], start: int, end: int) -> None:
        if end <= start:
            return
        for key in keys:
            insort(self.busy[key], (start, end))
            self.log.append((key, (start, end)))

    def undo_to(self, mark: int) -> None:
        while len(self.log) > mark:
            key, interval = self.log.pop()
            self.busy[key].remove(interval)

    def find(
        self, crew: Sequence[tuple[str, int]], earliest: int, length: int, *, in_one_shift: bool
    ) -> tuple[int, tuple[str, ...]]:
        """The earliest start from `earliest` on at which a whole crew is free for `length`, and who.

        The crew must be one that the shop can staff (can_staff).
        """
        slots = [skill for skill, people in crew for _ in range(people)]
        able = [worker for worker in self.workers if any(skill in worker.skills for skill in slots)]
        start = earliest
        while True:
            if in_one_shift:
                start = self.axis.shift_start(start, length)
            next_free = {worker.key: self._gap(worker.key, start, length) for worker in able}
            chosen = _match(slots, [worker for worker in able if next_free[worker.key] == start])
            if chosen is not None:
                return start, chosen
            # Nobody becomes free before the first of these, so no crew forms earlier.
            start = min(free for free in next_free.values() if free > start)

    def free_from(self, keys: Sequence[str], earliest: int, length: int) -> int:
        """The earliest start from `earliest` on at which all of these people are free for `length`."""
        start = earliest
        while True:
            later = max((self._gap(key, start, length) for key in keys), default=start)
            if later == start:
                return start
            start = later

    def _gap(self, key: str, earliest: int, length: int) -> int:
        """The earliest start from `earliest` on of a gap of `length` in one person's calendar."""
        start = earliest
        intervals = self.busy[key]
        # One person's intervals never overlap, so only those from the last begun on matter.
        for index in range(max(0, bisect_right(intervals, (start, NEVER)) - 1), len(intervals)):
            begin, end = intervals[index]
            if begin >= start + max(length, 1):
                break
            start = max(start, end)
        return start


def can_staff(crew: Sequence[tuple[str, int]], workers: Sequence[Worker]) -> bool:
    """Whether the workers could be such a crew at all, each person filling one place."""
    return _match([skill for skill, people in crew for _ in range(people)], workers) is not None


def _match(slots: Sequence[str], workers: Sequence[Worker]) -> tuple[str, ...] | None:
    """One worker for each slot's skill, or None (augmenting paths, first come by the given order)."""
    holder: dict[int, int] = {}  # worker index -> slot index

    def seat(slot: int, seen: set[int]) -> bool:
        for index, worker in enumerate(workers):
            if slots[slot] not in worker.skills or index in seen:
                continue
            seen.add(index)
            if index not in holder or seat(holder[index], seen):
                holder[index] = slot
                return True
        return False

    if len(workers) < len(slots) or not all(seat(slot, set()) for slot in range(len(slots))):
        return None
    return tuple(workers[index].key for index in sorted(holder))


def _union(worker: Worker, axis: WorkAxis) -> list[Interval]:
    """The worker's absences in work seconds, overlapping ones made one."""
    merged: list[Interval] = []
    for start_at, end_at in sorted(worker.away):
        start, end = axis.work(seconds(start_at)), axis.work(seconds(end_at))
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged
