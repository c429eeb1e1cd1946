"""Cutting plans by rules of thumb: never dearer than first fit, and often as cheap as a plan can be."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from random import Random

from estimates.calc.cutting_task import SMALL, Column, Pattern, Plan, Task, best_pattern, right_sized

FEW_LOOKS = 300
# How often a plan is made by what a piece is worth, by how much that is shaken, and by which chance. Measured on jobs
# of 20 to 60 pieces.
MOST_TRIES, SHAKE, SEED = 5, 0.05, 0


def first_fit(task: Task, bought: int, first: tuple[str, ...]) -> Plan:
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


def bettered(task: Task, plan: Plan, floor: int, worth: Sequence[float]) -> Plan:
    """The cheapest of this plan and a few made by what a piece is worth, plain at first and then a little shaken.

    Shaken ones find what the plain one just misses, at less than the search costs that would find it else. The chance
    is seeded, so that the same pieces always give the same plan.
    """
    chance = Random(SEED)  # noqa: S311 - no secret hangs on it
    shaken: Sequence[float] = worth
    for _ in range(MOST_TRIES):
        if task.cost(plan) <= floor:
            break
        plan = min(plan, _worthiest_first(task, shaken), key=task.cost)
        shaken = [each * (1 + SHAKE * chance.random()) for each in worth]
    return plan


def _worthiest_first(task: Task, worth: Sequence[float]) -> Plan:
    """Stick by stick what is worth most in one that is on hand, and then by its cost in one that is sold.

    Each is found by a short look, and taken as often as the pieces allow.
    """
    kinds = range(len(task.rooms))
    on_hand = sorted((stock for stock in kinds if task.sort(stock) == "free"), key=lambda stock: task.rooms[stock])
    turns = [stock for stock in on_hand for _ in range(task.limits[stock])]
    sold = [stock for stock in kinds if task.sort(stock) == "sold"]
    left, plan = task.demand, Counter[Column]()
    while any(left):
        choices = [turns.pop(0)] if turns else sold
        stock, pattern = max(
            ((stock, best_pattern(replace(task, demand=left), worth, stock, FEW_LOOKS)[0]) for stock in choices),
            key=lambda each: _worth_of(each[1], worth) / max(task.costs[each[0]], SMALL),
        )
        if not any(pattern):
            continue  # a stick on hand that holds nothing of what is left
        often = min(have // count for have, count in zip(left, pattern, strict=True) if count)
        times = often if stock in sold else 1
        left = tuple(have - times * count for have, count in zip(left, pattern, strict=True))
        plan[stock, pattern] += times
    return right_sized(task, plan)


def _worth_of(pattern: Pattern, worth: Sequence[float]) -> float:
    return sum(each * count for each, count in zip(worth, pattern, strict=True))


class _Open:
    """A stick that still takes pieces."""

    def __init__(self, task: Task, stock: int) -> None:
        self.stock, self.room = stock, task.rooms[stock]
        self.counts = [0] * len(task.lengths)

    def take(self, number: int, length: int) -> None:
        self.room -= length
        self.counts[number] += 1
