"""Money: price lines, tax and totals, exact to the cent."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


@dataclass(frozen=True)
class PriceLine:
    """One line of a price: quantity x unit price = amount [USD]."""

    key: str
    words: str
    kind: str  # "labour" or "material"
    quantity: Decimal
    unit: str
    unit_price_usd: Decimal
    amount_usd: Decimal
    payer: str  # "owner" or "shop"
    is_taxed: bool


@dataclass(frozen=True)
class Totals:
    """What the owner pays [USD]: labour + material = subtotal, subtotal + tax = total."""

    labour_usd: Decimal
    material_usd: Decimal
    subtotal_usd: Decimal
    tax_usd: Decimal
    total_usd: Decimal


def round_cents(amount: Decimal) -> Decimal:
    """The only rounding of money: to the cent, half up (the rule of the tax laws named at tax_usd)."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def decimal_quantity(value: float, places: int) -> Decimal:
    """A physical quantity made exact for a price line, to so many decimal places, half up.

    Raises ValueError if value is negative or not finite.
    """
    exact = Decimal(repr(value))
    if not exact.is_finite() or exact < 0:
        raise ValueError(f"value must be a number of at least 0, got {value!r}")
    return exact.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def line_amount(quantity: Decimal, unit_price: Decimal) -> Decimal:
    """The amount of a line [USD], rounded once."""
    return round_cents(quantity * unit_price)


def tax_usd(lines: Sequence[PriceLine], *, rate: Decimal, basis: str) -> Decimal:
    """Tax on the taxed lines [USD], rounded on each line ("item") or once on their sum ("invoice").

    Raises ValueError if rate is outside 0 to 1 or basis is unknown.
    Source: the seller elects item or invoice basis, third decimal above 4 rounds up (SSUTA s.324).
    """
    if not 0 <= rate < 1:
        raise ValueError(f"rate must be at least 0 and below 1, got {rate!r}")
    taxed = [line.amount_usd for line in lines if line.is_taxed]
    if basis == "item":
        return sum((round_cents(amount * rate) for amount in taxed), Decimal("0.00"))
    if basis == "invoice":
        return round_cents(sum(taxed, Decimal("0.00")) * rate)
    raise ValueError(f"basis must be 'item' or 'invoice', got {basis!r}")


def totals(lines: Sequence[PriceLine], *, tax_rate: Decimal, tax_basis: str) -> Totals:
    """What the owner pays for the lines that the owner pays; lines paid by the shop cost the owner nothing.

    Raises ValueError for a line of another kind than labour or material: it would be taxed and not counted.
    """
    if unknown := {line.kind for line in lines} - {"labour", "material"}:
        raise ValueError(f"kind must be 'labour' or 'material', got {', '.join(sorted(unknown))}")
    own = [line for line in lines if line.payer == "owner"]
    labour = sum((line.amount_usd for line in own if line.kind == "labour"), Decimal("0.00"))
    material = sum((line.amount_usd for line in own if line.kind == "material"), Decimal("0.00"))
    tax = tax_usd(own, rate=tax_rate, basis=tax_basis)
    return Totals(labour, material, labour + material, tax, labour + material + tax)
