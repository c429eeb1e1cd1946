"""What a payer has paid and still owes, exact to the cent."""

from dataclasses import dataclass
from decimal import Decimal

from estimates.calc.money import BILLED, ZERO, check_usd, check_word


@dataclass(frozen=True)
class Balance:
    """Of one payer [USD, tax included]: total - paid = due - refund, and one of the two is nought."""

    payer: str
    total_usd: Decimal
    paid_usd: Decimal
    due_usd: Decimal
    refund_usd: Decimal


def balance_of(payer: str, total_usd: Decimal, paid_usd: Decimal) -> Balance:
    """What is left to pay, or to give back where the total fell below what was paid.

    Raises ValueError for a payer who is not billed, or an amount that is negative or has fractions of a cent.
    """
    check_word("payer", payer, BILLED)
    check_usd("total_usd", total_usd)
    check_usd("paid_usd", paid_usd)
    open_usd = total_usd - paid_usd
    return Balance(payer, total_usd, paid_usd, max(open_usd, ZERO), max(-open_usd, ZERO))
