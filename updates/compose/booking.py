"""Confirming a booking."""

from updates.compose.facts import BookingFacts, Common
from updates.compose.frame import coach, letter
from updates.compose.message import Message
from updates.compose.words import as_sentence, day, money

# The tank is kept shut unless something is using it: LP safety page of the city of Crookston, Minnesota.
GAS_CAUTION = (
    "If your coach has gas, please turn it off at the tank before you set off. If you smell gas, keep away and call "
    "for help."
)
MORE_DAMAGE = (
    "We can only see some damage once we open the coach up. If we find more, we will send you photos, the cost and "
    "the new date. We do none of that work until you answer."
)


def compose_booking(common: Common, facts: BookingFacts) -> Message:
    """Say what work is agreed, what it costs, when to bring the coach and when it is ready.

    Raises ValueError without any work.
    """
    if not facts.work_words:
        raise ValueError("work_words must name at least one piece of work, got none")
    return letter(
        common,
        subject=f"We have booked in {coach(common)}",
        paragraphs=(
            f"Thank you for booking in {coach(common)} with us. The work we agreed on is listed below.",
            f"It comes to {money(facts.total_usd, common)} in all, tax included.",
            _dates(common, facts),
            GAS_CAUTION,
            MORE_DAMAGE,
        ),
        rows=_rows(common, facts),
    )


def _dates(common: Common, facts: BookingFacts) -> str:
    bring = f"Please bring it on {day(facts.arrives_on, common)}."
    if facts.promised_on is None:
        return f"{bring} We will write to you with the ready date."
    ready = f"We promise to have it ready on {day(facts.promised_on, common)}."
    return f"{bring} {ready} If that date has to change, we will tell you why."


def _rows(common: Common, facts: BookingFacts) -> tuple[tuple[str, str], ...]:
    many = len(facts.work_words) > 1
    rows = [
        (f"Work {number}" if many else "Work", as_sentence(words))
        for number, words in enumerate(facts.work_words, start=1)
    ]
    rows += [
        ("Cost in all, tax included", money(facts.total_usd, common)),
        ("Please bring it on", day(facts.arrives_on, common)),
    ]
    if facts.promised_on:
        rows.append(("Promised ready on", day(facts.promised_on, common)))
    return tuple(rows)
