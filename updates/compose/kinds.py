"""What each kind of finding is called and what it means, for somebody who has never seen inside a wall.

The meanings are common practice of the trade (no source), except mould: the EPA's guide to mould
clean-up (402-K-01-001) has the cause mended first and bare hands and eyes kept from it. The cautions
defer to licensed trades and to the shop; local codes and labels go before any of them.
"""

KIND_WORDS = {
    "wet_insulation": "wet insulation",
    "stained_framing": "stained framing",
    "rotten_framing": "rotten framing",
    "loose_decking": "loose decking",
    "loose_skin": "loose outer skin",
    "failed_seal": "failed sealing",
    "exposed_wire": "exposed wiring",
    "mould": "mould",
    "corrosion": "corrosion",
    "other": "other damage",
}

_MEANINGS = {
    "wet_insulation": (
        "This is the soft fill in the walls, roof or floor. When wet, it holds water against the wood and "
        "metal next to it. It dries very slowly while it is shut in."
    ),
    "stained_framing": (
        "The framing is the wood that holds up the walls and roof. A stain shows that water has been there. "
        "The wood may still be sound. We can only tell for sure once it is dry."
    ),
    "rotten_framing": (
        "The framing is the wood that holds up the walls and roof. Where it is rotten, it has lost strength "
        "and may not hold what rests on it."
    ),
    "loose_decking": (
        "The decking is the layer of boards that you stand on, or that the roof cover lies on. Where it is "
        "loose, it can give way."
    ),
    "loose_skin": (
        "The skin is the outer sheet of the walls and roof. It has come away from what is behind it. Wind can "
        "pull at it on the road, and rain can get in."
    ),
    "failed_seal": (
        "The seals keep rain out at joints, vents and windows. Where one has failed, water can get in and soak "
        "the wood behind it."
    ),
    "exposed_wire": "A wire has lost its cover or is not held in place. It can shock someone or start a fire.",
    "mould": (
        "Mould grows where things stay damp. It can make some people ill. It comes back if the leak is not fixed first."
    ),
    "corrosion": "The metal there is being eaten away. Parts that hold the coach up or hold it as one can grow weak.",
    "other": (
        "This does not fit our usual list. Please read the note from our technician. Call us if it is not clear to you."
    ),
}

# An owner who said no to the work must hear how the coach may leave all the same.
_NOT_ON_THE_ROAD = (
    "Please do not tow or drive the coach until we tell you it is fit for the road. "
    "Call us before you tow or drive it: we tell you if and how it can go."
)

_CAUTIONS = {
    "rotten_framing": "Please do not stand, climb or lean there.",
    "loose_decking": "Please do not walk or climb there.",
    "loose_skin": _NOT_ON_THE_ROAD,
    "failed_seal": "Please do not climb up to look or to patch it: a fall can hurt you badly.",
    "exposed_wire": (
        "Do not plug in the coach (shore power), run a generator or hook up a battery until a licensed electrician "
        "says it is safe."
    ),
    "mould": "Please do not touch it or clean it yourself: that takes trained people with the right gear.",
    "corrosion": _NOT_ON_THE_ROAD,
    "other": "Please leave it alone until you have talked to us.",
}


def meaning_of(kind: str) -> str:
    """What a kind of finding means for the coach, then the caution if somebody could be hurt.

    Raises ValueError for a kind that is not a finding's.
    """
    if kind not in _MEANINGS:
        raise ValueError(f"kind must be one of {', '.join(_MEANINGS)}, got {kind!r}")
    return " ".join(part for part in (_MEANINGS[kind], caution_of(kind)) if part)


def caution_of(kind: str) -> str:
    """What an owner must not do around this kind of finding, or nothing."""
    return _CAUTIONS.get(kind, "")
