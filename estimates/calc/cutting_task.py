"""The cutting question in whole numbers, and what every way of answering it needs."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

SMALL = 1e-9

Pattern = tuple[int, ...]
Column = tuple[int, Pattern]
Plan = Counter[Column]


@dataclass(frozen=True)
class Task:
    """The question in whole numbers: nm with one kerf in each length and in each room, so kerfs lie between pieces."""

    lengths: tuple[int, ...]  # longest first
    demand: Pattern
    rooms: tuple[int, ...]
    costs: tuple[int, ...]
    limits: tuple[int, ...]
    is_limited: tuple[bool, ...]

    def cost(self, plan: Plan) -> int:
        return sum(self.costs[stock] * times for (stock, _), times in plan.items())

    def sort(self, stock: int) -> str:
        """ "sold" as often as wanted, "free" on hand; "" for what is sold only so often."""
        if not self.is_limited[stock]:
            return "sold"
        return "" if self.costs[stock] else "free"

    def used(self, pattern: Pattern) -> int:
        return sum(length * count for length, count in zip(self.lengths, pattern, strict=True))


def right_sized(task: Task, plan: Plan) -> Plan:
    """Every bought stick as the cheapest that holds its pieces, every free one as the shortest still there."""
    left = list(task.limits)
    kinds = range(len(left))
    sized: Plan = Counter()
    # The fullest first: then the shortest stick that holds one never leaves a later one without.
    for (stock, pattern), times in sorted(plan.items(), key=lambda item: -task.used(item[0][1])):
        alike = [kind for kind in kinds if task.sort(kind) == task.sort(stock)] if task.sort(stock) else [stock]
        holding = [kind for kind in alike if task.rooms[kind] >= task.used(pattern)]
        holding.sort(key=lambda kind: (task.costs[kind], task.rooms[kind]))
        for _ in range(times):
            best = next(kind for kind in holding if left[kind])
            left[best] -= task.is_limited[best]
            sized[best, pattern] += 1
    return sized


def best_pattern(task: Task, worth: Sequence[float], stock: int, looks_most: int) -> tuple[Pattern, float]:
    """The pattern worth most in one stick, and a value that none exceeds; past looks_most a looser one."""
    room = task.rooms[stock]
    fitting = [number for number, length in enumerate(task.lengths) if length <= room and task.demand[number]]
    order = sorted(
        (number for number in fitting if worth[number] > SMALL),
        key=lambda number: -worth[number] / task.lengths[number],
    )
    density = [worth[number] / task.lengths[number] for number in order] + [0.0]
    counts, best, looks = [0] * len(worth), [0] * len(worth), 0
    most = 0.0

    def look(depth: int, left: int, value: float) -> None:
        nonlocal most, best, looks
        looks += 1
        if value > most:
            most, best = value, counts.copy()
        if looks > looks_most or value + left * density[depth] <= most + SMALL * (1 + most):
            return
        number = order[depth]
        for count in range(min(task.demand[number], left // task.lengths[number]), -1, -1):
            counts[number] = count
            look(depth + 1, left - count * task.lengths[number], value + count * worth[number])

    look(0, room, 0.0)
    upper = most + SMALL * (1 + most) if looks <= looks_most else room * density[0]
    return tuple(best), upper
