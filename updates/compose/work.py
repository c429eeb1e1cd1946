"""Work that was done again, in words for the owner."""

from updates.compose.words import as_sentence, one_line

NO_COST = "You pay nothing for that."


def again_words(work_words: str, why_words: str, *, is_done: bool) -> str:
    """What the shop did twice, why, and that it costs the owner nothing. The shop's own words are quoted."""
    work = f"“{one_line(work_words)}”"
    did = "so we did it again" if is_done else "so we are doing it again"
    why = as_sentence(why_words)
    said = f"What was wrong: {why}" if why else ""
    return " ".join(part for part in (f"We checked {work} and were not happy with it, {did}.", said, NO_COST) if part)
