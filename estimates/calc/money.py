"""Money: price lines, discounts, tax, who pays what, and totals, exact to the cent.

Tax rates, what is taxed and who must bill it come from the shop; local law decides, not this module.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

CENT = Decimal("0.01")
ZERO = Decimal("0.00")
PERCENT = Decimal(100)
# Ten digits, as the database keeps an amount.
MOST_USD = Decimal("99999999.99")

KINDS = ("labour", "material", "supplies", "sublet", "discount")
PAYERS = ("owner", "insurer", "shop")
# What the shop pays itself is no sale, so it bears no tax on it here.
BILLED = ("owner", "insurer")
UNTAXED = "none"
TAX_BASES = ("item", "invoice")


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
    how: str = ""  # how the quantity was worked out, in words
    cost_usd: Decimal | None = None  # what the line costs the shop; kept apart, never with what the owner sees


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


@dataclass(frozen=True)
class BillLine:
    """One line of a bill that may have several payers [USD, whole cents].

    kind: one of KINDS. A discount's amount is at most 0 and names in `reduces` the line it lowers; every other amount
    is at least 0. payer: one of PAYERS. tax_category: a name the tax rule has a rate for, or "none". group: what a
    discount may be given on, "" for none. cost_usd: what the line costs the shop, None if not known.
    Raises ValueError outside that.
    """

    key: str
    kind: str
    amount_usd: Decimal
    payer: str
    tax_category: str = UNTAXED
    group: str = ""
    cost_usd: Decimal | None = None
    reduces: str = ""

    def __post_init__(self) -> None:
        check_word("kind", self.kind, KINDS)
        check_word("payer", self.payer, PAYERS)
        is_discount = self.kind == "discount"
        check_usd("amount_usd", -self.amount_usd if is_discount else self.amount_usd)
        if self.cost_usd is not None:
            check_usd("cost_usd", self.cost_usd)
        if is_discount != bool(self.reduces):
            raise ValueError(f"reduces must name a line for a discount and for nothing else, got {self.reduces!r}")


@dataclass(frozen=True)
class Discount:
    """A discount on a group of lines ("" for all that owner and insurer pay): an amount [USD] or a percentage.

    Raises ValueError unless exactly one of them is given, amount_usd 0 or more in whole cents, pct 0 to 100.
    """

    key: str
    group: str = ""
    amount_usd: Decimal | None = None
    pct: Decimal | None = None

    def __post_init__(self) -> None:
        if (self.amount_usd is None) == (self.pct is None):
            raise ValueError("amount_usd or pct must be given, and not both")
        if self.amount_usd is not None:
            check_usd("amount_usd", self.amount_usd)
        if self.pct is not None and not (self.pct.is_finite() and 0 <= self.pct <= PERCENT):
            raise ValueError(f"pct must be 0 to 100, got {self.pct!r}")


@dataclass(frozen=True)
class TaxRule:
    """Rate per tax category as a share (0.07 is 7 %), and the basis: "item" or "invoice". "none" is never taxed.

    Raises ValueError for a rate outside 0 to below 1, a rate for "none" or an unknown basis.
    """

    rates: Mapping[str, Decimal]
    basis: str = "invoice"

    def __post_init__(self) -> None:
        check_word("basis", self.basis, TAX_BASES)
        if UNTAXED in self.rates:
            raise ValueError(f"rates must hold no rate for {UNTAXED!r}")
        for category, rate in self.rates.items():
            if not (rate.is_finite() and 0 <= rate < 1):
                raise ValueError(f"rates[{category!r}] must be at least 0 and below 1, got {rate!r}")

    def rate(self, category: str) -> Decimal:
        """The rate of a category. Raises ValueError for one without a rate: silence is no exemption."""
        if category == UNTAXED:
            return Decimal(0)
        if category not in self.rates:
            raise ValueError(f"tax_category must be one of {', '.join([*self.rates, UNTAXED])}, got {category!r}")
        return self.rates[category]


@dataclass(frozen=True)
class PayerTotal:
    """What one payer bears [USD]: kinds sum to subtotal, subtotal + tax = total."""

    payer: str
    by_kind: Mapping[str, Decimal]
    subtotal_usd: Decimal
    tax_usd: Decimal
    tax_by_category: Mapping[str, Decimal]
    total_usd: Decimal


@dataclass(frozen=True)
class Bill:
    """All payers of a bill, always owner, insurer, shop in this order; the sums are over all three [USD]."""

    payers: tuple[PayerTotal, ...]
    subtotal_usd: Decimal
    tax_usd: Decimal
    total_usd: Decimal

    def of(self, payer: str) -> PayerTotal:
        """One payer's part. Raises ValueError for an unknown payer."""
        check_word("payer", payer, PAYERS)
        return self.payers[PAYERS.index(payer)]


@dataclass(frozen=True)
class Margin:
    """What the shop keeps before tax [USD]: revenue - cost = margin. rework_usd is the part of cost it pays itself."""

    revenue_usd: Decimal
    cost_usd: Decimal
    rework_usd: Decimal
    margin_usd: Decimal


def split_cents(total: Decimal, weights: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """`total` [USD] in whole cents shared out by weight; the parts sum to it exactly.

    Each part is its exact share rounded down, and the cents left over go to the largest remainders, the earlier
    part first where they tie (method of the largest remainder, pure arithmetic). So no part is a cent or more off.
    Raises ValueError for a negative total, fractions of a cent, a negative weight, or a total above 0 without weight.
    """
    check_usd("total", total)
    if any(weight < 0 for weight in weights):
        raise ValueError(f"weights must be at least 0, got {min(weights)!r}")
    whole = sum((Fraction(weight) for weight in weights), Fraction(0))
    if whole == 0:
        if total:
            raise ValueError(f"weights must have a sum above 0 to share out {total}, got 0")
        return tuple(ZERO for _ in weights)
    shares = [Fraction(total / CENT) * Fraction(weight) / whole for weight in weights]
    cents = [int(share) for share in shares]
    by_remainder = sorted(range(len(shares)), key=lambda place: (cents[place] - shares[place], place))
    for place in by_remainder[: int(total / CENT) - sum(cents)]:
        cents[place] += 1
    return tuple(CENT * number for number in cents)


def with_discount(lines: Sequence[BillLine], discount: Discount) -> tuple[BillLine, ...]:
    """The lines, followed by the discount as one line for each line it lowers, shared out by what is left of them.

    Only lines that owner or insurer pay are lowered. A percentage is of what earlier discounts left, rounded once.
    Each part keeps its line's payer and tax category, so that tax is on the lowered price (a seller's own discount is
    no part of the sales price in the SSUTA definitions: from memory; local law decides).
    Raises ValueError if the group has no such line or the discount is above what is left of it.
    """
    left = _net_of(lines)
    targets = [line for line in lines if _is_target(line, discount.group)]
    if not targets:
        raise ValueError(f"group must name lines that owner or insurer pay, got {discount.group!r}")
    whole = sum((left[line.key] for line in targets), ZERO)
    amount = discount.amount_usd if discount.pct is None else round_cents(whole * discount.pct / PERCENT)
    if amount is None or amount > whole:
        raise ValueError(f"discount must be at most the {whole} USD it is given on, got {amount}")
    parts = split_cents(amount, [left[line.key] for line in targets])
    return (*lines, *(_part(discount, line, part) for line, part in zip(targets, parts, strict=True) if part))


def bill(lines: Sequence[BillLine], rule: TaxRule) -> Bill:
    """What owner, insurer and shop each pay, with tax.

    Item basis: tax is rounded on each line, after its discounts. Invoice basis: rounded once on the whole of what
    owner and insurer are billed, all rates together, then shared between them (and within each by category) by
    split_cents. Lines the shop pays bear no tax; use tax on its own material is not worked out.
    Source: half up from the third decimal, seller elects item or invoice, on the aggregated rate (SSUTA s.324 as
    R.I. Gen. Laws 44-18.1-25; RCW 82.08.054). Raises ValueError for keys used twice, discounts above their line or a
    category without a rate.
    """
    taxes = _taxes(lines, rule)
    payers = tuple(_payer_total(payer, lines, taxes) for payer in PAYERS)
    return Bill(
        payers,
        sum((each.subtotal_usd for each in payers), ZERO),
        sum((each.tax_usd for each in payers), ZERO),
        sum((each.total_usd for each in payers), ZERO),
    )


def margin(lines: Sequence[BillLine]) -> Margin:
    """What the shop keeps of these lines before tax: the price others pay, minus what every line costs the shop.

    Work the shop pays for (rework) brings in nothing, so its margin is minus its cost.
    Raises ValueError naming the lines without a known cost: a margin over the others would look too good.
    """
    _net_of(lines)
    work = [line for line in lines if line.kind != "discount"]
    if unknown := [line.key for line in work if line.cost_usd is None]:
        raise ValueError(f"cost_usd must be known for every line, missing for {', '.join(unknown)}")
    revenue = sum((line.amount_usd for line in lines if line.payer in BILLED), ZERO)
    cost = sum((line.cost_usd or ZERO for line in work), ZERO)
    rework = sum((line.cost_usd or ZERO for line in work if line.payer == "shop"), ZERO)
    return Margin(revenue, cost, rework, revenue - cost)


def bill_line(line: PriceLine) -> BillLine:
    """A price line as a bill line: taxed labour in category "labour", other taxed lines in "parts"."""
    taxed = "labour" if line.kind == "labour" else "parts"
    category = taxed if line.is_taxed else UNTAXED
    return BillLine(line.key, line.kind, line.amount_usd, line.payer, category, cost_usd=line.cost_usd)


def _taxes(lines: Sequence[BillLine], rule: TaxRule) -> dict[str, dict[str, Decimal]]:
    """Tax by payer and category [USD], in whole cents."""
    left = _net_of(lines)
    taxes: dict[str, dict[str, Decimal]] = {payer: {} for payer in PAYERS}
    for line in lines:
        if line.payer in BILLED and line.kind != "discount":
            exact = left[line.key] * rule.rate(line.tax_category)
            own = taxes[line.payer]
            own[line.tax_category] = own.get(line.tax_category, ZERO) + (
                round_cents(exact) if rule.basis == "item" else exact
            )
    if rule.basis == "item":
        return taxes
    sums = [sum(taxes[payer].values(), ZERO) for payer in PAYERS]
    shares = split_cents(round_cents(sum(sums, ZERO)), sums)
    return {
        payer: dict(zip(taxes[payer], split_cents(share, list(taxes[payer].values())), strict=True))
        for payer, share in zip(PAYERS, shares, strict=True)
    }


def _payer_total(payer: str, lines: Sequence[BillLine], taxes: Mapping[str, Mapping[str, Decimal]]) -> PayerTotal:
    own = [line for line in lines if line.payer == payer]
    by_kind = {kind: sum((line.amount_usd for line in own if line.kind == kind), ZERO) for kind in KINDS}
    subtotal = sum(by_kind.values(), ZERO)
    tax = sum(taxes[payer].values(), ZERO)
    return PayerTotal(
        payer=payer,
        by_kind=by_kind,
        subtotal_usd=subtotal,
        tax_usd=tax,
        tax_by_category=taxes[payer],
        total_usd=subtotal + tax,
    )


def _net_of(lines: Sequence[BillLine]) -> dict[str, Decimal]:
    """What is left of each line after its discounts [USD]. Raises ValueError if the lines do not fit together."""
    if len({line.key for line in lines}) != len(lines):
        raise ValueError("key must be used once, got one twice")
    by_key = {line.key: line for line in lines if line.kind != "discount"}
    left = {key: line.amount_usd for key, line in by_key.items()}
    for line in lines:
        if line.kind != "discount":
            continue
        lowered = by_key.get(line.reduces)
        if lowered is None or (lowered.payer, lowered.tax_category) != (line.payer, line.tax_category):
            raise ValueError(f"reduces must name a line of the same payer and tax category, got {line.reduces!r}")
        left[line.reduces] += line.amount_usd
        if left[line.reduces] < 0:
            raise ValueError(f"discount must be at most its line, {line.reduces!r} would fall below 0")
    return left


def _is_target(line: BillLine, group: str) -> bool:
    return line.kind != "discount" and line.payer in BILLED and group in ("", line.group)


def _part(discount: Discount, line: BillLine, amount: Decimal) -> BillLine:
    return BillLine(
        key=f"{discount.key}/{line.key}",
        kind="discount",
        amount_usd=-amount,
        payer=line.payer,
        tax_category=line.tax_category,
        group=line.group,
        reduces=line.key,
    )


def check_word(name: str, value: str, allowed: Sequence[str]) -> None:
    """Raises ValueError naming argument, value and the allowed words."""
    if value not in allowed:
        raise ValueError(f"{name} must be one of {', '.join(allowed)}, got {value!r}")


def check_usd(name: str, value: Decimal) -> None:
    """Raises ValueError unless value is an amount [USD] of 0 to MOST_USD in whole cents."""
    if not value.is_finite() or not 0 <= value <= MOST_USD or value != round_cents(value):
        raise ValueError(f"{name} must be 0 to {MOST_USD} USD in whole cents, got {value!r}")
