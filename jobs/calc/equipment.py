"""Counted equipment: what a piece of work needs of it, and what the shop has."""

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

# Each kind, and the field that says how many of it something needs.
FIELDS = {"blower": "blowers", "dehumidifier": "dehumidifiers", "heater": "heaters"}
# More of one kind than any shop has: a slip.
MOST = 200
# More of one kind than one piece of work takes, as many as can be put to work at once.
MOST_AT_ONCE = 40
# Of less area than this nobody sets up one for each, and beyond that lies no coach.
SMALLEST_AREA_M2, LARGEST_AREA_M2 = 0.09, 1000.0
# An area that is whole but for the noise of unit conversion takes no machine more.
NOISE = 1e-6
Needs = tuple[tuple[str, int], ...]


class Needing(Protocol):
    """Work that says how many of each kind it needs."""

    @property
    def blowers(self) -> int: ...
    @property
    def dehumidifiers(self) -> int: ...
    @property
    def heaters(self) -> int: ...


def needs_of(work: Needing) -> Needs:
    """Kind and number of all the equipment that a piece of work needs."""
    return tuple((kind, count) for kind, field in FIELDS.items() if (count := getattr(work, field)))


def count_for(area_m2: float, *, at_least: int, one_for_each_m2: float | None) -> int:
    """How many of a kind a piece of work over this area [m2] holds: one for each so much, begun areas counted whole.

    at_least: held however small the area is, and whatever its size where one_for_each_m2 is None; else one at least.
    Never more than MOST_AT_ONCE. Raises ValueError unless one_for_each_m2 is above 0 and area_m2 not below.
    """
    if area_m2 < 0:
        raise ValueError(f"area_m2 must not be below 0, got {area_m2}")
    if one_for_each_m2 is None:
        return at_least
    if not one_for_each_m2 > 0:
        raise ValueError(f"one_for_each_m2 must be above 0, got {one_for_each_m2}")
    return min(MOST_AT_ONCE, max(1, at_least, math.ceil(area_m2 / one_for_each_m2 - NOISE)))


def within(needs: Needs, has: Mapping[str, int]) -> Needs:
    """The needs as a shop can meet them: of a kind it has too few of, all it has; of one it has none of, or nobody
    counted, none.

    has: what the shop has by kind, as far as somebody has counted it.
    """
    return tuple((kind, min(count, has[kind])) for kind, count in needs if has.get(kind))


def short_words(work: Sequence[tuple[str, Needs]], has: Mapping[str, int]) -> Iterator[str]:
    """What the shop has too few of for a single piece of work, in words, each kind once at its greatest need.

    work: what each is called, and its needs.
    """
    for kind, count in has.items():
        most, words = max(((dict(needs).get(kind, 0), words) for words, needs in work), default=(0, ""))
        if most > count:
            yield f"“{words}” needs {counted(kind, most)}; the shop has {count or 'none'}."


def needs_words(work: Needing) -> str:
    """All that a piece of work needs: "2 blowers, 1 dehumidifier"; empty where it needs none."""
    return ", ".join(counted(kind, count) for kind, count in needs_of(work))


def held_words(work: Needing, has: Mapping[str, int]) -> str:
    """What a piece of work holds of all it needs: "1 of the 2 blowers it needs, 1 dehumidifier".

    has: what the shop has by kind, as far as somebody has counted it.
    """
    return ", ".join(_held(kind, count, has.get(kind, count)) for kind, count in needs_of(work))


def _held(kind: str, needed: int, has: int) -> str:
    if has >= needed:
        return counted(kind, needed)
    needs = f"the {counted(kind, needed)} it needs"
    return f"{has} of {needs}" if has else f"without {needs}"


def counted(kind: str, count: int) -> str:
    """ "2 blowers", "1 dehumidifier"."""
    return f"{count} {kind if count == 1 else FIELDS[kind]}"
