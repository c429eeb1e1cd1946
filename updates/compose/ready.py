"""Telling the owner that the agreed work is done."""

from updates.compose.facts import Common, LeftFacts, ReadyFacts
from updates.compose.frame import call_first, coach, found_words, letter
from updates.compose.kinds import caution_of
from updates.compose.message import Message
from updates.compose.words import money, one_line


def compose_ready(common: Common, facts: ReadyFacts) -> Message:
    """Say that the work is done, what it comes to, and what was left as it is, with its cautions."""
    return letter(
        common,
        subject=f"Ready for you: {coach(common)}",
        paragraphs=(
            f"The work you agreed to on {coach(common)} is done.",
            f"Please call us at {one_line(common.shop_phone)} first, so that we can agree on a time to hand it over.",
            "Walk round it with us before you leave, and ask us all you want to know.",
            f"The work comes to {money(facts.total_usd, common)} in all, tax included.",
            _paid(common, facts),
            *(_left(common, each) for each in facts.left),
        ),
        rows=_rows(common, facts),
    )


def _paid(common: Common, facts: ReadyFacts) -> str:
    if not facts.paid_usd:
        return ""
    paid = f"You have paid {money(facts.paid_usd, common)}."
    return f"{paid} That leaves {money(facts.due_usd, common)}." if facts.due_usd else f"{paid} Thank you."


def _rows(common: Common, facts: ReadyFacts) -> tuple[tuple[str, str], ...]:
    total = ("Total, tax included", money(facts.total_usd, common))
    return (total, ("Left to pay", money(facts.due_usd, common))) if facts.paid_usd else (total,)


def _left(common: Common, left: LeftFacts) -> str:
    found = found_words(left.kind, left.place_words)
    unsafe = f"It is not safe to leave, so {call_first(common)}." if left.is_unsafe_to_leave else ""
    parts = (f"You chose to leave this as it is: {found}.", unsafe, caution_of(left.kind))
    return " ".join(part for part in parts if part)
