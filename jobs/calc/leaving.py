"""What happens when a finding is left as it is, in plain words for owner and shop alike."""

# Common practice of the trade, no source.
_LEFT = {
    "wet_insulation": "It stays wet for a long time and can rot the wood next to it.",
    "stained_framing": "If it gets wet again it can rot, and you will not see it from outside.",
    "rotten_framing": "The rot goes on as long as it gets damp, and the part grows weaker.",
    "loose_decking": "It goes on working loose, and the cover above it can tear.",
    "loose_skin": "It goes on coming away, and water gets in behind it.",
    "failed_seal": "Water goes on coming in each time it rains.",
    "exposed_wire": "The wire can be cut or worn through, and can start a fire.",
    "mould": "It goes on growing as long as it is damp.",
    "corrosion": "The metal goes on being eaten away.",
    "other": "It stays as it is. Please ask us what that means.",
}


def left_words(kind: str) -> str:
    """What happens if this kind of finding is left as it is. Raises KeyError for a kind that is not a finding's."""
    return _LEFT[kind]


def is_never_safe(kind: str, *, is_near_mains: bool) -> bool:
    """Whether it is unsafe to leave whatever anybody ticks: a bare wire by mains wiring can carry mains power.

    Common practice of the trade, no source.
    """
    return kind == "exposed_wire" and is_near_mains
