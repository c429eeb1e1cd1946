"""What every message has: greeting, closing, link words, and the sentences families share."""

from datetime import date

from updates.compose.facts import Common
from updates.compose.kinds import KIND_WORDS
from updates.compose.message import Message
from updates.compose.words import day, days_apart, one_line

SEE_PAGE = "See the page of your coach"


def coach(common: Common) -> str:
    return one_line(common.coach_words)


def letter(
    common: Common,
    *,
    subject: str,
    paragraphs: tuple[str, ...],
    rows: tuple[tuple[str, str], ...],
    action_words: str | None = SEE_PAGE,
) -> Message:
    """A whole message around its paragraphs; empty ones are left out."""
    return Message(
        subject=one_line(subject),
        greeting=f"Hello {one_line(common.owner_name)},",
        paragraphs=tuple(paragraph for paragraph in paragraphs if paragraph),
        rows=rows,
        action_words=action_words,
        closing=("If something is not clear, please ask us.", "Thank you."),
    )


def found_words(kind: str, place_words: str) -> str:
    """A finding and its place: "wet insulation (the roof, near the front)"."""
    return f"{KIND_WORDS[kind]} ({one_line(place_words)})"


def call_first(common: Common) -> str:
    return f"please call us at {one_line(common.shop_phone)} before you use the coach"


def undated_words(spots: int) -> str:
    """How many spots we cannot give a drying date for: "1 spot in the wood has no drying date yet"."""
    return f"{spots} {'spot in the wood has' if spots == 1 else 'spots in the wood have'} no drying date yet"


def promise_sentence(expected_on: date, promised_on: date, common: Common) -> str:
    """How the expected date stands to the promised one. It gives no new promise."""
    promised = day(promised_on, common)
    if expected_on <= promised_on:
        return f"The date we promised you still holds: {promised}."
    late = days_apart(promised_on, expected_on)
    return f"That is {late} than we promised: {promised}. We will write to you about the date and tell you why."
