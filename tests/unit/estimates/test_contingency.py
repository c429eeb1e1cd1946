"""Odds and size of what cannot be seen at intake."""

import csv
import math
import re
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.contingency import (
    FACES,
    PLANNED,
    ClosedJob,
    Leak,
    LogSize,
    Planning,
    added_at,
    contingency,
    origin,
    planning_for,
)
from jobs.calc.faces import Face

D = Decimal
DATA = Path(__file__).parents[2] / "reference" / "data"
PLAN = Planning(0.4, D(1000), D(2500))
ROOF = ("roof_seam", "roof")
added = st.lists(st.integers(0, 9000).map(D), max_size=30)
sizes = st.lists(st.floats(20, 50_000), max_size=30)


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CONJUGATE = {
    (row["id"], row["measure"]): [float(x) for x in row["value"].split("|")] for row in rows("conjugate_vectors.csv")
}


def roof_jobs(amounts):
    return [ClosedJob(*ROOF, usd) for usd in amounts]


def brier(outcomes, odds):
    """Mean squared difference of odds and outcome (0 or 1)."""
    return float(np.mean((np.asarray(outcomes, float) - np.asarray(odds, float)) ** 2))


def pinball(values, quantiles, share):
    """Mean pinball loss: what a quantile costs by its distance, `share` below and 1 - share above."""
    off = np.asarray(values, float) - np.asarray(quantiles, float)
    return float(np.mean(np.where(off >= 0, share * off, (share - 1) * off)))


def numbers(text):
    return [float(x) for x in text.split(",")]


def test_the_scores_used_here_give_the_published_values():
    vectors = rows("forecast_scoring_vectors.csv")
    checked = 0

    for row in vectors:
        if row["measure"] == "pinball":
            y, q, alpha = re.fullmatch(r"y=\[(.*)\]; q=\[(.*)\]; alpha=(.*)", row["inputs"]).groups()
            score = pinball(numbers(y), numbers(q), float(alpha))
        elif row["measure"] == "Brier (half scale)":
            score = brier(*map(numbers, re.fullmatch(r"y=\[(.*)\]; p=\[(.*)\]", row["inputs"]).groups()))
        else:
            continue
        assert row["status"] == "published"
        assert score == pytest.approx(float(row["value"]), abs=5e-5)
        checked += 1

    assert checked == 5


def test_the_size_is_updated_as_the_worked_numbers_say():
    prior = LogSize(*CONJUGATE["nig", "prior centre|jobs|shape|scale"])

    after = prior.updated(CONJUGATE["nig", "observed ratios"])

    for name in ["centre", "jobs", "shape", "scale"]:
        assert getattr(after, name) == pytest.approx(CONJUGATE["nig", f"posterior {name}"][0], rel=1e-12)
    assert 10 * after.quantile(0.5) == pytest.approx(CONJUGATE["nig", "P50 for an estimate of 10"][0], rel=1e-12)
    assert 10 * after.quantile(0.8) == pytest.approx(CONJUGATE["nig", "P80 for an estimate of 10"][0], rel=1e-12)
    assert 10 * prior.quantile(0.8) == pytest.approx(CONJUGATE["nig", "prior P80 for an estimate of 10"][0], rel=1e-12)


def test_the_odds_are_updated_as_the_worked_numbers_say():
    share, worth = CONJUGATE["beta_binomial", "planned share|jobs"]
    found, seen = map(int, CONJUGATE["beta_binomial", "found|seen"])
    record = roof_jobs([D(500)] * found + [D(0)] * (seen - found))

    forecast = contingency(*ROOF, record, Planning(share, D(1000), D(2500), odds_jobs=worth))

    assert forecast.odds == pytest.approx(CONJUGATE["beta_binomial", "posterior mean"][0], rel=1e-12)


@pytest.mark.parametrize("leak", Leak)
@pytest.mark.parametrize("face", FACES)
def test_without_a_record_the_planning_assumption_comes_out_and_says_so(leak, face):
    plan = planning_for(leak, face)

    forecast = contingency(leak, face, [])

    assert forecast.odds == plan.odds
    assert (forecast.if_found_p50_usd, forecast.if_found_p80_usd) == (plan.p50_usd, plan.p80_usd)
    assert forecast.odds_origin == forecast.size_origin == PLANNED
    assert forecast.words.count(PLANNED) == 2


def test_the_faces_are_those_of_the_body_plan():
    assert list(FACES) == [face.value for face in Face]


@given(added, st.floats(0.05, 0.95), st.integers(1, 5000), st.integers(1, 5000))
def test_the_figures_are_ordered_and_the_odds_are_between_plan_and_record(amounts, odds, p50, more):
    plan = Planning(odds, D(p50), D(p50 + more))

    forecast = contingency(*ROOF, roof_jobs(amounts), plan)

    assert 0 < forecast.odds < 1
    assert forecast.if_found_p50_usd <= forecast.if_found_p80_usd
    assert 0 <= forecast.p50_usd <= forecast.p80_usd <= forecast.if_found_p80_usd
    assert forecast.p50_usd <= forecast.if_found_p50_usd
    if amounts:
        share = sum(usd > 0 for usd in amounts) / len(amounts)
        assert min(odds, share) - 1e-9 <= forecast.odds <= max(odds, share) + 1e-9


@given(added)
def test_another_damaged_coach_raises_the_odds_and_a_sound_one_lowers_them(amounts):
    odds = contingency(*ROOF, roof_jobs(amounts), PLAN).odds

    assert contingency(*ROOF, roof_jobs([*amounts, D(800)]), PLAN).odds > odds
    assert contingency(*ROOF, roof_jobs([*amounts, D(0)]), PLAN).odds < odds


@given(sizes.filter(bool), st.integers(0, 29), st.floats(1.0, 20.0))
def test_a_dearer_job_raises_the_even_odds_size(seen, place, times):
    dearer = list(seen)
    dearer[place % len(seen)] *= times
    prior = LogSize.planned(1000, 2500)

    assert prior.updated(dearer).quantile(0.5) >= prior.updated(seen).quantile(0.5) * (1 - 1e-12)


@given(st.lists(st.floats(1000, 50_000), min_size=1, max_size=30), st.floats(1.0, 5.0))
def test_a_record_further_above_the_plan_raises_the_safe_size(seen, times):
    prior = LogSize.planned(1000, 2500)

    assert prior.updated([size * times for size in seen]).quantile(0.8) >= prior.updated(seen).quantile(0.8) * (
        1 - 1e-12
    )


@given(sizes, st.floats(0.05, 0.95), st.floats(0.0, 1.0), st.floats(0.05, 0.9))
def test_more_odds_and_a_safer_share_never_add_less(seen, odds, up, share):
    size = LogSize.planned(1000, 2500).updated(seen)
    more_odds = odds + (0.99 - odds) * up
    safer = share + (0.95 - share) * up

    assert added_at(share, more_odds, size) >= added_at(share, odds, size) * (1 - 1e-9)
    assert added_at(safer, odds, size) >= added_at(share, odds, size) * (1 - 1e-9)


@given(sizes)
def test_jobs_may_come_one_by_one_or_at_once(seen):
    prior = LogSize.planned(1000, 2500)
    one_by_one = prior
    for size in seen:
        one_by_one = one_by_one.updated([size])

    at_once = prior.updated(seen)

    assert one_by_one.centre == pytest.approx(at_once.centre)
    assert one_by_one.scale == pytest.approx(at_once.scale)


def test_with_many_jobs_it_is_the_record():
    rng = np.random.default_rng(7)
    damages = np.exp(rng.normal(math.log(4000), 0.3, 3000))
    amounts = [D(round(usd)) for usd in damages] + [D(0)] * 1000

    forecast = contingency(*ROOF, roof_jobs(amounts), PLAN)

    assert forecast.odds == pytest.approx(0.75, abs=0.001)
    assert float(forecast.if_found_p50_usd) == pytest.approx(np.exp(np.mean(np.log(damages))), rel=0.005)
    assert float(forecast.if_found_p80_usd) == pytest.approx(np.quantile(damages, 0.8), rel=0.02)
    assert float(forecast.p80_usd) == pytest.approx(np.quantile([float(usd) for usd in amounts], 0.8), rel=0.02)
    assert forecast.odds_origin == "from 4000 closed jobs"
    assert forecast.size_origin == "from 3000 closed jobs"


def test_only_jobs_of_the_same_leak_and_face_count():
    others = [ClosedJob("window", "roof", D(9000)), ClosedJob("roof_seam", "front", D(9000))]

    assert contingency(*ROOF, others, PLAN) == contingency(*ROOF, [], PLAN)


def test_where_four_of_five_add_nothing_it_says_so():
    forecast = contingency(*ROOF, roof_jobs([D(0)] * 40), PLAN)

    assert forecast.p80_usd == 0
    assert forecast.words.endswith("Over all such coaches, four of five add nothing.")


def test_the_words_say_what_the_figures_rest_on():
    forecast = contingency(*ROOF, roof_jobs([D(1500), D(0), D(900)] * 3), PLAN)

    assert forecast.words == (
        "Behind a leak at a roof seam on the roof, about 54 of 100 coaches hide more damage (from 9 closed jobs). "
        f"Where there is some, half of them add up to ${forecast.if_found_p50_usd:,} and four of five up to "
        f"${forecast.if_found_p80_usd:,} before tax (from 6 closed jobs). "
        f"Over all such coaches, ${forecast.p80_usd:,} covers four of five."
    )
    assert origin(8, 8.0) == "from 8 closed jobs"
    assert origin(7, 8.0) == f"{PLANNED}; moved by 7 closed jobs"
    assert origin(1, 8) == f"{PLANNED}; moved by 1 closed job"


def predictions(rng, history, next_odds, plan):
    """For cells of which each has its own truth: plan, record and mixture against the next coach."""
    outcomes, told, raw, next_sizes, size_told, size_raw = [], [], [], [], [], []
    prior = LogSize.planned(float(plan.p50_usd), float(plan.p80_usd))
    for odds in next_odds:
        variance = prior.scale / rng.gamma(prior.shape)
        centre = rng.normal(prior.centre, math.sqrt(variance / prior.jobs))
        is_found = rng.random(history) < odds
        damage = np.minimum(np.exp(rng.normal(centre, math.sqrt(variance), history)), 9e7)
        record = roof_jobs(
            [
                D(repr(float(usd))).quantize(D("0.01")) if hit else D(0)
                for usd, hit in zip(damage, is_found, strict=True)
            ]
        )
        forecast = contingency(*ROOF, record, plan)
        outcomes.append(rng.random() < odds)
        told.append(forecast.odds)
        raw.append(is_found.mean())
        next_sizes.append(math.exp(rng.normal(centre, math.sqrt(variance))))
        size_told.append(float(forecast.if_found_p80_usd))
        size_raw.append(np.quantile(damage[is_found], 0.8) if is_found.any() else float(plan.p80_usd))
    return tuple(map(np.array, (outcomes, told, raw, next_sizes, size_told, size_raw)))


@pytest.mark.parametrize("history", [2, 6, 20])
def test_four_of_five_coaches_stay_within_the_safe_size_and_it_beats_plan_and_raw_record(history):
    rng = np.random.default_rng(20 + history)
    truth = rng.beta(PLAN.odds * PLAN.odds_jobs, (1 - PLAN.odds) * PLAN.odds_jobs, 1500)

    outcomes, told, raw, next_sizes, size_told, size_raw = predictions(rng, history, truth, PLAN)

    # Standard error of a share of 0.8 over 1500 is 0.0103; three of them.
    assert abs(np.mean(next_sizes <= size_told) - 0.8) < 0.031
    assert abs(told.mean() - outcomes.mean()) < 0.04
    assert brier(outcomes, told) < min(brier(outcomes, raw), brier(outcomes, np.full(1500, PLAN.odds)))
    # On logs: in dollars the t's tail has no mean, and a handful of huge jobs would decide the score.
    logs, told_logs, raw_logs = np.log(next_sizes), np.log(size_told), np.log(size_raw)
    plan_logs = np.full(1500, math.log(PLAN.p80_usd))
    assert pinball(logs, told_logs, 0.8) < min(pinball(logs, raw_logs, 0.8), pinball(logs, plan_logs, 0.8))


def test_a_wrong_plan_is_overcome_by_twenty_jobs():
    rng = np.random.default_rng(3)

    outcomes, told, *_ = predictions(rng, 20, np.full(800, 0.85), PLAN)

    assert brier(outcomes, told) < brier(outcomes, np.full(800, PLAN.odds)) - 0.1
    assert told.mean() == pytest.approx((0.4 * 8 + 0.85 * 20) / 28, abs=0.01)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (lambda: Planning(0.0, D(1), D(2)), "odds must be above 0 and below 1"),
        (lambda: Planning(1.0, D(1), D(2)), "odds must be above 0 and below 1"),
        (lambda: Planning(float("nan"), D(1), D(2)), "odds must be above 0"),
        (lambda: Planning(0.5, D(0), D(2)), "p50_usd must be above 0"),
        (lambda: Planning(0.5, D(2), D(2)), "p50_usd must be above 0 and below p80_usd 2"),
        (lambda: Planning(0.5, D(1), D(2), odds_jobs=0), "odds_jobs must be above 0"),
        (lambda: Planning(0.5, D(1), D(2), size_jobs=math.inf), "size_jobs must be above 0"),
        (lambda: ClosedJob("tea", "roof", D(1)), "leak must be one of roof_seam"),
        (lambda: ClosedJob("window", "cellar", D(1)), "face must be one of roof"),
        (lambda: ClosedJob("window", "roof", D(-1)), "added_usd must be"),
        (lambda: contingency("tea", "roof", [], PLAN), "leak must be one of"),
        (lambda: planning_for("window", "cellar"), "face must be one of"),
        (lambda: LogSize.planned(1, 2).updated([1.0, 0.0]), "sizes must be above 0 and finite, got 0.0"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(broken, words):
    with pytest.raises(ValueError, match=words):
        broken()
