"""What an owner's open choices come to: every combination of them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import product

from estimates.calc.plan.engine import Prepared
from estimates.calc.plan.model import Change
from estimates.calc.plan.room import empty_state


@dataclass(frozen=True)
class Choice:
    """An open choice of an owner. options: for each, the parts whose work it takes; none for *leave as is*."""

    key: str
    options: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Combination:
    """picks: for each choice the number of the option taken. ready_at: of every job of the shop."""

    picks: tuple[int, ...]
    ready_at: Mapping[str, datetime]


def combinations(
    prepared: Prepared, choices: Sequence[Choice], *, left_out: frozenset[str] = frozenset()
) -> tuple[Combination, ...]:
    """The dates of every job for each way to answer all of the choices. left_out: parts that no way takes."""
    return tuple(_combinations(prepared, choices, left_out))


def _combinations(prepared: Prepared, choices: Sequence[Choice], left_out: frozenset[str]) -> Iterator[Combination]:
    state = empty_state(prepared.shop)
    parts = {part for choice in choices for option in choice.options for part in option}
    for picks in product(*(range(len(choice.options)) for choice in choices)):
        taken = {part for choice, pick in zip(choices, picks, strict=True) for part in choice.options[pick]}
        yield Combination(picks, prepared.ready_in(state, Change(left_out=left_out | (parts - taken))))
