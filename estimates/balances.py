"""What each payer of a job has paid and still owes: rows in, frozen values out."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from estimates.calc.balance import Balance, balance_of
from estimates.calc.money import BILLED, CENT, ZERO
from estimates.models import Payment, Revision
from jobs.models import Job


@dataclass(frozen=True)
class Paid:
    """The payments of a job, oldest first, and where each payer stands; payers of nothing are left out."""

    payments: tuple[Payment, ...]
    balances: tuple[Balance, ...]

    @property
    def owner(self) -> Balance:
        """The owner's own balance, all noughts if there is nothing to pay."""
        return next((each for each in self.balances if each.payer == "owner"), balance_of("owner", ZERO, ZERO))


def read_paid(job: Job, revision: Revision | None) -> Paid:
    """Against the totals of this revision, the latest of the job; without one nothing is owed."""
    balances = (balance(job, revision, payer) for payer in BILLED)
    return Paid(
        payments=tuple(job.payments.for_page()),
        balances=tuple(each for each in balances if each.total_usd or each.paid_usd),
    )


def balance(job: Job, revision: Revision | None, payer: str) -> Balance:
    """One payer's balance."""
    paid = job.payments.filter(payer=payer).aggregate(paid=Sum("amount_usd"))["paid"] or ZERO
    # SQLite adds up in floating point and gives its sum back with noughts, or less, beyond the cent.
    return balance_of(payer, _total(revision, payer), paid.quantize(CENT))


def _total(revision: Revision | None, payer: str) -> Decimal:
    if revision is None:
        return ZERO
    parts = revision.content.get("payers", [])
    found = next((Decimal(part["total_usd"]) for part in parts if part["payer"] == payer), None)
    if found is not None:
        return found
    return revision.total_usd if payer == "owner" else ZERO
