"""What was measured, heard and seen at a finding, as sentences."""

from collections.abc import Iterator

from updates.compose.facts import FindingFacts
from updates.compose.words import SMALLEST_DEPTH_MM, depth

TAP_WORDS = {
    "solid": "It sounded solid when we tapped it.",
    "dull": "It sounded dull when we tapped it.",
    "hollow": "It sounded hollow when we tapped it.",
    "crunchy": "It crunched when we tapped it.",
}
LOOK_WORDS = {
    "clean": "It looks clean.",
    "stained": "It is stained.",
    "mould": "We can see mould on it.",
    "insects": "We saw signs of insects.",
    "delaminated": "Its layers have come apart.",
    "corroded": "Metal there is being eaten away.",
}
VERDICT_WORDS = {
    "wait_for_dry": "It is still wet. We dry it first, and only then can we tell how much of it is good.",
    "sound": "It is sound.",
    "stained_sound": "It is stained, but still sound.",
    "soft": "It has gone soft, but not deep.",
    "rotted": "It has gone too far to keep.",
    "loose": "It has come loose.",
    "exposed": "It lies open, with nothing over it.",
    "open": "",
}
# The road side and the curb side are words of the trade; most owners know the driver's side of a car.
SIDE_WORDS = {
    "road side": "The road side is the one next to traffic.",
    "curb side": "The curb side is the one next to the edge of the road.",
}


def evidence_sentences(finding: FindingFacts) -> tuple[str, ...]:
    """One sentence or two for each piece of evidence that was taken; none of it says more than was measured."""
    return tuple(_sentences(finding))


def verdict_sentence(finding: FindingFacts) -> str:
    """What the evidence comes to, or nothing while that is not known."""
    words = VERDICT_WORDS[finding.verdict]
    return f"What we know so far: {words[0].lower()}{words[1:]}" if words else ""


def _sentences(finding: FindingFacts) -> Iterator[str]:
    if finding.is_wet is not None:
        yield "It was wet when we found it." if finding.is_wet else "It was dry when we found it."
    if finding.moisture_pct is not None:
        yield f"Our meter read {finding.moisture_pct:.0f} percent water there."
        yield f"We close a wall at {finding.limit_pct:.0f} percent or less."
    if finding.probe_depth_mm is not None:
        yield _probe_sentence(finding.probe_depth_mm, finding.units)
    if finding.tap_sound:
        yield TAP_WORDS[finding.tap_sound]
    if finding.look:
        yield LOOK_WORDS[finding.look]


def _probe_sentence(probe_depth_mm: float, units: str) -> str:
    if probe_depth_mm < SMALLEST_DEPTH_MM:
        return "Our probe did not sink in."
    return f"Our probe sank in {depth(probe_depth_mm, units)}."


def side_sentences(place_words: str) -> tuple[str, ...]:
    """What the road side and the curb side are, if the place names them."""
    return tuple(words for side, words in SIDE_WORDS.items() if side in place_words)
