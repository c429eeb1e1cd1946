"""Whether the odds hold: the share of coaches ready by their P50 and P80 in simulated shops whose truth is known.

The truth: every labour's factor log-normal with its own number, one shared factor a shop, drying and answers alike, all
drawn by another generator than the forecast's; the shop then plays by the planning rule with the durations as they
come. So this measures the sampling, the learning of the spread and the planning of every sample, and not whether a real
shop follows its plan: that only the record of closed jobs can say.
The forecast does not know the labour's spread; it learns it from thirty jobs of the shop's past.
One command: pytest tests/benchmarks/test_plan_forecast_calibration.py. FULL_BENCHMARKS=1 runs 500 shops.
"""

import os
from datetime import timedelta

import numpy as np

from estimates.calc.plan import Change, LogNormal, Spreads, forecast, prepare
from estimates.calc.plan.experience import spread_of_work
from estimates.calc.plan.spread import SURE
from tests.benchmarks.shops import shop

FULL = os.environ.get("FULL_BENCHMARKS") == "1"
SHOPS = 500 if FULL else 80
LABOUR, DRYING, SHARED = LogNormal(1.1, 0.35), LogNormal(1.0, 0.3), LogNormal(1.0, 0.12)


def small_shop(number):
    return shop(number, jobs=5, operations=12, workers=5, bays=3, days=8, horizon=250, ends_at=12)


def truth(problem, rng):
    """What every task really takes."""
    shared = float(SHARED.at(rng.random()))
    durations = {}
    for job in problem.jobs:
        for task in job.tasks:
            if task.kind == "labour":
                durations[job.key, task.key] = task.duration * float(LABOUR.at(rng.random())) * shared
            elif task.is_drying:
                durations[job.key, task.key] = task.duration * float(DRYING.at(rng.random()))
    return {key: timedelta(seconds=round(each.total_seconds())) for key, each in durations.items()}


def test_the_share_of_coaches_ready_by_their_dates(capsys):
    hits = {0.5: 0, 0.8: 0}
    plain = coaches = 0
    widths = []
    for number in range(SHOPS):
        rng = np.random.default_rng(number)
        past = [float(LABOUR.at(each)) for each in rng.random(30)]
        spreads = Spreads(spread_of_work(past), DRYING, SURE, SURE, SHARED)
        problem = small_shop(number)
        prepared = prepare(problem)
        found = forecast(prepared, samples=200, seed=number, spreads=spreads)
        planned = prepared.ready()
        ready = prepared.ready(Change(durations=truth(problem, rng)))
        for key, at in ready.items():
            coaches += 1
            plain += at <= planned[key]
            widths.append((found.at(key, 0.8) - found.at(key, 0.5)) / timedelta(days=1))
            for share in hits:
                hits[share] += at <= found.at(key, share)

    p50, p80 = hits[0.5] / coaches, hits[0.8] / coaches
    with capsys.disabled():
        print(f"\n{SHOPS} shops, {coaches} coaches: ready by P50 {p50:.1%}, by P80 {p80:.1%}; by the plain plan's date")
        print(f"{plain / coaches:.1%}; P80 lies {np.mean(widths):.1f} days behind P50 on average")
    # In few shops chance alone moves the shares by some points: the shops' shared factors are what counts.
    slack = 0.0 if FULL else 0.05
    assert 0.45 - slack <= p50 <= 0.55 + slack
    assert 0.75 - slack <= p80 <= 0.85 + slack
