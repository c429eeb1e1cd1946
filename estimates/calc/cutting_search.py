"""The search for the cheapest cutting plan, in whole numbers.

Method: columns made as needed against the linear bound (Gilmore and Gomory, Operations Research 9, 1961), then a
whole-number search with every pattern that could still better the plan in hand. So a plan is proven, or says it is not.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

# Limits past which a plan may be handed back unproven. None is a time, so that a plan does not depend on the machine.
MOST_COLUMNS = 400
MOST_LOOKS = 20_000
MOST_LONG_LOOKS = 20
SHORT_LOOKS = 1_000
FEW_LOOKS = 300
MOST_NEAR_LOOKS = 500_000
MOST_PATTERNS = 20_000
MOST_NODES = 5_000
# So many patterns are searched at once; of more, those made for the bound come first.
FEW_PATTERNS = 300
SMALL = 1e-9
# How scipy.optimize.milp says that its search went to the end.
OPTIMAL, INFEASIBLE = 0, 2

Pattern = tuple[int, ...]
Column = tuple[int, Pattern]
Plan = Counter[Column]
Numbers = NDArray[np.floating[Any]]


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


def solve(task: Task) -> tuple[Plan, bool]:
    """The cheapest plan found and whether it is proven."""
    plans = [_first_fit(task, stock, first) for stock in range(len(task.rooms)) for first in (("free",), ("free", ""))]
    plan = min(plans, key=task.cost)
    relaxed = Relaxation(task)
    if task.cost(plan) > relaxed.floor:
        relaxed.run()
    if task.cost(plan) > relaxed.floor:
        plan = min(plan, *(_fullest_first(task, stock) for stock in range(len(task.rooms))), key=task.cost)
    floor = relaxed.floor
    if task.cost(plan) <= floor:
        return plan, True
    near, is_all = _columns_near(task, relaxed, plan, FEW_PATTERNS)
    if not is_all:
        # A better plan first, of the patterns already made, leaves fewer others that could still beat it.
        plan = _whole(task, list(relaxed.columns), floor, plan)[0]
        near, is_all = _columns_near(task, relaxed, plan, MOST_PATTERNS)
    plan, is_closed = _whole(task, near, floor, plan)
    return plan, task.cost(plan) <= floor or (is_closed and is_all)


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


def _first_fit(task: Task, bought: int, first: tuple[str, ...]) -> Plan:
    """First fit, longest first: into the sorts of scarce sticks named, shortest first, then into new ones of one kind.

    Where that kind does not hold a piece, or is scarce itself, the cheapest that does is taken.
    """
    kinds = range(len(task.rooms))
    scarce = sorted((stock for stock in kinds if task.sort(stock) in first), key=lambda stock: task.rooms[stock])
    sticks = [_Open(task, stock) for stock in scarce for _ in range(task.limits[stock])]
    sold = sorted((stock for stock in kinds if task.sort(stock) == "sold"), key=lambda stock: task.costs[stock])
    sold = ([bought] if bought in sold else []) + sold
    for number, length in enumerate(task.lengths):
        for _ in range(task.demand[number]):
            stick = next((each for each in sticks if each.room >= length), None)
            if stick is None:
                stick = _Open(task, next(stock for stock in sold if task.rooms[stock] >= length))
                sticks.append(stick)
            stick.take(number, length)
    return right_sized(task, Counter((each.stock, tuple(each.counts)) for each in sticks if any(each.counts)))


def _fullest_first(task: Task, bought: int) -> Plan:
    """Each stick as full as a short look finds it: those on hand first, then of one kind or the longest sold."""
    kinds = range(len(task.rooms))
    worth = [float(length) for length in task.lengths]
    on_hand = sorted((stock for stock in kinds if task.sort(stock) == "free"), key=lambda stock: task.rooms[stock])
    longest = max((stock for stock in kinds if task.sort(stock) == "sold"), key=lambda stock: task.rooms[stock])
    sold = bought if task.sort(bought) == "sold" else longest
    turns = [stock for stock in on_hand for _ in range(task.limits[stock])]
    left, plan = task.demand, Counter[Column]()
    while any(left):
        stock = turns.pop(0) if turns else sold
        pattern, _ = _best_pattern(replace(task, demand=left), worth, stock, FEW_LOOKS)
        if not any(pattern) and stock == sold:
            sold = longest  # the other kind is too short for what is left
        left = tuple(want - have for want, have in zip(left, pattern, strict=True))
        plan[stock, pattern] += any(pattern)
    return right_sized(task, +plan)


class _Open:
    """A stick that still takes pieces."""

    def __init__(self, task: Task, stock: int) -> None:
        self.stock, self.room = stock, task.rooms[stock]
        self.counts = [0] * len(task.lengths)

    def take(self, number: int, length: int) -> None:
        self.room -= length
        self.counts[number] += 1


class Relaxation:
    """The linear bound on the cost: a revised simplex whose patterns are made when they would help.

    bound: no plan costs less, whether the simplex ended or hit a limit, since it is taken from the prices alone.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        self.scarce = [stock for stock, is_limited in enumerate(task.is_limited) if is_limited]
        self.right = np.array([*task.demand, *(task.limits[stock] for stock in self.scarce)], dtype=float)
        self.bound = 0.0
        self.best = _Prices.of(self, np.zeros(len(self.right)))
        self.columns: dict[Column, None] = {}
        self.long_looks = 0
        self.least_gain = SMALL * max(1.0, *task.costs)

        self._start_from_material()

    def _start_from_material(self) -> None:
        """All pieces end to end, from the stick that is cheapest by length: a bound without any pattern."""
        kinds = list(zip(self.task.rooms, self.task.costs, self.task.is_limited, strict=True))
        rate = min(cost / room for room, cost, is_limited in kinds if not is_limited)
        scarce = [min(0.0, cost - rate * room) for room, cost, is_limited in kinds if is_limited]
        prices = np.array([*(rate * length for length in self.task.lengths), *scarce])
        self._raise_bound(_Prices.of(self, prices), [rate * room for room in self.task.rooms])

    @property
    def floor(self) -> int:
        """The least whole cost that the bound leaves, errors of floating point allowed for."""
        return math.ceil(self.bound - max(1e-6, SMALL * self.bound))

    def run(self) -> None:
        """Raise the bound until no pattern helps, or a limit is reached."""
        base, costs = self._start()
        for _ in range(MOST_COLUMNS):
            prices = np.linalg.solve(base.T, costs)
            entering, cost = self._entering(prices)
            if entering is None or self.long_looks > MOST_LONG_LOOKS:
                return
            direction = np.linalg.solve(base, entering)
            amounts = np.linalg.solve(base, self.right)
            rising = direction > 1e-8
            if not rising.any():
                return
            ratios = np.where(rising, np.maximum(amounts, 0) / np.where(rising, direction, 1.0), np.inf)
            leaving = int(np.argmin(ratios))
            base[:, leaving], costs[leaving] = entering, cost

    def _start(self) -> tuple[Numbers, Numbers]:
        """Sticks of one length of piece each, of the cheapest sort that holds it, and all scarce ones left over."""
        task, rows = self.task, len(self.right)
        base, costs = np.eye(rows), np.zeros(rows)
        sold = [stock for stock in range(len(task.rooms)) if not task.is_limited[stock]]
        for number, length in enumerate(task.lengths):
            stock = min((s for s in sold if task.rooms[s] >= length), key=lambda s: task.costs[s])
            most = min(task.demand[number], task.rooms[stock] // length)
            base[number, number], costs[number] = most, task.costs[stock]
            self.columns[stock, tuple(most if i == number else 0 for i in range(len(task.lengths)))] = None
        return base, costs

    def _entering(self, prices: Numbers) -> tuple[Numbers | None, float]:
        """The column that lowers the cost most, and its cost; the bound rises where these prices allow."""
        task, size = self.task, len(self.task.lengths)
        priced = _Prices.of(self, prices)
        patterns, gains = self._patterns(priced)
        # A price below zero says that a surplus piece, or for a scarce stick a spare one, is worth having.
        signs = np.array([-1.0] * size + [1.0] * len(self.scarce))
        spare = signs * prices
        best, most_spare = int(np.argmax(gains)), int(np.argmax(spare))
        if max(gains[best], spare[most_spare]) <= self.least_gain:
            return None, 0.0
        column = np.zeros(len(self.right))
        if spare[most_spare] >= gains[best]:
            column[most_spare] = signs[most_spare]
            return column, 0.0
        self.columns[best, patterns[best]] = None
        column[:size] = patterns[best]
        if best in self.scarce:
            column[size + self.scarce.index(best)] = 1.0
        return column, float(task.costs[best])

    def _patterns(self, priced: "_Prices") -> tuple[list[Pattern], list[float]]:
        """The best pattern of each kind of stick and what it gains; a short look will do as long as one gains."""
        for looks in (SHORT_LOOKS, MOST_LOOKS):
            self.long_looks += looks == MOST_LOOKS
            found = [_best_pattern(self.task, priced.pieces, stock, looks) for stock in range(len(self.task.rooms))]
            self._raise_bound(priced, [upper for _, upper in found])
            patterns = [pattern for pattern, _ in found]
            gains = [
                sum(price * count for price, count in zip(priced.pieces, pattern, strict=True)) - cost
                for pattern, cost in zip(patterns, priced.sticks, strict=True)
            ]
            if max(gains) > self.least_gain:
                break
        return patterns, gains

    def _raise_bound(self, priced: "_Prices", uppers: Sequence[float]) -> None:
        over = [max(0.0, upper - cost) for upper, cost in zip(uppers, priced.sticks, strict=True)]
        bound = priced.total - sum(each * limit for each, limit in zip(over, self.task.limits, strict=True))
        if bound > self.bound:
            self.bound, self.best = bound, priced


@dataclass(frozen=True)
class _Prices:
    """What a piece is worth, what a stick costs with its scarcity, and the sum that bounds a plan from below."""

    pieces: tuple[float, ...]
    sticks: tuple[float, ...]
    total: float

    @classmethod
    def of(cls, relaxed: Relaxation, prices: Numbers) -> "_Prices":
        task, size = relaxed.task, len(relaxed.task.lengths)
        pieces = np.maximum(prices[:size], 0)
        scarcity = dict(zip(relaxed.scarce, np.maximum(-prices[size:], 0), strict=True))
        total = float(pieces @ task.demand) - sum(task.limits[stock] * each for stock, each in scarcity.items())
        sticks = tuple(float(cost + scarcity.get(stock, 0.0)) for stock, cost in enumerate(task.costs))
        return cls(tuple(pieces.tolist()), sticks, float(total))


def _best_pattern(task: Task, worth: Sequence[float], stock: int, looks_most: int) -> tuple[Pattern, float]:
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


def _columns_near(task: Task, relaxed: Relaxation, plan: Plan, most: int) -> tuple[list[Column], bool]:
    """The full patterns that a cheaper plan than this one could have, and whether these are all of them.

    Such a plan holds no column that would raise the bound to this plan's cost.
    """
    priced = relaxed.best
    gap = task.cost(plan) - 1 - relaxed.bound + 1e-6 * max(1.0, priced.total)
    order = sorted(range(len(task.lengths)), key=lambda number: -priced.pieces[number] / task.lengths[number])
    density = [priced.pieces[number] / task.lengths[number] for number in order] + [0.0]
    found: list[Column] = []
    looks = 0

    def look(stock: int, depth: int, room: int, short: float, counts: Pattern) -> None:
        nonlocal looks
        looks += 1
        if room * density[depth] < short or looks > MOST_NEAR_LOOKS or len(found) > most:
            return
        if depth == len(order):
            if _is_full(task, room, pattern := _in_place(order, counts)):
                found.append((stock, pattern))
            return
        length, worth = task.lengths[order[depth]], priced.pieces[order[depth]]
        for count in range(min(task.demand[order[depth]], room // length), -1, -1):
            look(stock, depth + 1, room - count * length, short - count * worth, (*counts, count))

    for stock, room in enumerate(task.rooms):
        look(stock, 0, room, priced.sticks[stock] - gap, ())
    return found[:most], len(found) <= most and looks <= MOST_NEAR_LOOKS


def _in_place(order: Sequence[int], counts: Pattern) -> Pattern:
    by_number = dict(zip(order, counts, strict=True))
    return tuple(by_number[number] for number in range(len(order)))


def _is_full(task: Task, room: int, pattern: Pattern) -> bool:
    return any(pattern) and not any(
        length <= room and count < most for length, count, most in zip(task.lengths, pattern, task.demand, strict=True)
    )


def _whole(task: Task, columns: Sequence[Column], floor: int, plan: Plan) -> tuple[Plan, bool]:
    """The cheapest plan of these columns if it beats the plan in hand, and whether the search went to its end."""
    above = task.cost(plan) - 1
    if not columns or floor > above:
        return plan, True
    costs = np.array([task.costs[stock] for stock, _ in columns], dtype=float)
    cuts = np.array([pattern for _, pattern in columns], dtype=float).T
    uses = np.array([[stock == scarce for stock, _ in columns] for scarce in range(len(task.rooms))], dtype=float)
    scale = max(1.0, float(costs.max()))
    result = milp(
        costs / scale,
        constraints=[
            LinearConstraint(cuts, np.array(task.demand), np.inf),
            LinearConstraint(uses, 0, np.array(task.limits)),
            LinearConstraint(costs / scale, floor / scale, above / scale),
        ],
        integrality=np.ones(len(columns), dtype=int),
        bounds=Bounds(0, sum(task.demand)),
        options={"node_limit": MOST_NODES, "mip_rel_gap": 0, "presolve": False},
    )
    if result.x is None:
        return plan, result.status == INFEASIBLE
    times = np.rint(result.x).astype(int).tolist()
    found: Plan = Counter({column: count for column, count in zip(columns, times, strict=True) if count})
    is_better = _is_sound(task, found) and task.cost(found) <= above
    return found if is_better else plan, is_better and result.status == OPTIMAL


def _is_sound(task: Task, plan: Plan) -> bool:
    """Whether the rounded answer of the search still cuts every piece from sticks there are."""
    made = [sum(pattern[i] * times for (_, pattern), times in plan.items()) for i in range(len(task.demand))]
    taken = [sum(times for (s, _), times in plan.items() if s == stock) for stock in range(len(task.limits))]
    return all(np.array(made) >= task.demand) and all(np.array(taken) <= task.limits)
