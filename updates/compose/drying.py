"""How the coach dries: how wet it is, when it will be dry, or what holds it up."""

from updates.compose.facts import Common, DryingFacts
from updates.compose.frame import coach, letter
from updates.compose.message import Message
from updates.compose.words import day

HELD_WORDS = {
    "rising": "One spot gets wetter. Water may still come in, so we look for the leak first.",
    "stalled": "One spot has stopped drying. Water is shut in there, so we have to open more.",
    "near_equilibrium": "The air here is too damp to dry one spot any more. We will make the air drier.",
}
WHY_WAIT = "We do not close a wall over wet wood: it would rot from the inside. So we wait, and read the meter again."


def compose_drying(common: Common, facts: DryingFacts) -> Message:
    """Say how the drying stands. It gives no new promise: that is a message of its own."""
    subjects = {"dry": "is dry", "drying": "is drying", "held": "is not drying as it should"}
    opening = f"We measured how wet {coach(common)} is, at {_spots(facts.spots)}."
    return letter(
        common,
        subject=f"{coach(common)} {subjects[facts.state]}".replace("your", "Your", 1),
        paragraphs=(opening, _wettest(facts), *_outlook(common, facts)),
        rows=_rows(common, facts),
    )


def _wettest(facts: DryingFacts) -> str:
    if facts.state == "dry":
        return "Each spot we read is now dry enough to be closed."
    if facts.wettest_pct is None:
        held = "The wettest spot is still too wet for our meter."
    else:
        held = f"The wettest spot holds {facts.wettest_pct:.0f} percent water."
    return f"{held} We close a wall at {facts.limit_pct:.0f} percent or less."


def _outlook(common: Common, facts: DryingFacts) -> tuple[str, ...]:
    if facts.state == "dry":
        return ("Next we test the wood by hand. Then we know what can stay.",)
    if facts.state == "held":
        return (HELD_WORDS[facts.held_by], "We will write to you when we know more.", WHY_WAIT)
    if facts.even_on == facts.safe_on and facts.even_on:
        return (f"As things stand it should be dry on {day(facts.even_on, common)}.", WHY_WAIT)
    likely = f"As things stand it could be dry on {day(facts.even_on, common)}." if facts.even_on else ""
    safe = f"It is wise to count on {day(facts.safe_on, common)}." if facts.safe_on else ""
    return (" ".join(part for part in (likely, safe) if part), WHY_WAIT)


def _rows(common: Common, facts: DryingFacts) -> tuple[tuple[str, str], ...]:
    rows = [("Spots we read", str(facts.spots))]
    if facts.even_on:
        rows.append(("Dry, as likely as not", day(facts.even_on, common)))
    if facts.safe_on:
        rows.append(("Dry, four times in five", day(facts.safe_on, common)))
    return tuple(rows)


def _spots(spots: int) -> str:
    return f"{spots} spot{'' if spots == 1 else 's'}"
