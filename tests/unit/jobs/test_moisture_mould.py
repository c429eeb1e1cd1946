"""The mould index: bounds, order and refusals. Check values: tests/reference/test_mould_index.py."""

import math
import time
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.mould import MaterialClass, critical_rh_pct, mould_index, risk_note, weeks_to_first_growth

ANY_CLASS = st.sampled_from(list(MaterialClass))
AIR_LOGS = st.lists(st.tuples(st.floats(-20, 60), st.floats(0, 100)), min_size=1, max_size=60)


def index_of(log, material_class, **more):
    return mould_index([temp for temp, _ in log], [rh for _, rh in log], material_class=material_class, **more)


@given(AIR_LOGS, ANY_CLASS, st.floats(0, 6), st.floats(0.1, 6))
def test_the_mould_index_stays_between_none_and_covered(log, material_class, start, hours):
    indices = index_of(log, material_class, start=start, hours_per_step=hours)

    assert indices.size == len(log)
    assert indices.min() >= 0
    assert indices.max() <= 6


@given(AIR_LOGS, ANY_CLASS, st.floats(0, 20))
def test_air_too_dry_all_along_never_raises_the_index(log, material_class, drier_pct):
    dry = [(temp, min(rh, 79 - drier_pct)) for temp, rh in log]

    indices = index_of(dry, material_class, start=2.0)

    assert all(after <= before for before, after in pairwise([2.0, *indices]))


@given(AIR_LOGS, st.floats(0, 1))
def test_a_log_may_be_cut_where_it_is_wet(log, share):
    """Only there: a dry spell remembers how long it has lasted."""
    cut = int(share * len(log))
    log = [*log[:cut], (20.0, 95.0), *log[cut:]]

    whole = index_of(log, MaterialClass.SENSITIVE)
    first = index_of(log[: cut + 1], MaterialClass.SENSITIVE)
    second = index_of(log[cut + 1 :], MaterialClass.SENSITIVE, start=float(first[-1]))

    assert np.concatenate([first, second]) == pytest.approx(whole, abs=1e-12)


def test_more_sensitive_material_moulds_sooner():
    log = [(22.0, 95.0)] * 1000

    last = [index_of(log, material_class)[-1] for material_class in MaterialClass]

    assert last == sorted(last, reverse=True)


def test_nothing_grows_in_frost_or_in_heat_however_damp():
    frost = index_of([(-5.0, 100.0)] * 500, MaterialClass.VERY_SENSITIVE)
    heat = index_of([(51.0, 100.0)] * 500, MaterialClass.VERY_SENSITIVE)

    assert frost.max() == heat.max() == 0


def test_the_decline_does_not_depend_on_the_length_of_the_step():
    dry_days = 5

    by_hours = {
        hours: index_of(
            [(22.0, 40.0)] * round(dry_days * 24 / hours), MaterialClass.SENSITIVE, start=3, hours_per_step=hours
        )
        for hours in (0.25, 1.0, 4.0, 5.0)
    }

    ends = [indices[-1] for indices in by_hours.values()]
    assert ends == pytest.approx([3 - 0.032 / 4 - 0.016 * (dry_days - 1)] * 4)


@pytest.mark.parametrize("temp_c", [5.0, 15.0, 22.0, 40.0])
def test_growth_begins_at_the_critical_humidity_and_not_below(temp_c):
    critical_pct = critical_rh_pct(temp_c)

    at = index_of([(temp_c, critical_pct)], MaterialClass.SENSITIVE)
    below = index_of([(temp_c, critical_pct - 0.01)], MaterialClass.SENSITIVE)

    assert at[0] > 0
    assert below[0] == 0


def test_an_empty_log_gives_an_empty_answer():
    assert mould_index([], [], material_class=MaterialClass.SENSITIVE).size == 0


def test_a_year_of_hours_is_worked_out_in_well_under_a_second():
    hours = np.arange(8760)
    temps_c, rhs_pct = 15 + 10 * np.sin(hours / 24), 85 + 12 * np.sin(hours / 50)

    begun = time.perf_counter()
    mould_index(temps_c, rhs_pct, material_class=MaterialClass.VERY_SENSITIVE)
    taken_s = time.perf_counter() - begun

    print(f"mould index of 8760 hours: {taken_s * 1000:.1f} ms")
    assert taken_s < 0.5


def test_frost_takes_saturated_air_and_warmth_no_less_than_the_floor():
    assert critical_rh_pct(-3) == critical_rh_pct(0) == 100
    assert critical_rh_pct(30) == 80
    assert critical_rh_pct(30, 85) == 85


@pytest.mark.parametrize(
    ("index", "words"),
    [
        (0, "no mould growth is expected"),
        (0.99, "no mould growth is expected"),
        (1, "only a microscope shows"),
        (3, "may be visible"),
        (6, "may be visible"),
    ],
)
def test_an_index_is_told_with_the_limits_of_the_model(index, words):
    note = risk_note(index)

    assert words in note
    assert "laboratory model" in note
    assert note.endswith("What you see decides.")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: mould_index([20], [90, 91], material_class=MaterialClass.SENSITIVE),
            "rhs_pct must be as long as temps_c, 1",
        ),
        (lambda: mould_index([[20]], [90], material_class=MaterialClass.SENSITIVE), "temps_c must be one row"),
        (lambda: mould_index([20], [101], material_class=MaterialClass.SENSITIVE), "rhs_pct must be 0 to 100"),
        (
            lambda: mould_index([20, math.nan], [9, 9], material_class=MaterialClass.SENSITIVE),
            "temps_c must be -60 to 100",
        ),
        (lambda: mould_index([20], [9], material_class=MaterialClass.SENSITIVE, start=7), "start must be 0 to 6"),
        (
            lambda: mould_index([20], [9], material_class=MaterialClass.SENSITIVE, hours_per_step=0),
            "hours_per_step must be",
        ),
        (lambda: mould_index([20], [9], material_class="glass"), "glass"),
        (lambda: weeks_to_first_growth(0, 100), "temp_c must be above 0 to 50"),
        (lambda: weeks_to_first_growth(20, 70), "rh_pct must be 80"),
        (lambda: critical_rh_pct(math.nan), "temp_c must be -60 to 100"),
        (lambda: risk_note(-0.1), "index must be 0 to 6"),
    ],
)
def test_mould_questions_that_cannot_be_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
