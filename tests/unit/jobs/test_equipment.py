"""What work needs of counted equipment, against what the shop has."""

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.equipment import FIELDS, counted, needs_of, short_words, within


@dataclass
class Work:
    blowers: int = 0
    dehumidifiers: int = 0
    heaters: int = 0


@pytest.mark.parametrize(
    ("work", "has", "met"),
    [
        (Work(), {"blower": 2}, ()),
        (Work(blowers=2), {"blower": 6}, (("blower", 2),)),
        (Work(blowers=2), {"blower": 1}, (("blower", 1),)),
        (Work(blowers=2), {}, ()),
        (Work(2, 1, 1), {"blower": 1, "heater": 4}, (("blower", 1), ("heater", 1))),
    ],
)
def test_needs_are_met_as_far_as_the_shop_has_it_and_what_nobody_counted_limits_nothing(work, has, met):
    assert within(needs_of(work), has) == met


@given(
    st.tuples(*[st.integers(0, 40)] * 3),
    st.dictionaries(st.sampled_from(sorted(FIELDS)), st.integers(1, 200), max_size=3),
)
def test_no_piece_of_work_ever_takes_more_than_there_is(counts, has):
    assert all(count <= has[kind] for kind, count in within(needs_of(Work(*counts)), has))


def test_what_there_is_too_little_of_is_said_once_at_the_greatest_need():
    work = [("Dry the floor", (("blower", 3),)), ("Dry the roof", (("blower", 4), ("dehumidifier", 1))), ("Bond", ())]

    assert list(short_words(work, {"blower": 2, "dehumidifier": 1})) == [
        "“Dry the roof” needs 4 blowers; the shop has 2."
    ]
    assert list(short_words(work, {"blower": 4})) == []
    assert list(short_words([], {"blower": 4})) == []


@pytest.mark.parametrize(("kind", "count", "said"), [("blower", 1, "1 blower"), ("dehumidifier", 3, "3 dehumidifiers")])
def test_a_number_of_a_kind_is_said_in_words(kind, count, said):
    assert counted(kind, count) == said
