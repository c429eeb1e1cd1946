"""The odds of the ready dates: repeatable, comparable, and honest about what runs already."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from estimates.calc.plan import (
    Change,
    LogNormal,
    PlanJob,
    Problem,
    Spreads,
    Task,
    ThreePoint,
    Worker,
    forecast,
    plan,
    prepare,
)
from estimates.calc.plan.forecast import LONGEST_ANSWER_S
from estimates.calc.plan.sampling import uniforms
from estimates.calc.plan.spread import SURE

MONDAY = datetime(2026, 3, 2, 0, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
ALWAYS = ((MONDAY - timedelta(days=10), MONDAY + timedelta(days=365)),)
CERTAIN = Spreads(SURE, SURE, SURE, SURE, SURE)


def problem(*tasks, now=MONDAY, more=()):
    jobs = (PlanJob("job", 1, MONDAY, tasks=tasks), *more)
    return Problem(now, ALWAYS, (Worker("ann", frozenset({"body"})),), (), jobs)


def labour(key, hours, *after, **fields):
    return Task(key, key, "labour", hours * HOUR, (("body", 1),), after, **fields)


def hours(found, job="job"):
    return (found.ready[:, found.jobs.index(job)] - MONDAY.timestamp()) / 3600


def test_a_forecast_without_any_spread_is_the_plan():
    asked = problem(labour("a", 5), Task("dry", "dry", "wait", 30 * HOUR, after=("a",), is_drying=True))

    found = forecast(prepare(asked), samples=20, spreads=CERTAIN)

    assert set(found.ready[:, 0]) == {int(plan(asked).jobs["job"].ready_at.timestamp())}


def test_the_same_seed_gives_the_same_answer_and_another_seed_another():
    prepared = prepare(problem(labour("a", 5), labour("b", 8, "a")))

    first = forecast(prepared, samples=50, seed=7).ready

    assert np.array_equal(forecast(prepared, samples=50, seed=7, threads=1).ready, first)
    assert not np.array_equal(forecast(prepared, samples=50, seed=8).ready, first)


def test_a_finding_more_leaves_everybody_elses_numbers_as_they_are():
    other = PlanJob("other", 9, MONDAY, tasks=(Task("dry", "dry", "wait", 20 * HOUR, is_drying=True),))
    asked = problem(labour("a", 5), labour("f", 4, "a", part="finding"), more=(other,))
    prepared = prepare(asked)

    with_it = forecast(prepared, samples=100)
    without = forecast(prepared, samples=100, change=Change(left_out=frozenset({"finding"})))

    assert np.array_equal(hours(with_it, "other"), hours(without, "other"))
    assert np.all(hours(with_it) > hours(without))
    # The two move together: the difference is the finding alone, less uncertain than either.
    assert np.std(hours(with_it) - hours(without)) < np.std(hours(with_it))


def test_what_has_run_is_drawn_from_what_is_left_possible():
    running = labour("a", 10, started_at=MONDAY - 9 * HOUR, fixed_workers=("ann",))
    spreads = replace(CERTAIN, labour=LogNormal(1.0, 0.4))

    found = hours(forecast(prepare(problem(running)), samples=4000, spreads=spreads))

    # Of a log-normal the part above 9 of 10 hours: median at the chance halfway between there and 1.
    above = 0.5 * (1 + _normal_cdf(np.log(0.9) / 0.4))
    assert np.median(found) == pytest.approx(10 * np.exp(0.4 * _normal_quantile(above)) - 9, abs=0.25)
    assert found.min() >= 0.25


def _normal_cdf(z):
    from statistics import NormalDist

    return NormalDist().cdf(z)


def _normal_quantile(chance):
    from statistics import NormalDist

    return NormalDist().inv_cdf(chance)


def test_damage_that_may_yet_be_found_is_no_part_of_the_plan_and_of_its_share_of_samples():
    hidden = [labour("open2", 6, "a", part="hidden", chance=0.3), labour("mend", 6, "open2", part="hidden", chance=0.3)]
    asked = problem(labour("a", 5), *hidden)

    found = hours(forecast(prepare(asked), samples=4000, spreads=CERTAIN))

    assert plan(asked).jobs["job"].ready_at == MONDAY + 5 * HOUR
    assert set(found) == {5.0, 17.0}  # both tasks of the part or neither
    assert np.mean(found > 6) == pytest.approx(0.3, abs=0.03)


def test_an_answer_is_awaited_as_long_as_answers_take():
    answer = Task("answer", "Answer", "event", timedelta(0), not_before=MONDAY + 48 * HOUR)
    spreads = replace(CERTAIN, answer=ThreePoint(0.5, 1.0, 3.0))

    found = hours(forecast(prepare(problem(answer)), samples=2000, spreads=spreads))

    assert found.min() >= 24
    assert found.max() <= 144
    assert np.mean(found) == pytest.approx(48 * (0.5 + 4 + 3) / 6, rel=0.03)


@pytest.mark.parametrize(("planned_h", "longest_h"), [(48, LONGEST_ANSWER_S / 3600), (2000, 2000)])
def test_no_record_however_wild_makes_an_answer_take_years(planned_h, longest_h):
    answer = Task("answer", "Answer", "event", timedelta(0), not_before=MONDAY + planned_h * HOUR)
    spreads = replace(CERTAIN, answer=LogNormal(1.0, 6.0))

    found = hours(forecast(prepare(problem(answer)), samples=400, spreads=spreads))

    assert found.max() == pytest.approx(longest_h)


def test_a_shared_factor_makes_overruns_come_together():
    other = PlanJob("other", 9, MONDAY, tasks=(Task("x", "x", "labour", 10 * HOUR, (("skin", 1),)),))
    asked = problem(labour("a", 10), more=(other,))
    asked = replace(asked, workers=(*asked.workers, Worker("bo", frozenset({"skin"}))))
    alone = Spreads(labour=LogNormal(1, 0.3), shared=SURE)
    together = Spreads(labour=SURE, shared=LogNormal(1, 0.3))

    apart = forecast(prepare(asked), samples=2000, spreads=alone)
    joined = forecast(prepare(asked), samples=2000, spreads=together)

    assert abs(np.corrcoef(hours(apart), hours(apart, "other"))[0, 1]) < 0.07
    assert np.corrcoef(hours(joined), hours(joined, "other"))[0, 1] > 0.999


def test_odds_are_read_off_the_samples():
    found = forecast(prepare(problem(labour("a", 10))), samples=500)

    odds = found.odds("job")

    assert found.chance_by("job", odds.p80_at) >= 0.8
    assert found.chance_by("job", odds.p80_at - timedelta(seconds=1)) < 0.8
    assert odds.p50_at < odds.p80_at
    with pytest.raises(ValueError, match="share must be above 0"):
        found.at("job", 0)


def test_the_random_numbers_are_even_and_unrelated():
    first, second = uniforms(1, "job/a", 50_000), uniforms(1, "job/b", 50_000)

    assert 0 < first.min() < first.max() < 1
    assert np.abs(np.sort(first) - (np.arange(50_000) + 0.5) / 50_000).max() < 1.63 / np.sqrt(50_000)  # 1 % level
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.015
    assert abs(np.corrcoef(first[:-1], first[1:])[0, 1]) < 0.015


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: ThreePoint(2, 1, 3), "must rise"),
        (lambda: LogNormal(0, 0.1), "median must be above 0"),
        (lambda: forecast(prepare(problem()), samples=0), "samples must be at least 1"),
    ],
)
def test_what_makes_no_sense_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
