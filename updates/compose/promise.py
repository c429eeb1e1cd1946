"""A ready date promised, or a promise changed and why."""

from updates.compose.facts import Common, PromiseFacts
from updates.compose.frame import coach, letter
from updates.compose.message import Message
from updates.compose.words import as_sentence, capitalised, day, days_apart


def compose_promise(common: Common, facts: PromiseFacts) -> Message:
    """Give the owner the date, what it was before, and the reason."""
    return letter(
        common,
        subject=_subject(common, facts),
        paragraphs=(_date(common, facts), _reason(facts), _sorry(facts)),
        rows=_rows(common, facts),
    )


def _subject(common: Common, facts: PromiseFacts) -> str:
    if facts.old_on is None or facts.old_on == facts.new_on:
        return f"The ready date of {coach(common)}"
    return f"A new ready date for {coach(common)}"


def _date(common: Common, facts: PromiseFacts) -> str:
    new = day(facts.new_on, common)
    if facts.old_on is None:
        return f"We promise to have {coach(common)} ready on {new}. If that date has to change, we will tell you why."
    if facts.old_on == facts.new_on:
        return f"The date we promised you for {coach(common)} still holds: {new}."
    apart = days_apart(facts.old_on, facts.new_on)
    return (
        f"The ready date of {coach(common)} has changed. We promised you {day(facts.old_on, common)}. "
        f"The new date is {new}. That is {apart}."
    )


def _reason(facts: PromiseFacts) -> str:
    reason = as_sentence(facts.reason_words)
    return f"The reason: {reason}" if reason else ""


def _sorry(facts: PromiseFacts) -> str:
    is_later = facts.old_on is not None and facts.new_on > facts.old_on
    return "We are sorry that you have to wait longer." if is_later else ""


def _rows(common: Common, facts: PromiseFacts) -> tuple[tuple[str, str], ...]:
    new = ("Promised ready on", day(facts.new_on, common))
    if facts.old_on is None or facts.old_on == facts.new_on:
        return (new,)
    return (
        ("We promised before", day(facts.old_on, common)),
        ("We promise now", day(facts.new_on, common)),
        ("Change", capitalised(days_apart(facts.old_on, facts.new_on))),
    )
