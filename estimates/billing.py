"""From the agreed lines and terms of a job to who pays what: rows in, frozen values out."""

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from estimates.calc.adding_up import rounding_words
from estimates.calc.money import Bill, BillLine, Discount, TaxRule, bill, bill_line, with_discount
from estimates.models import Rates, Revision, Term
from estimates.pricing import lines_from_json
from jobs.models import Job

PERCENT = Decimal(100)
ZERO = Decimal("0.00")


def with_payers(groups: Iterable[dict[str, Any]], terms: Sequence[Term]) -> list[dict[str, Any]]:
    """The groups with each line's payer as the terms have it; what the shop pays for rework stays the shop's."""
    payers = {term.finding_id: term.payer for term in terms if term.kind == Term.Kind.PAYER}
    return [
        group
        | {
            "lines": [
                line | {"payer": _payer(line, payers.get(group["finding"], Term.Payer.OWNER))}
                for line in group["lines"]
            ]
        }
        for group in groups
    ]


def bill_of(groups: Iterable[dict[str, Any]], terms: Sequence[Term], rates: Rates) -> Bill:
    """What owner, insurer and shop each pay for these groups under these terms.

    Raises ValueError, in words, for a discount above what it is given on.
    """
    lines: tuple[BillLine, ...] = tuple(
        replace(bill_line(line), key=f"{group['finding']}:{line.key}", group=str(group["finding"]))
        for group in groups
        for line in lines_from_json(group["lines"])
    )
    for term in terms:
        if term.kind == Term.Kind.DISCOUNT:
            group = str(term.finding_id) if term.finding_id else ""
            lines = with_discount(lines, Discount(f"term{term.pk}", group, amount_usd=term.amount_usd, pct=term.pct))
    return bill(lines, tax_rule(rates))


@dataclass(frozen=True)
class JobBill:
    """A job's agreed work, terms and rates, read once, to be asked what more work would come to.

    agreed_usd: what the owner pays for the work agreed, tax included [USD].
    """

    groups: tuple[dict[str, Any], ...]
    terms: tuple[Term, ...]
    rates: Rates
    agreed_usd: Decimal

    def total_with(self, added: Iterable[dict[str, Any]]) -> Decimal:
        """What the owner would pay in all [USD] with these groups added, under the terms that stand."""
        groups = with_payers([*self.groups, *added], self.terms)
        return bill_of(groups, self.terms, self.rates).of("owner").total_usd


def read_bill(job: Job) -> JobBill:
    """Three queries."""
    current = job.revisions.order_by("number").last()
    return JobBill(
        groups=tuple(current.content["groups"]) if current else (),
        terms=tuple(job.terms.standing()),
        rates=_rates_under(job.shop.rates, current),
        agreed_usd=current.total_usd if current else ZERO,
    )


def total_with(job: Job, added: Iterable[dict[str, Any]]) -> Decimal:
    """What the owner would pay in all [USD] with these groups added to the work agreed, under the terms that stand."""
    return read_bill(job).total_with(added)


def agreed_apart(revisions: Sequence[Revision], prices_usd: Sequence[Decimal]) -> str:
    """Why the total agreed last is cents away from the first and the prices said yes to since, in words.

    Empty where it is not, and where discounts or other payers stand: the bill shows those as rows of their own.
    """
    if not revisions or revisions[-1].content.get("terms"):
        return ""
    return rounding_words(revisions[-1].total_usd, [revisions[0].total_usd, *prices_usd])


def rates_of(job: Job) -> Rates:
    """The shop's rates of today, with the tax under which the job was first agreed: nothing agreed is taxed anew."""
    return _rates_under(job.shop.rates, job.revisions.order_by("number").last())


def _rates_under(today: Rates, current: Revision | None) -> Rates:
    rates = copy(today)
    kept = current.content.get("tax") if current else None
    if kept:
        rates.tax_rate_pct, rates.tax_basis = Decimal(kept["rate_pct"]), kept["basis"]
        rates.is_labour_taxed = kept["is_labour_taxed"]
    return rates


def tax_json(rates: Rates) -> dict[str, Any]:
    """The tax rule as a revision keeps it; the rate in percent."""
    return {
        "rate_pct": f"{rates.tax_rate_pct:.4f}",
        "basis": str(rates.tax_basis),
        "is_labour_taxed": rates.is_labour_taxed,
    }


def tax_rule(rates: Rates) -> TaxRule:
    """The shop's one rate, on parts always and on labour where the shop taxes it (the line says which)."""
    rate = rates.tax_rate_pct / PERCENT
    return TaxRule({"labour": rate, "parts": rate}, rates.tax_basis)


def totals_json(made: Bill) -> dict[str, str]:
    """The owner's part as a revision keeps it [USD]; discounts lower the subtotal."""
    own = made.of("owner")
    kinds = {kind: own.by_kind.get(kind, ZERO) for kind in ("labour", "material", "discount")}
    return {
        "labour_usd": str(kinds["labour"]),
        "material_usd": str(kinds["material"]),
        "discount_usd": str(kinds["discount"]),
        "subtotal_usd": str(own.subtotal_usd),
        "tax_usd": str(own.tax_usd),
        "total_usd": str(own.total_usd),
    }


def payers_json(made: Bill) -> list[dict[str, str]]:
    """Every payer's part as a revision keeps it [USD]."""
    return [
        {
            "payer": each.payer,
            "subtotal_usd": str(each.subtotal_usd),
            "tax_usd": str(each.tax_usd),
            "total_usd": str(each.total_usd),
        }
        for each in made.payers
    ]


def terms_json(terms: Iterable[Term]) -> list[dict[str, Any]]:
    """The terms in words and figures as a revision keeps them."""
    return [
        {
            "kind": term.kind,
            "finding": term.finding_id,
            "payer": term.payer,
            "amount_usd": str(term.amount_usd) if term.amount_usd is not None else None,
            "pct": str(term.pct) if term.pct is not None else None,
            "words": term.words,
        }
        for term in terms
    ]


def _payer(line: dict[str, Any], payer: str) -> str:
    return payer if line["payer"] in {"owner", "insurer"} else str(line["payer"])
