"""Sticks to buy for the pieces a job needs: exact one-dimensional cutting, saw kerf counted."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from estimates.calc.cutting_search import solve
from estimates.calc.cutting_task import Column, Plan, Task, right_sized
from estimates.calc.takeoff import Worked, count_words, length_words, size_words

NM_PER_MM = 1_000_000
MM_PER_M = 1000.0
# Costs are counted to this part of a unit, lengths of stock where they stand for cost as well.
COST_STEPS = 1000
MOST_PIECES = 10_000
MOST_LENGTHS = 100
SHORTEST_MM = 0.001
LONGEST_MM = 30_000.0
WIDEST_KERF_MM = 25.0
DEAREST = 1e6


@dataclass(frozen=True)
class Piece:
    """So many pieces of one length [mm]."""

    length_mm: float
    count: int = 1


@dataclass(frozen=True)
class Stock:
    """A stick that is sold (available None: as many as wanted) or on hand (so many).

    cost: of one stick, in any one unit; without it a sold stick counts its length and one on hand nothing.
    """

    length_mm: float
    available: int | None = None
    cost: float | None = None


@dataclass(frozen=True)
class Stick:
    """One way to cut a stick, and how many are cut so; offcut_mm is what is left of each after the last kerf."""

    stock_mm: float
    pieces_mm: tuple[float, ...]
    count: int
    offcut_mm: float
    is_on_hand: bool


@dataclass(frozen=True)
class CutPlan:
    """How every piece is cut. cost: what is bought, in the unit of Stock.cost, or its length [mm]."""

    sticks: tuple[Stick, ...]
    kerf_mm: float
    cost: float
    is_proven_optimal: bool

    @property
    def count(self) -> int:
        """All sticks cut into, those on hand too."""
        return sum(stick.count for stick in self.sticks)

    @property
    def to_buy(self) -> dict[float, int]:
        """Sticks to buy by length [mm], longest first."""
        bought: Counter[float] = Counter()
        for stick in self.sticks:
            bought[stick.stock_mm] += 0 if stick.is_on_hand else stick.count
        return {length: bought[length] for length in sorted(bought, reverse=True) if bought[length]}

    @property
    def offcuts_mm(self) -> tuple[float, ...]:
        """What is left of each stick [mm], longest first; none of no length."""
        left = [stick.offcut_mm for stick in self.sticks for _ in range(stick.count) if stick.offcut_mm > 0]
        return tuple(sorted(left, reverse=True))

    @property
    def waste_share(self) -> float:
        """The share of the stock cut into that does not become a piece: offcuts and kerf, 0 to 1."""
        used = sum(stick.stock_mm * stick.count for stick in self.sticks)
        return 1 - sum(sum(stick.pieces_mm) * stick.count for stick in self.sticks) / used if used else 0.0


def cut_sticks(pieces_mm: Sequence[Piece], stock_mm: Sequence[Stock], *, kerf_mm: float) -> CutPlan:
    """The plan that buys least: by cost where sold sticks have one, else by length, so by count with one length.

    Sticks on hand are used wherever that saves buying, never more than there are, the shortest that will do.
    kerf_mm: width of the saw cut between two pieces, 0 to 25 mm; the last piece of a stick may end at its end.
    A plan that hits a limit of cutting_search (columns, looks, patterns, nodes; never a time) may have
    is_proven_optimal False; it is still never dearer than first fit, longest first. Sizes are exact to 1e-6 mm,
    costs to 1/1000 of their unit.
    Raises ValueError for sizes out of range, for a piece longer than every stick (pieces are not spliced) and
    where sticks on hand alone are too few.
    """
    _check(pieces_mm, stock_mm, kerf_mm)
    if not pieces_mm:
        return CutPlan((), kerf_mm, 0.0, is_proven_optimal=True)
    task, unit = _task(pieces_mm, stock_mm, kerf_mm)
    plan, is_proven = solve(task)
    if any(stock == len(stock_mm) for stock, _ in plan):
        raise ValueError("stock_mm has too few sticks on hand for these pieces, and none long enough is sold.")
    plan = _tidied(task, plan)
    sticks = tuple(_stick(task, column, times, stock_mm, kerf_mm) for column, times in _in_order(task, plan))
    return CutPlan(sticks, kerf_mm, task.cost(plan) * unit / COST_STEPS, is_proven)


def sticks_worked(plan: CutPlan, *, units: str) -> Worked:
    """What a plan takes, in words: "25 pieces, 69.4 ft in all, 1/8 in saw cut = 5 sticks of 12 ft and 2 of 8 ft".

    The quantity is metres of pieces, the packs are sticks to buy; those on hand are named apart.
    Raises ValueError for other units than "us" or "metric".
    """
    pieces = [length for stick in plan.sticks for length in stick.pieces_mm * stick.count]
    cut = f", {size_words(plan.kerf_mm, units=units)} saw cut" if plan.kerf_mm else ""
    words = (
        f"{count_words(len(pieces), 'piece')}, {length_words(sum(pieces), units=units)} in all{cut} = "
        f"{_bought_words(plan, units)}{_on_hand_words(plan, units)}"
    )
    return Worked(sum(pieces) / MM_PER_M, "m", sum(plan.to_buy.values()), words)


def _bought_words(plan: CutPlan, units: str) -> str:
    bought = [(count, length_words(length, units=units)) for length, count in plan.to_buy.items()]
    if not bought:
        return "no stick to buy"
    first = f"{count_words(bought[0][0], 'stick')} of {bought[0][1]}"
    return " and ".join([first, *(f"{count} of {length}" for count, length in bought[1:])])


def _on_hand_words(plan: CutPlan, units: str) -> str:
    lengths = Counter[float]()
    for stick in plan.sticks:
        lengths[stick.stock_mm] += stick.count if stick.is_on_hand else 0
    used = [f"{lengths[each]} of {length_words(each, units=units)}" for each in sorted(+lengths, reverse=True)]
    return f", and from what is on hand {' and '.join(used)}" if used else ""


def _check(pieces: Sequence[Piece], stock: Sequence[Stock], kerf_mm: float) -> None:
    if not 0 <= kerf_mm <= WIDEST_KERF_MM:
        raise ValueError(f"kerf_mm must be 0 to {WIDEST_KERF_MM:g}, got {kerf_mm!r}")
    for length_mm in [*(piece.length_mm for piece in pieces), *(each.length_mm for each in stock)]:
        if not SHORTEST_MM <= length_mm <= LONGEST_MM:
            raise ValueError(f"length_mm must be {SHORTEST_MM:g} to {LONGEST_MM:g}, got {length_mm!r}")
    if any(piece.count < 1 for piece in pieces) or sum(piece.count for piece in pieces) > MOST_PIECES:
        least, total = min(piece.count for piece in pieces), sum(piece.count for piece in pieces)
        raise ValueError(f"count must be at least 1 and {MOST_PIECES} in all, got {least} and {total} in all")
    if len({_nm(piece.length_mm) for piece in pieces}) > MOST_LENGTHS:
        raise ValueError(f"pieces_mm must be of at most {MOST_LENGTHS} different lengths")
    _check_stock(stock)
    _check_lengths(pieces, stock)


def _check_stock(stock: Sequence[Stock]) -> None:
    for each in stock:
        if each.available is not None and not 0 <= each.available <= MOST_PIECES:
            raise ValueError(f"available must be None or 0 to {MOST_PIECES}, got {each.available!r}")
        if each.cost is not None and not 0 < each.cost <= DEAREST:
            raise ValueError(f"cost must be above 0, to {DEAREST:.12g}, got {each.cost!r}")
    if len({each.cost is None for each in stock if each.available is None}) > 1:
        raise ValueError("cost must be given for every sold stick or for none, got some with and some without")


def _check_lengths(pieces: Sequence[Piece], stock: Sequence[Stock]) -> None:
    longest_mm = max((each.length_mm for each in stock if each.available != 0), default=0.0)
    too_long = [piece.length_mm for piece in pieces if _nm(piece.length_mm) > _nm(longest_mm)]
    if too_long:
        raise ValueError(
            f"length_mm of a piece must be at most the longest stick, {longest_mm:g} mm, got {max(too_long):g} mm: "
            "no stick is long enough, and pieces are not spliced"
        )


def _nm(length_mm: float) -> int:
    return round(length_mm * NM_PER_MM)


def _task(pieces: Sequence[Piece], stock: Sequence[Stock], kerf_mm: float) -> tuple[Task, int]:
    """The question in whole numbers, and the step its costs are counted in [1/COST_STEPS of the cost unit]."""
    wanted: Counter[int] = Counter()
    for piece in pieces:
        wanted[_nm(piece.length_mm)] += piece.count
    lengths = sorted(wanted, reverse=True)
    everything, kerf = sum(wanted.values()), _nm(kerf_mm)
    costs = [_cost(each) for each in stock]
    unit = math.gcd(*costs) or 1
    costs = [cost // unit for cost in costs]
    rooms = [_nm(each.length_mm) for each in stock]
    limits = [everything if each.available is None else min(each.available, everything) for each in stock]
    is_limited = [each.available is not None for each in stock]
    if lengths[0] > max((room for room, no in zip(rooms, is_limited, strict=True) if not no), default=0):
        # What is missing stands as one more stick, dearer than any plan without it.
        costs, rooms = [*costs, max(costs) * everything + 1], [*rooms, lengths[0]]
        limits, is_limited = [*limits, everything], [*is_limited, False]
    return Task(
        tuple(length + kerf for length in lengths),
        tuple(wanted[length] for length in lengths),
        tuple(room + kerf for room in rooms),
        tuple(costs),
        tuple(limits),
        tuple(is_limited),
    ), unit


def _cost(stock: Stock) -> int:
    if stock.cost is None:
        return 0 if stock.available is not None else round(stock.length_mm * COST_STEPS)
    return max(1, round(stock.cost * COST_STEPS))


def _tidied(task: Task, plan: Plan) -> Plan:
    """The plan without pieces nobody wants, on the sticks that just hold them."""
    surplus = [-wanted for wanted in task.demand]
    for (_, pattern), times in plan.items():
        surplus = [over + count * times for over, count in zip(surplus, pattern, strict=True)]
    trimmed: Plan = Counter()
    for stock, pattern in plan.elements():
        dropped = tuple(min(over, count) for over, count in zip(surplus, pattern, strict=True))
        surplus = [over - drop for over, drop in zip(surplus, dropped, strict=True)]
        trimmed[stock, tuple(count - drop for count, drop in zip(pattern, dropped, strict=True))] += 1
    return right_sized(task, Counter({column: times for column, times in trimmed.items() if any(column[1])}))


def _in_order(task: Task, plan: Plan) -> list[tuple[Column, int]]:
    """Bought before on hand, long before short, full before not."""
    return sorted(
        plan.items(), key=lambda item: (task.is_limited[item[0][0]], -task.rooms[item[0][0]], -task.used(item[0][1]))
    )


def _stick(task: Task, column: Column, times: int, stock: Sequence[Stock], kerf_mm: float) -> Stick:
    kind, pattern = column
    kerf = _nm(kerf_mm)
    pieces = [
        (length - kerf) / NM_PER_MM for length, count in zip(task.lengths, pattern, strict=True) for _ in range(count)
    ]
    # What is shorter than a kerf falls as dust with the last piece.
    left = max(0, task.rooms[kind] - kerf - task.used(pattern)) / NM_PER_MM
    each = stock[kind]
    return Stick(each.length_mm, tuple(pieces), times, left, each.available is not None and each.cost is None)
