"""Counted equipment: what a piece of work needs of it, and what the shop has."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

# Each kind, and the field that says how many of it something needs.
FIELDS = {"blower": "blowers", "dehumidifier": "dehumidifiers", "heater": "heaters"}
# More of one kind than any shop has: a slip.
MOST = 200
# More of one kind than one piece of work takes, as many as can be put to work at once.
MOST_AT_ONCE = 40
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


def within(needs: Needs, has: Mapping[str, int]) -> Needs:
    """The needs as a shop can meet them: of a kind it has too few of, all it has; of one nobody counted, none.

    has: what the shop has by kind, as far as somebody has counted it.
    """
    return tuple((kind, min(count, has[kind])) for kind, count in needs if kind in has)


def short_words(work: Sequence[tuple[str, Needs]], has: Mapping[str, int]) -> Iterator[str]:
    """What the shop has too few of for a single piece of work, in words, each kind once at its greatest need.

    work: what each is called, and its needs.
    """
    for kind, count in has.items():
        most, words = max(((dict(needs).get(kind, 0), words) for words, needs in work), default=(0, ""))
        if most > count:
            yield f"“{words}” needs {counted(kind, most)}; the shop has {count}."


def needs_words(work: Needing) -> str:
    """All that a piece of work needs: "2 blowers, 1 dehumidifier"; empty where it needs none."""
    return ", ".join(counted(kind, count) for kind, count in needs_of(work))


def counted(kind: str, count: int) -> str:
    """ "2 blowers", "1 dehumidifier"."""
    return f"{count} {kind if count == 1 else FIELDS[kind]}"
