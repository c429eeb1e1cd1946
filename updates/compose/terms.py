"""Telling the owner that the bill changed, though the work did not."""

from updates.compose.facts import Common, TermsFacts
from updates.compose.frame import coach, letter
from updates.compose.message import Message
from updates.compose.words import as_sentence, money


def compose_terms(common: Common, facts: TermsFacts) -> Message:
    """Say why, what the owner now pays in all, what was paid before, and what is left or comes back."""
    total, due, refund = (money(usd, common) for usd in (facts.total_usd, facts.due_usd, facts.refund_usd))
    return letter(
        common,
        subject=f"The bill for {coach(common)} changed",
        paragraphs=(
            f"The work on {coach(common)} stays the same, but the bill changed.",
            f"This is why: {as_sentence(facts.words)}" if facts.words else "",
            f"Your part now comes to {total}, tax included.",
            _paid(common, facts),
            f"Your insurer pays {money(facts.insurer_usd, common)}." if facts.insurer_usd else "",
        ),
        rows=(
            ("Your total, tax included", total),
            ("We give back to you", refund) if facts.refund_usd else ("Left to pay", due),
        ),
    )


def _paid(common: Common, facts: TermsFacts) -> str:
    paid = money(facts.paid_usd, common)
    if facts.refund_usd:
        return f"You have paid {paid}, which is more than that. We owe you {money(facts.refund_usd, common)} back."
    return f"You have paid {paid} of it. That leaves {money(facts.due_usd, common)}." if facts.paid_usd else ""
