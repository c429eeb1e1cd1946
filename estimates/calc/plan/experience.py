"""What the shop's own record says of spreads and answer times, and how far to trust a short record."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from scipy.special import log_ndtr

from estimates.calc.plan.spread import LogNormal, LogStudent


@dataclass(frozen=True)
class Awaited:
    """How long something was waited for. is_over False: it is waited for still, so it will take longer than that."""

    wait: float
    is_over: bool = True


@dataclass(frozen=True)
class Belief:
    """What is taken for true of log(real / planned) before there is a record: normal-inverse-gamma.

    mean: of the logarithm; jobs: how many jobs that mean weighs like; shape and rate: of the variance.
    The values given are planning values without a source.
    """

    mean: float = 0.1
    jobs: float = 4.0
    shape: float = 3.0
    rate: float = 0.3


def still_waiting(record: Sequence[Awaited]) -> tuple[tuple[float, float], ...]:
    """(wait, share that waits longer), at each wait that ended: the product-limit estimate.

    Source: Kaplan and Meier 1958; checked on Freireich et al. 1963, tests/reference/test_forecast_answers.py.
    """
    steps, share = [], 1.0
    for wait in sorted({each.wait for each in record if each.is_over}):
        at_risk = sum(each.wait >= wait for each in record)
        share *= 1 - sum(each.is_over and each.wait == wait for each in record) / at_risk
        steps.append((wait, share))
    return tuple(steps)


def median_wait(record: Sequence[Awaited]) -> float | None:
    """The wait that half outlast; None while more than half of the record has not come that far."""
    return next((wait for wait, share in still_waiting(record) if share <= 0.5), None)


def spread_of_waits(record: Sequence[Awaited]) -> LogNormal:
    """The log-normal distribution that makes the record likeliest, waits that go on counted as longer.

    Raises ValueError unless at least two waits of different length are over.
    """
    if len({each.wait for each in record if each.is_over}) < 2 or any(each.wait <= 0 for each in record):
        raise ValueError("The record needs two waits of different length that are over, all above 0.")
    logs = np.log([each.wait for each in record])
    over = np.array([each.is_over for each in record])

    from scipy.optimize import minimize  # heavy: every process reads this file, few come here

    def cost(point: np.ndarray) -> float:
        z = (logs - point[0]) / exp(point[1])
        return -float(np.sum(np.where(over, -0.5 * z**2 - point[1], log_ndtr(-z))))

    begin = np.array([float(np.mean(logs)), log(float(np.std(logs)) + 0.1)])
    found = minimize(cost, begin, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10}).x
    return LogNormal(exp(found[0]), exp(found[1]))


def spread_of_work(ratios: Sequence[float], belief: Belief | None = None) -> LogStudent:
    """The spread of the next job's real / planned hours, from those of jobs done and a belief that fades with them.

    Source: conjugate update of the normal-inverse-gamma, predictive Student t (for instance Murphy 2007; from memory);
    checked in tests/reference/test_forecast_answers.py.
    """
    prior, count = belief or Belief(), len(ratios)
    if any(ratio <= 0 for ratio in ratios):
        raise ValueError("ratios must be above 0: a job that took no time tells nothing")
    logs = [log(ratio) for ratio in ratios]
    mean = sum(logs) / count if count else prior.mean
    jobs, shape = prior.jobs + count, prior.shape + count / 2
    middle = (prior.jobs * prior.mean + count * mean) / jobs
    rate = prior.rate + sum((each - mean) ** 2 for each in logs) / 2
    rate += prior.jobs * count * (mean - prior.mean) ** 2 / (2 * jobs)
    return LogStudent(exp(middle), sqrt(rate * (jobs + 1) / (shape * jobs)), 2 * shape)
