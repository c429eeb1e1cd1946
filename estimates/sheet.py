"""A revision of the agreed scope as rows ready to print, for the screen and for the paper alike."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from estimates.calc.money import PriceLine
from estimates.models import Revision
from estimates.pricing import lines_from_json
from jobs.models import Finding

ZERO = Decimal("0.00")


@dataclass(frozen=True)
class SheetGroup:
    """The lines of one finding. label: "booked work 1" for what was brought in, "finding 3" for what was found."""

    finding_number: int
    label: str
    is_booked: bool
    words: str
    lines: tuple[PriceLine, ...]
    hours: Decimal
    amount_usd: Decimal  # of all payers, before tax and discounts
    is_new: bool  # not in the revision before


@dataclass(frozen=True)
class Agreement:
    """Who agreed to a revision, how and when."""

    number: int
    agreed_by: str
    agreed_at: datetime
    total_usd: Decimal
    sha256: str


@dataclass(frozen=True)
class Whole:
    """The lines of all payers as one column [USD]: labour + material + discount + tax = total; a discount is below 0.

    others: what each payer but the owner takes off the total; the rest is the owner's.
    """

    labour_usd: Decimal
    material_usd: Decimal
    discount_usd: Decimal
    tax_usd: Decimal
    total_usd: Decimal
    others: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class Sheet:
    revision: Revision
    groups: tuple[SheetGroup, ...]
    hours: Decimal
    whole: Whole
    totals: dict[str, Decimal]  # the owner's part
    payers: tuple[dict[str, Any], ...]  # one part each, figures in USD; those who pay nothing left out
    before: Revision | None
    change_usd: Decimal | None  # against the revision before
    agreements: tuple[Agreement, ...]

    @property
    def added(self) -> tuple[SheetGroup, ...]:
        return tuple(group for group in self.groups if group.is_new)

    @property
    def change_words(self) -> str:
        """What the owner pays more or less than before this revision."""
        if not self.change_usd:
            return "The owner's total is unchanged"
        more = "more" if self.change_usd > 0 else "less"
        return f"The owner pays ${abs(self.change_usd):,.2f} {more}"

    @property
    def signed(self) -> Agreement:
        return self.agreements[-1]


def read_sheet(revision: Revision) -> Sheet:
    """Read a revision's kept content; nothing is worked out anew, so it prints the same for ever."""
    up_to = list(revision.job.revisions.filter(number__lte=revision.number).order_by("number"))
    before = up_to[-2] if len(up_to) > 1 else None
    known = {_name(group) for group in before.content["groups"]} if before else set()
    findings = {finding.pk: finding for finding in revision.job.findings.all()}
    groups = tuple(
        _group(group, findings.get(group["finding"]), is_new=before is not None and _name(group) not in known)
        for group in _groups(revision)
    )
    totals = {name: Decimal(amount) for name, amount in revision.content["totals"].items()}
    payers = tuple(_payer(part) for part in revision.content.get("payers", []) if _pays(part))
    return Sheet(
        revision=revision,
        groups=groups,
        hours=sum((group.hours for group in groups), Decimal(0)),
        whole=_whole([line for group in groups for line in group.lines], payers or (totals | {"payer": "owner"},)),
        totals=totals,
        payers=payers,
        before=before,
        change_usd=revision.total_usd - before.total_usd if before else None,
        agreements=tuple(
            Agreement(each.number, each.agreed_by, each.issued_at, each.total_usd, each.sha256) for each in up_to
        ),
    )


def _whole(lines: Sequence[PriceLine], payers: Sequence[dict[str, Any]]) -> Whole:
    """What all lines come to. A payer's discounts are what its part before tax is short of its lines."""
    labour = sum((line.amount_usd for line in lines if line.kind == "labour"), ZERO)
    material = sum((line.amount_usd for line in lines if line.kind != "labour"), ZERO)
    return Whole(
        labour_usd=labour,
        material_usd=material,
        discount_usd=sum((part["subtotal_usd"] for part in payers), ZERO) - labour - material,
        tax_usd=sum((part["tax_usd"] for part in payers), ZERO),
        total_usd=sum((part["total_usd"] for part in payers), ZERO),
        others=tuple(
            part | {"off_usd": -part["total_usd"]} for part in payers if part["payer"] != "owner" and part["total_usd"]
        ),
    )


def _payer(part: dict[str, str]) -> dict[str, Any]:
    return {name: value if name == "payer" else Decimal(value) for name, value in part.items()}


def _pays(part: dict[str, str]) -> bool:
    return any(Decimal(value) for name, value in part.items() if name != "payer")


def without_news(sheet: Sheet) -> Sheet:
    """The same without telling apart what is new: for papers that are read by themselves."""
    return replace(sheet, groups=tuple(replace(group, is_new=False) for group in sheet.groups))


def _groups(revision: Revision) -> list[dict[str, Any]]:
    groups: list[dict[str, Any]] = revision.content["groups"]
    return groups


def _name(group: dict[str, Any]) -> tuple[int, str]:
    return group["finding"], group["words"]


def _group(group: dict[str, Any], finding: Finding | None, *, is_new: bool) -> SheetGroup:
    lines = lines_from_json(group["lines"])
    return SheetGroup(
        finding_number=group["finding_number"],
        label=finding.label if finding else f"finding {group['finding_number']}",
        is_booked=finding is not None and finding.is_booked,
        words=group["words"],
        lines=lines,
        hours=sum((line.quantity for line in lines if line.kind == "labour"), Decimal(0)),
        amount_usd=sum((line.amount_usd for line in lines), ZERO),
        is_new=is_new,
    )
