"""What the shop keeps of a job before tax: as estimated, as spent so far, and as it stands.

Money in USD. Costs are the shop's own: hours at what an hour costs it, material at what a pack costs it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from estimates.calc.money import ZERO, check_usd, decimal_quantity, line_amount

HOURS_PLACES = 2


@dataclass(frozen=True)
class Work:
    """One operation [person-hours]. Raises ValueError for negative hours."""

    estimated_hours: float
    clocked_hours: float
    is_finished: bool

    def __post_init__(self) -> None:
        for name in ("estimated_hours", "clocked_hours"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name} must be at least 0, got {getattr(self, name)!r}")

    @property
    def standing_hours(self) -> float:
        """What it is counted with now: finished, what was clocked; open, the larger of estimate and clock.

        Finished work that nobody clocked on counts as estimated: nothing better is known.
        """
        if self.is_finished and self.clocked_hours:
            return self.clocked_hours
        return max(self.estimated_hours, self.clocked_hours)


@dataclass(frozen=True)
class Stuff:
    """One material [USD]. used_usd: None while nobody has noted what it took. is_over: the work with it is finished."""

    estimated_usd: Decimal
    used_usd: Decimal | None
    is_over: bool

    @property
    def standing_usd(self) -> Decimal:
        """Noted and over, what was noted; else the larger of estimate and note. Nothing noted counts as estimated."""
        if self.used_usd is None:
            return self.estimated_usd
        return self.used_usd if self.is_over else max(self.estimated_usd, self.used_usd)


@dataclass(frozen=True)
class Cost:
    """What something costs the shop [USD]: as estimated, spent so far, and as it stands."""

    estimated_usd: Decimal = ZERO
    spent_usd: Decimal = ZERO
    standing_usd: Decimal = ZERO

    def __add__(self, other: "Cost") -> "Cost":
        return Cost(
            self.estimated_usd + other.estimated_usd,
            self.spent_usd + other.spent_usd,
            self.standing_usd + other.standing_usd,
        )


@dataclass(frozen=True)
class Part:
    """One part of a job [USD, before tax]: what owner and insurer pay for it, and what it costs the shop.

    Work done again at the shop's cost is a part without a price, a discount one without a cost.
    """

    price_usd: Decimal = ZERO
    labour: Cost = Cost()
    material: Cost = Cost()

    @property
    def cost(self) -> Cost:
        return self.labour + self.material

    @property
    def estimated_usd(self) -> Decimal:
        """The margin as estimated."""
        return self.price_usd - self.cost.estimated_usd

    @property
    def standing_usd(self) -> Decimal:
        """The margin as it stands."""
        return self.price_usd - self.cost.standing_usd

    @property
    def change_usd(self) -> Decimal:
        return self.standing_usd - self.estimated_usd

    def __add__(self, other: "Part") -> "Part":
        return Part(self.price_usd + other.price_usd, self.labour + other.labour, self.material + other.material)


def labour_cost(works: Iterable[Work], usd_per_hour: Decimal, *, is_estimated: bool = True) -> Cost:
    """What operations cost at `usd_per_hour`, each rounded once to the cent, as the lines of an estimate are.

    is_estimated: False for work that no estimate holds (done again at the shop's cost).
    Raises ValueError unless usd_per_hour is an amount in whole cents.
    """
    check_usd("usd_per_hour", usd_per_hour)
    return added(
        Cost(
            _hours_usd(work.estimated_hours, usd_per_hour) if is_estimated else ZERO,
            _hours_usd(work.clocked_hours, usd_per_hour),
            _hours_usd(work.standing_hours, usd_per_hour),
        )
        for work in works
    )


def material_cost(stuff: Iterable[Stuff]) -> Cost:
    return added(Cost(each.estimated_usd, each.used_usd or ZERO, each.standing_usd) for each in stuff)


def added(costs: Iterable[Cost]) -> Cost:
    return sum(costs, Cost())


def whole(parts: Sequence[Part]) -> Part:
    """All parts of a job together."""
    return sum(parts, Part())


def share_pct(margin_usd: Decimal, price_usd: Decimal) -> Decimal | None:
    """A margin in percent of the price, to one place; None where nothing is paid."""
    return round(100 * margin_usd / price_usd, 1) if price_usd > 0 else None


def _hours_usd(hours: float, usd_per_hour: Decimal) -> Decimal:
    return line_amount(decimal_quantity(hours, HOURS_PLACES), usd_per_hour)
