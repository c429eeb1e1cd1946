"""The search for the cheapest cutting plan, in whole numbers.

Method: columns made as needed against the linear bound (Gilmore and Gomory, Operations Research 9, 1961), then a
whole-number search with every pattern that could still better the plan in hand. So a plan is proven, or says it is not.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from estimates.calc.cutting_guesses import bettered, first_fit
from estimates.calc.cutting_task import SMALL, Column, Pattern, Plan, Task, best_pattern

# Limits past which a plan may be handed back unproven. None is a time, so that a plan does not depend on the machine.
MOST_COLUMNS = 400
MOST_LOOKS = 20_000
MOST_LONG_LOOKS = 20
SHORT_LOOKS = 1_000
MOST_NEAR_LOOKS = 500_000
MOST_PATTERNS = 20_000
MOST_NODES = 5_000
# So many patterns are searched at once; of more, those made for the bound come first.
FEW_PATTERNS = 300
# What a length adds to a price, so that no piece is worth nothing.
LITTLE = 1e-3
# How scipy.optimize.milp says that its search went to the end.
OPTIMAL, INFEASIBLE = 0, 2

Numbers = NDArray[np.floating[Any]]


def solve(task: Task) -> tuple[Plan, bool]:
    """The cheapest plan found and whether it is proven."""
    plans = [first_fit(task, stock, first) for stock in range(len(task.rooms)) for first in (("free",), ("free", ""))]
    plan = min(plans, key=task.cost)
    relaxed = Relaxation(task)
    # By its length a piece is always worth something, so that none is left lying.
    by_length = [length / max(task.rooms) for length in task.lengths]
    plan = bettered(task, plan, relaxed.floor, by_length)
    if task.cost(plan) > relaxed.floor:
        relaxed.run()
        prices = [price + LITTLE * each for price, each in zip(relaxed.best.pieces, by_length, strict=True)]
        plan = bettered(task, plan, relaxed.floor, prices)
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
            found = [best_pattern(self.task, priced.pieces, stock, looks) for stock in range(len(self.task.rooms))]
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
    from scipy.optimize import Bounds, LinearConstraint, milp  # heavy: every process reads this file

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
