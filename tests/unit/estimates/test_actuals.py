"""Standard hours from the shop's record, and estimate against clock."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.actuals import (
    CATALOGUE_JOBS,
    MOST_TIMES,
    Finished,
    Standard,
    Variance,
    Worked,
    suggest,
    variances,
)

DECKING = Standard(setup_hours=0.5, hours_per_unit=0.25)
ratios = st.lists(st.floats(0.05, 20), min_size=1, max_size=25)
standards = st.builds(Standard, st.floats(0.05, 8), st.floats(0.01, 2))


def jobs(record, standard=DECKING, units=10.0):
    hours = standard.setup_hours + standard.hours_per_unit * units
    return [Finished(units, hours * ratio) for ratio in record]


def test_without_a_record_the_catalogue_stands():
    suggestion = suggest(DECKING, [])

    assert (suggestion.setup_hours, suggestion.hours_per_unit) == (0.5, 0.25)
    assert (suggestion.n, suggestion.weight, suggestion.times) == (0, 0.0, 1.0)
    assert suggestion.words == "No finished job on record: the catalogue's hours stand."


@given(standards, st.integers(1, 30), st.floats(0.5, 2.0))
def test_jobs_that_agree_count_by_their_number_against_the_catalogue(standard, number, ratio):
    suggestion = suggest(standard, jobs([ratio] * number, standard))

    weight = number / (number + CATALOGUE_JOBS)
    assert suggestion.weight == weight
    assert suggestion.times == pytest.approx(1 + weight * (ratio - 1))
    assert suggestion.hours_per_unit == pytest.approx(standard.hours_per_unit * suggestion.times, abs=1e-4)
    assert suggestion.setup_hours == pytest.approx(standard.setup_hours * suggestion.times, abs=1e-4)
    assert suggestion.held_back == 0


@pytest.mark.parametrize("truth", [0.3, 0.8, 1.3, 6.0])
def test_with_many_jobs_it_goes_to_their_mean(truth):
    record = truth * np.random.default_rng(5).lognormal(0, 0.25, 3000)

    suggestion = suggest(DECKING, jobs(record))

    assert suggestion.times == pytest.approx(record.mean(), rel=0.005)


@given(ratios)
def test_it_stays_between_catalogue_and_record(record):
    times = suggest(DECKING, jobs(record)).times

    assert min(1.0, *record) - 1e-9 <= times <= max(1.0, *record) + 1e-9


@given(ratios, st.integers(0, 24), st.floats(1.0, 50.0))
def test_a_longer_job_never_lowers_the_suggestion(record, place, times):
    longer = list(record)
    longer[place % len(record)] *= times

    assert suggest(DECKING, jobs(longer)).times >= suggest(DECKING, jobs(record)).times - 1e-9


@given(st.lists(st.floats(0.8, 1.25), max_size=20), st.floats(1.0, 200.0))
def test_one_wild_job_moves_it_no_further_than_its_share_of_the_largest_distance(record, wild):
    without = suggest(DECKING, jobs(record)).times
    number = len(record) + 1

    for odd in (wild, 1 / wild):
        moved = abs(suggest(DECKING, jobs([*record, odd])).times - without)
        # The middle stays within the others' 0.8 to 1.25, so the wild job counts as 2.5 x 1.25 at most; taken in, it
        # changes a mean of the others by its distance from that mean over the new number.
        assert moved <= (MOST_TIMES * 1.25 - 0.8) / (number + CATALOGUE_JOBS) + 1e-9


def test_one_wild_job_is_held_back_and_named():
    record = [1.1, 1.2, 1.0, 1.15, 60.0]

    suggestion = suggest(DECKING, jobs(record))

    assert suggestion.held_back == 1
    assert suggestion.times == pytest.approx((6 + 1.1 + 1.2 + 1.0 + 1.15 + 2.5) / 11)
    assert suggestion.words == (
        "5 finished jobs took 12.89 times the catalogue's hours on average. 1 finished job far out was held back. "
        "Suggested: 0.2943 h per unit (now 0.25) and 0.5886 h for setting up (now 0.5). "
        "Nothing changes until you take it over."
    )


@given(ratios, st.randoms())
def test_the_order_of_jobs_does_not_matter(record, random):
    shuffled = list(record)
    random.shuffle(shuffled)

    assert suggest(DECKING, jobs(shuffled)).times == pytest.approx(suggest(DECKING, jobs(record)).times)


@given(ratios, st.integers(2, 4))
def test_a_crews_hours_are_those_of_all_its_people(record, crew):
    alone = jobs(record)
    together = [replace(job, crew=crew, person_hours=job.person_hours * crew) for job in alone]

    assert suggest(DECKING, together).times == pytest.approx(suggest(DECKING, alone).times)


def test_redone_work_and_work_of_no_size_do_not_count():
    by_size_only = Standard(setup_hours=0.0, hours_per_unit=0.25)
    record = [*jobs([1.2, 1.2], by_size_only), Finished(0.0, 3.0), Finished(10.0, 9.0, is_redo=True)]

    suggestion = suggest(by_size_only, record)

    assert suggestion == suggest(by_size_only, jobs([1.2, 1.2], by_size_only))
    assert suggestion.n == 2
    assert "setting up" not in suggestion.words


def test_the_standard_itself_is_never_changed():
    before = replace(DECKING)

    suggestion = suggest(DECKING, jobs([2.0] * 9))

    assert before == DECKING == suggestion.was
    with pytest.raises(AttributeError):
        DECKING.hours_per_unit = suggestion.hours_per_unit


def test_it_beats_catalogue_and_bare_record_when_jobs_are_few():
    """Squared error of the log factor over 2000 operations with four jobs each, one in ten jobs wild."""
    rng = np.random.default_rng(11)
    off = {"suggested": 0.0, "catalogue": 0.0, "bare": 0.0}

    for truth in np.exp(rng.normal(0, 0.3, 2000)):
        record = truth * np.exp(rng.normal(0, 0.35, 4))
        record[rng.random(4) < 0.1] *= 8
        off["suggested"] += math.log(suggest(DECKING, jobs(record)).times / truth) ** 2
        off["catalogue"] += math.log(1 / truth) ** 2
        off["bare"] += math.log(record.mean() / truth) ** 2

    assert off["suggested"] < off["catalogue"]
    assert off["suggested"] < off["bare"]


worked = st.lists(
    st.builds(Worked, st.sampled_from(["decking", "membrane", "skin"]), st.floats(0, 100), st.floats(0, 100)),
    max_size=20,
)


@given(worked)
def test_variances_keep_the_sums_and_put_the_most_hours_over_first(rows):
    found = variances(rows)

    assert sum(each.n for each in found) == len(rows)
    assert math.fsum(each.estimated_hours for each in found) == pytest.approx(
        math.fsum(row.estimated_hours for row in rows)
    )
    assert math.fsum(each.over_hours for each in found) == pytest.approx(
        math.fsum(row.clocked_hours - row.estimated_hours for row in rows), abs=1e-9
    )
    assert [each.over_hours for each in found] == sorted((each.over_hours for each in found), reverse=True)
    assert len({each.operation for each in found}) == len(found)


def test_a_variance_says_how_far_off_it_was():
    rows = [Worked("Decking", 4.0, 5.0), Worked("Decking", 6.0, 7.5), Worked("Skin", 8.0, 6.0)]

    decking, skin = variances(rows)

    assert decking == Variance("Decking", 2, 10.0, 12.5)
    assert decking.words == ("Decking: 12.5 h clocked on 2 finished jobs against 10.0 h estimated, 2.5 h (25 %) over.")
    assert skin.words == "Skin: 6.0 h clocked on 1 finished job against 8.0 h estimated, 2.0 h (25 %) under."


def test_work_nobody_estimated_has_no_percentage():
    unplanned = variances([Worked("Wiring", 0.0, 1.5)])[0]

    assert unplanned.over_pct is None
    assert unplanned.words == "Wiring: 1.5 h clocked on 1 finished job, none estimated."


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (lambda: Standard(0, 0), "setup_hours or hours_per_unit must be above 0"),
        (lambda: Standard(-1, 1), "setup_hours must be 0 to 10000 h"),
        (lambda: Standard(0, float("nan")), "hours_per_unit must be 0 to"),
        (lambda: Finished(1, 0), "person_hours must be above 0"),
        (lambda: Finished(1, float("inf")), "person_hours must be 0 to"),
        (lambda: Finished(-1, 1), "units must be at least 0"),
        (lambda: Finished(float("nan"), 1), "units must be at least 0"),
        (lambda: Finished(1, 1, crew=0), "crew must be at least 1"),
        (lambda: Worked("a", -1, 1), "estimated_hours must be 0 to"),
        (lambda: Worked("a", 1, -1), "clocked_hours must be 0 to"),
        (lambda: suggest(DECKING, [], catalogue_jobs=0), "catalogue_jobs must be at least 1"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(broken, words):
    with pytest.raises(ValueError, match=words):
        broken()
