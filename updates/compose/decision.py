"""Confirming an owner's answer."""

from datetime import date

from updates.compose.facts import Common, DecisionFacts
from updates.compose.frame import call_first, coach, found_words, letter, promise_sentence, undated_words
from updates.compose.kinds import KIND_WORDS, caution_of
from updates.compose.message import Message
from updates.compose.words import as_sentence, day, money, one_line


def compose_decision(common: Common, facts: DecisionFacts) -> Message:
    """Say back what was answered, the total that now holds, and the date now expected."""
    if facts.is_go_ahead:
        return _compose_go_ahead(common, facts)
    answer = "yes" if facts.is_approved else "no"
    return letter(
        common,
        subject=f"You said {answer}: {KIND_WORDS[facts.kind]} in {coach(common)}",
        paragraphs=(
            _what_was_answered(facts),
            "" if facts.is_approved else _what_stays(common, facts),
            _total(common, facts),
            _dates(common, facts),
            "If this is not what you meant, please call us right away.",
        ),
        rows=_rows(common, facts),
    )


def _compose_go_ahead(common: Common, facts: DecisionFacts) -> Message:
    """Report what goes ahead inside the limit the owner gave in advance."""
    found = found_words(facts.kind, facts.place_words)
    return letter(
        common,
        subject=f"We found {KIND_WORDS[facts.kind]} in {coach(common)}, and put it right",
        paragraphs=(
            f"We found this in {coach(common)}: {found}.",
            f"It is inside the limit you gave us, so we go ahead. What we do: {as_sentence(facts.remedy_words)}",
            f"It costs {money(facts.cost_usd, common)} in all, tax included.",
            caution_of(facts.kind),
            _total(common, facts),
            _dates(common, facts),
            "If you do not want this, please call us right away.",
        ),
        rows=(
            ("This costs, tax included", money(facts.cost_usd, common)),
            ("Total, tax included", money(facts.new_total_usd, common)),
        ),
    )


def _what_was_answered(facts: DecisionFacts) -> str:
    found = found_words(facts.kind, facts.place_words)
    work = as_sentence(facts.remedy_words)
    if facts.is_approved:
        return f"Thank you for your answer. You said yes to the work on this: {found}. What we will do: {work}"
    return f"Thank you for your answer. You said no to the work on this: {found}. We will not do this: {work}"


def _what_stays(common: Common, facts: DecisionFacts) -> str:
    """A no leaves a danger in place, so its caution is said again."""
    unsafe = f"It is not safe to leave, so {call_first(common)}." if facts.is_unsafe_to_leave else ""
    return " ".join(part for part in ("We leave it as it is.", unsafe, caution_of(facts.kind)) if part)


def _total(common: Common, facts: DecisionFacts) -> str:
    total = money(facts.new_total_usd, common)
    if facts.is_approved:
        said = f"All the work you have agreed to now comes to {total}, tax included."
        return f"{said} {facts.apart_words}".strip()
    return f"Your answer adds no cost. The work you have agreed to comes to {total}, tax included."


def _dates(common: Common, facts: DecisionFacts) -> str:
    if facts.expected_on is None:
        return "We are working out the ready date. You can see it on the page of your coach."
    if facts.undated_spots:
        return _dates_unsure(common, facts.expected_on, facts.promised_on, facts.undated_spots)
    expected = f"We now expect your coach to be ready on {day(facts.expected_on, common)}."
    if facts.promised_on is None:
        return expected
    return f"{expected} {promise_sentence(facts.expected_on, facts.promised_on, common)}"


def _dates_unsure(common: Common, expected_on: date, promised_on: date | None, spots: int) -> str:
    """No promise is said to hold, or to fail, on a date that nobody can know yet."""
    expected = f"By our plan of today, your coach will be ready on {day(expected_on, common)}."
    unsure = f"But {undated_words(spots)}, so this date is not sure."
    if promised_on is None:
        return f"{expected} {unsure} We will write to you when we know more."
    promised = f"We promised you {day(promised_on, common)}."
    return f"{expected} {unsure} {promised} If that date has to change, we will tell you why."


def _rows(common: Common, facts: DecisionFacts) -> tuple[tuple[str, str], ...]:
    rows = [
        ("Your answer", "Yes" if facts.is_approved else "No"),
        ("Signed by", one_line(facts.signed_by)),
        ("Total now, tax included", money(facts.new_total_usd, common)),
    ]
    if facts.expected_on:
        label = "By our plan, not sure yet" if facts.undated_spots else "We expect it ready on"
        rows.append((label, day(facts.expected_on, common)))
    if facts.promised_on:
        rows.append(("We promised", day(facts.promised_on, common)))
    return tuple(rows)
