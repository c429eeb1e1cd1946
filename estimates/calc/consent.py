"""When added work needs a fresh yes from the owner: a rule as data, and what it says to two states of the scope.

This is arithmetic on the rule it is given. It states no law and promises no compliance: check local law.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_DOWN, Decimal

from estimates.calc.money import CENT, PERCENT, ZERO, check_usd, check_word

# How percentage and dollars make the rise that needs no question.
COMBINES = ("any_excess", "percent", "dollar", "greater", "lesser")
# What is compared: the price before tax, with tax, or both, where either going over is enough.
BASES = ("pretax", "total", "either")
MOST_DAYS = 3650


@dataclass(frozen=True)
class Agreed:
    """A state of the scope: as agreed, or as proposed now.

    total_usd: with tax. pretax_usd: before it, never above the total. items: the work, in words the owner knows.
    methods: item to the way it is done. ready_on: the date told. safety_items: items that touch safety (structure,
    gas, shore power, brakes, unsafe to leave).
    Raises ValueError for amounts that are none, or a method or safety mark on work that is not an item.
    """

    total_usd: Decimal
    pretax_usd: Decimal
    items: frozenset[str]
    methods: Mapping[str, str]
    ready_on: date
    safety_items: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        check_usd("total_usd", self.total_usd)
        check_usd("pretax_usd", self.pretax_usd)
        if self.pretax_usd > self.total_usd:
            raise ValueError(f"pretax_usd must be at most the total {self.total_usd}, got {self.pretax_usd}")
        for name, keys in [("methods", frozenset(self.methods)), ("safety_items", self.safety_items)]:
            if unknown := sorted(keys - self.items):
                raise ValueError(f"{name} must be of items, got {', '.join(unknown)}")


@dataclass(frozen=True)
class ConsentRule:
    """What may change without asking again.

    combine: one of COMBINES; pct [% of the agreed price, 0 to 100] and dollar_usd [USD] as it needs them, cap_usd
    [USD] on top or None. base: one of BASES. The three flags say whether a later date, a changed or left out method
    or item, and a new item each need consent whatever they cost. Raises ValueError outside those ranges.
    """

    combine: str = "any_excess"
    pct: Decimal = ZERO
    dollar_usd: Decimal = ZERO
    cap_usd: Decimal | None = None
    base: str = "either"
    is_later_date_counted: bool = True
    is_changed_method_counted: bool = True
    is_new_item_counted: bool = True

    def __post_init__(self) -> None:
        check_word("combine", self.combine, COMBINES)
        check_word("base", self.base, BASES)
        check_usd("dollar_usd", self.dollar_usd)
        if self.cap_usd is not None:
            check_usd("cap_usd", self.cap_usd)
        if not (self.pct.is_finite() and 0 <= self.pct <= PERCENT):
            raise ValueError(f"pct must be 0 to 100, got {self.pct!r}")

    def allowance_usd(self, agreed_usd: Decimal) -> Decimal:
        """How far the price may rise above `agreed_usd` without a question [USD, whole cents].

        A share that is no whole cent is rounded down, which decides no case otherwise: prices rise by whole cents.
        """
        share = agreed_usd * self.pct / PERCENT
        allowed = {
            "any_excess": ZERO,
            "percent": share,
            "dollar": self.dollar_usd,
            "greater": max(share, self.dollar_usd),
            "lesser": min(share, self.dollar_usd),
        }[self.combine]
        if self.cap_usd is not None:
            allowed = min(allowed, self.cap_usd)
        return allowed.quantize(CENT, rounding=ROUND_DOWN)


# Any added cent, with tax or before it, any new, changed or left out work, any later date: California's and
# Wisconsin's rules together (16 CCR 3354; ATCP 132.06), and so the default wherever the shop chose nothing.
STRICTEST = ConsentRule()


@dataclass(frozen=True)
class GoAheadLimit:
    """What is left of the money [USD with tax] and days the owner agreed to in advance.

    It covers a change only when both money and days are inside it, and then covers it whole. It covers no changed
    method and nothing that touches safety unless the owner said so. Raises ValueError below zero.
    """

    usd_left: Decimal
    days_left: int
    is_for_methods: bool = False
    is_for_safety: bool = False

    def __post_init__(self) -> None:
        check_usd("usd_left", self.usd_left)
        if not 0 <= self.days_left <= MOST_DAYS:
            raise ValueError(f"days_left must be 0 to {MOST_DAYS}, got {self.days_left!r}")


@dataclass(frozen=True)
class Consent:
    """Whether the owner must be asked, and why, in plain words with the figures.

    reported: what goes ahead under the owner's go-ahead limit and is only reported; empty when asking is needed.
    """

    is_needed: bool
    reasons: tuple[str, ...]
    reported: tuple[str, ...] = ()


def needs_consent(
    agreed: Agreed, proposed: Agreed, rule: ConsentRule = STRICTEST, go_ahead: GoAheadLimit | None = None
) -> Consent:
    """Whether `proposed` may go ahead on what was `agreed`, by `rule` and the owner's own go-ahead limit.

    The two are not added up: a change goes ahead if the rule lets it pass, or if the limit covers the whole of it.
    So a limit never makes a question necessary that the rule would not ask, and never stretches the rule.
    Money that falls and a date that comes nearer need no question. Where tax falls while the price before it rises,
    the limit is held against the larger of the two rises.
    """
    change = _change(agreed, proposed)
    reasons = (
        *_price_reasons(agreed, proposed, rule),
        *_work_reasons(change, agreed, proposed, rule),
        *_date_reasons(change, agreed, proposed, rule),
    )
    if not reasons or go_ahead is None:
        return Consent(bool(reasons), reasons)
    if _is_covered(change, agreed, proposed, go_ahead):
        return Consent(is_needed=False, reasons=(), reported=reasons)
    return Consent(is_needed=True, reasons=(*reasons, _limit_words(go_ahead)))


@dataclass(frozen=True)
class _Change:
    """What differs between two states of the scope, items in order of their words."""

    new: tuple[str, ...]
    dropped: tuple[str, ...]
    changed: tuple[str, ...]
    days_later: int

    @property
    def touched(self) -> frozenset[str]:
        return frozenset((*self.new, *self.dropped, *self.changed))


def _change(agreed: Agreed, proposed: Agreed) -> _Change:
    kept = sorted(agreed.items & proposed.items)
    return _Change(
        new=tuple(sorted(proposed.items - agreed.items)),
        dropped=tuple(sorted(agreed.items - proposed.items)),
        changed=tuple(item for item in kept if agreed.methods.get(item) != proposed.methods.get(item)),
        days_later=(proposed.ready_on - agreed.ready_on).days,
    )


def _price_reasons(agreed: Agreed, proposed: Agreed, rule: ConsentRule) -> list[str]:
    compared = [
        ("total", "with tax", agreed.total_usd, proposed.total_usd),
        ("pretax", "before tax", agreed.pretax_usd, proposed.pretax_usd),
    ]
    return [
        _price_words(words, old, new, rule.allowance_usd(old))
        for base, words, old, new in compared
        if rule.base in (base, "either") and new - old > rule.allowance_usd(old)
    ]


def _work_reasons(change: _Change, agreed: Agreed, proposed: Agreed, rule: ConsentRule) -> list[str]:
    reasons = []
    if change.new and rule.is_new_item_counted:
        reasons.append(f"New work that was not agreed: {', '.join(change.new)}.")
    if rule.is_changed_method_counted:
        reasons += [
            f"{item} would be done another way: {proposed.methods.get(item) or 'way not stated'} "
            f"instead of {agreed.methods.get(item) or 'way not stated'}."
            for item in change.changed
        ]
        if change.dropped:
            reasons.append(f"Agreed work would be left out: {', '.join(change.dropped)}.")
    return reasons


def _date_reasons(change: _Change, agreed: Agreed, proposed: Agreed, rule: ConsentRule) -> list[str]:
    if change.days_later <= 0 or not rule.is_later_date_counted:
        return []
    dates = f"{_day(proposed.ready_on)} instead of {_day(agreed.ready_on)}"
    return [f"The coach would be ready {_days(change.days_later)} later: {dates}."]


def _is_covered(change: _Change, agreed: Agreed, proposed: Agreed, limit: GoAheadLimit) -> bool:
    rise = max(proposed.total_usd - agreed.total_usd, proposed.pretax_usd - agreed.pretax_usd)
    touches_safety = bool(
        proposed.safety_items - agreed.safety_items or change.touched & (agreed.safety_items | proposed.safety_items)
    )
    return (
        rise <= limit.usd_left
        and change.days_later <= limit.days_left
        and (limit.is_for_methods or not (change.changed or change.dropped))
        and (limit.is_for_safety or not touches_safety)
    )


def _price_words(base: str, old: Decimal, new: Decimal, allowed: Decimal) -> str:
    limit = f"no more than ${allowed:,.2f} may be added" if allowed else "nothing may be added"
    return f"The price {base} rises by ${new - old:,.2f}, from ${old:,.2f} to ${new:,.2f}; {limit} without asking."


def _limit_words(limit: GoAheadLimit) -> str:
    kinds = [
        *([] if limit.is_for_methods else ["changed or left out work"]),
        *([] if limit.is_for_safety else ["what touches safety"]),
    ]
    left_out = f", and it is not for {' or '.join(kinds)}" if kinds else ""
    return (
        f"The go-ahead limit does not cover it: ${limit.usd_left:,.2f} and {_days(limit.days_left)} "
        f"are left of it{left_out}."
    )


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
