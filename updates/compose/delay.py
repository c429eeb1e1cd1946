"""Why a coach takes longer than the date its owner was given: the causes with their days, and no word of others."""

from dataclasses import dataclass

from updates.compose.facts import CauseFacts, Common, DelayFacts
from updates.compose.frame import found_words
from updates.compose.words import day, days_apart, one_line

# Each cause where it makes the coach later, and where it makes it sooner again.
CAUSE_WORDS = {
    "promise": (
        "Our plan was later than the date when we gave it to you.",
        "We had left some room when we gave you the date.",
    ),
    "finding": ("We found more damage.", "We found more damage, but it needs less time than we thought."),
    "answer": (
        "Work had to wait for your answer, or your answer brought more work.",
        "Your answer came in good time, or saved some work.",
    ),
    "drying": (
        "The wood, the glue or the sealant needs longer to dry.",
        "The wood, the glue or the sealant dries faster than we thought.",
    ),
    "work": ("Our own work takes longer than we planned.", "Our own work goes faster than we planned."),
    "turn": (
        "We had to change the order of the work in our shop.",
        "We changed the order of the work in our shop, and yours comes sooner.",
    ),
    "rework": (
        "We were not happy with some of our work. We do it again at our cost.",
        "The work we do again goes faster than we thought.",
    ),
    "arrival": (
        "The day your coach comes to us is later than we planned.",
        "The day your coach comes to us is sooner than we planned.",
    ),
    "other_coach": (
        "Work on other coaches here takes longer, and yours has to wait for it.",
        "Work on other coaches here is done sooner.",
    ),
}


@dataclass(frozen=True)
class Delay:
    """Sentences before the causes, each cause with its days in words, their sum, and sentences after them."""

    opening: tuple[str, ...]
    causes: tuple[tuple[str, str], ...]
    sum_words: str
    closing: tuple[str, ...]


def compose_delay(common: Common, facts: DelayFacts) -> Delay:
    """Say how late it is by the plan of today, what it comes from, and that the plan is no new promise.

    Raises ValueError unless the expected day is past the promised one and the causes add up to the days between.
    """
    late_days = (facts.expected_on - facts.promised_on).days
    if late_days <= 0:
        raise ValueError(f"expected_on must be after promised_on {facts.promised_on}, got {facts.expected_on}")
    if facts.causes and sum(cause.days for cause in facts.causes) != late_days:
        raise ValueError(f"causes must add up to {late_days} days, got {[cause.days for cause in facts.causes]}")
    apart = days_apart(facts.promised_on, facts.expected_on)
    return Delay(
        opening=(
            f"By our plan of today, your coach will be ready on {day(facts.expected_on, common)}.",
            f"That is {apart} than the date we gave you.",
            "That date has passed, and we are sorry." if facts.is_past else "We are sorry about this.",
        ),
        causes=tuple((cause_words(cause), _days(cause.days)) for cause in facts.causes),
        sum_words=_days(late_days),
        closing=(
            *(() if facts.causes else (f"Please call us at {one_line(common.shop_phone)} and we will tell you why.",)),
            "This is how our plan stands. It is not a new promise, and it may still change.",
            "When we give you a new date, we will write to you and tell you why.",
        ),
    )


def cause_words(cause: CauseFacts) -> str:
    """One cause in a sentence or two. Raises ValueError for a cause that has no words."""
    if cause.cause not in CAUSE_WORDS:
        raise ValueError(f"cause must be one of {', '.join(CAUSE_WORDS)}, got {cause.cause!r}")
    later, sooner = CAUSE_WORDS[cause.cause]
    words = later if cause.days > 0 else sooner
    return f"{words} This is about: {found_words(cause.kind, cause.place_words)}." if cause.kind else words


def _days(days: int) -> str:
    return f"{abs(days)} day{'' if abs(days) == 1 else 's'} {'later' if days > 0 else 'sooner'}"
