"""Why a total is some cents away from the prices that a reader adds up."""

from collections.abc import Sequence
from decimal import Decimal

from estimates.calc.money import CENT, ZERO


def apart_words(total_usd: Decimal, parts_usd: Sequence[Decimal]) -> str:
    """The difference between a total and its parts [USD, tax included] in a sentence; empty where there is none."""
    if total_usd == sum(parts_usd, ZERO):
        return ""
    return rounding_words(total_usd, parts_usd) or (
        "A discount or another payer counts in this, so the prices alone do not add up to it."
    )


def rounding_words(total_usd: Decimal, parts_usd: Sequence[Decimal]) -> str:
    """The same where rounded tax alone can be the cause, else empty.

    Tax is rounded once on a whole bill (estimates.calc.money.bill): each part may bear up to half a cent, and the
    whole as much.
    """
    apart = total_usd - sum(parts_usd, ZERO)
    cents = int(abs(apart) / CENT)
    if not cents or cents > (len(parts_usd) + 1) / 2:
        return ""
    amount = f"{cents} cent{'' if cents == 1 else 's'} {'more' if apart > 0 else 'less'}"
    return f"Tax is rounded once on the whole bill. So this is {amount} than the prices add up to."
