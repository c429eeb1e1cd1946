"""Telling the owner that the bill changed, though the work did not."""

from updates.compose.facts import Common, TermsFacts
from updates.compose.frame import coach, letter
from updates.compose.message import Message
from updates.compose.words import as_sentence, money


def compose_terms(common: Common, facts: TermsFacts) -> Message:
    """Say why, what the owner now pays in all, what was paid before, and what is left."""
    total, due = money(facts.total_usd, common), money(facts.due_usd, common)
    return letter(
        common,
        subject=f"The bill for {coach(common)} changed",
        paragraphs=(
            f"The work on {coach(common)} stays the same, but the bill changed.",
            f"This is why: {as_sentence(facts.words)}" if facts.words else "",
            f"Your part now comes to {total}, tax included.",
            f"You have paid {money(facts.paid_usd, common)} of it. That leaves {due}." if facts.paid_usd else "",
            f"Your insurer pays {money(facts.insurer_usd, common)}." if facts.insurer_usd else "",
        ),
        rows=(("Your total, tax included", total), ("Left to pay", due)),
    )
