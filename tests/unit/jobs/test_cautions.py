"""Which cautions stand beside a finding."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.faces import Face
from jobs.calc.moisture.cautions import M2_PER_SQ_FT, cautions_for
from jobs.calc.moisture.evidence import MEMBERS, STRUCTURAL, Kind, Look
from jobs.calc.moisture.verdict import Verdict

PLAIN = {
    "kind": "other",
    "member": "inner_panel",
    "look": "clean",
    "verdict": "sound",
    "area_m2": 0.5,
    "is_near_mains": False,
    "is_near_gas": False,
    "face": "front",
}
SIZES = ["mould_small", "mould_medium", "mould_large"]


def cautions(**changes):
    return cautions_for(**PLAIN | changes)


def keys(**changes):
    return [caution.key for caution in cautions(**changes)]


def words(**changes):
    return " ".join(caution.words for caution in cautions(**changes))


def test_a_sound_clean_panel_needs_no_caution():
    assert keys() == []


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"look": "insects"}, ["insects"]),
        ({"is_near_mains": True}, ["mains"]),
        ({"is_near_gas": True}, ["gas"]),
        ({"face": "roof"}, ["heights"]),
        ({"kind": "exposed_wire", "member": "wiring", "verdict": "exposed"}, ["wire"]),
        ({"member": "sill", "verdict": "rotted"}, ["structure"]),
        ({"member": "sill", "verdict": "soft"}, ["structure"]),
        ({"member": "floor_decking", "verdict": "loose"}, ["structure"]),
        ({"member": "sill", "verdict": "open"}, ["structure_hidden"]),
        ({"member": "sill", "verdict": "wait_for_dry"}, ["structure_hidden", "drying_heat"]),
        ({"member": "sill", "verdict": "sound"}, []),
        ({"member": "inner_panel", "verdict": "rotted"}, []),
        ({"member": "inner_panel", "verdict": "open"}, []),
        ({"member": "", "kind": "rotten_framing", "verdict": "open"}, ["structure_hidden"]),
        ({"member": "", "kind": "mould", "look": "", "verdict": "rotted"}, ["structure", "mould_small"]),
        ({"member": "", "verdict": "rotted"}, ["structure"]),
        ({"member": "", "kind": "wet_insulation", "verdict": "rotted"}, []),
    ],
)
def test_each_danger_brings_its_own_caution(changes, expected):
    assert [key for key in keys(**changes) if key not in {"mould_always", "mould_biocide"}] == expected


@pytest.mark.parametrize(
    ("area_sq_ft", "size"),
    [
        (0.5, "mould_small"),
        (9.99, "mould_small"),
        (10, "mould_medium"),
        (100, "mould_medium"),
        (100.01, "mould_large"),
        (300, "mould_large"),
    ],
)
def test_mould_is_handled_by_its_size(area_sq_ft, size):
    found = keys(look="mould", area_m2=area_sq_ft * M2_PER_SQ_FT)

    assert found == [size, "mould_always", "mould_biocide"]


def test_the_larger_the_mould_the_more_has_to_be_worn():
    worn = {size: words(look="mould", area_m2=area) for size, area in zip(SIZES, [0.5, 5, 20], strict=True)}

    assert "N-95" in worn["mould_small"]
    assert "overalls" in worn["mould_medium"]
    assert "full-face" in worn["mould_large"]


def test_mould_says_water_first_and_never_bleach_with_ammonia():
    text = words(kind="mould", look="")

    assert "Stop the water first" in text
    assert "Never mix bleach and ammonia" in text
    assert "only as its label says" in text


@pytest.mark.parametrize(
    ("changes", "trade"),
    [
        ({"is_near_mains": True}, "licensed electrician"),
        ({"kind": "exposed_wire"}, "licensed electrician"),
        ({"is_near_gas": True}, "licensed gas fitter"),
        ({"look": "insects"}, "licensed pest control"),
        ({"member": "sill", "verdict": "rotted"}, "engineer"),
    ],
)
def test_what_is_not_for_the_shop_is_left_to_those_who_may(changes, trade):
    assert trade in words(**changes)


def test_mains_warns_of_more_than_one_source_and_says_test_dead():
    text = words(is_near_mains=True)

    assert "Unplug shore power" in text
    assert "more than one source" in text
    assert "test dead" in text


def test_gas_is_closed_by_hand():
    assert "by hand, with no wrench" in words(is_near_gas=True)


@pytest.mark.parametrize("member", sorted(STRUCTURAL))
@pytest.mark.parametrize("verdict", ["soft", "rotted"])
def test_a_soft_member_that_carries_is_supported_before_it_is_cut(member, verdict):
    assert "Support it before you cut" in words(member=member, verdict=verdict)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("kind", "leak"),
        ("member", "wall"),
        ("look", "bad"),
        ("verdict", "fine"),
        ("face", "left"),
        ("area_m2", 0),
        ("area_m2", -1),
        ("area_m2", float("nan")),
        ("area_m2", float("inf")),
    ],
)
def test_a_word_or_size_that_makes_no_sense_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=f"{name} must be") as refusal:
        cautions(**{name: value})

    assert repr(value) in str(refusal.value)


@given(small=st.floats(0.01, 50), more=st.floats(0, 50))
def test_a_larger_patch_of_mould_never_asks_for_less(small, more):
    before, after = (SIZES.index(keys(look="mould", area_m2=area)[0]) for area in (small, small + more))

    assert before <= after


def test_every_combination_gives_cautions_with_words_and_a_source_each_once():
    members = ["", *(key for key, _ in MEMBERS)]
    for kind, member, look, verdict, face in itertools.product(Kind, members, ["", *Look], Verdict, Face):
        found = cautions_for(
            kind=kind,
            member=member,
            look=look,
            verdict=verdict,
            area_m2=2.0,
            is_near_mains=True,
            is_near_gas=True,
            face=face,
        )

        assert len({caution.key for caution in found}) == len(found)
        assert all(caution.words.endswith(".") and caution.source for caution in found)
        assert {"mains", "gas"} <= {caution.key for caution in found}
