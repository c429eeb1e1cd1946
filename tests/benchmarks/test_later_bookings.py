"""How dates said at booking hold where coaches booked later go first: shops of known truth, with and without them.

The shops of test_dates_held.py, but one coach every ten days on average, all along: some go before those that wait, by
a lower turn, which is known when they are booked. Each is promised its safe date. Of every booking two forecasts are
kept, one that leaves later bookings out and one that draws them from the shop's own bookings until then; only coaches
booked once there is a record of eight, and not the last four, are counted.
One command: pytest tests/benchmarks/test_later_bookings.py. FULL_BENCHMARKS=1 lives through more shops.
"""

import random
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import pytest

from estimates.calc.backtest import EVEN, SAFE, pinball_loss
from estimates.calc.plan import Forecast, Spreads, forecast, prepare
from estimates.calc.plan.compiled import IS_COMPILED
from estimates.calc.plan.experience import spread_of_work
from estimates.calc.plan.spread import SURE
from estimates.calc.plan.to_come import Bookings, booking_of, with_room_for
from tests.benchmarks.shops import shop
from tests.benchmarks.test_dates_held import DAY, DRYING, FULL, LABOUR, SHARED, Life, with_hidden_damage

SHOPS = 25 if FULL else 5 if IS_COMPILED else 1
SAMPLES = 200 if IS_COMPILED else 20
COACHES, EVERY_DAYS = 22, 10
FIRST_COUNTED, LAST_LEFT_OUT = 9, 4
# Who knows the future no better plans no further.
LOOK_BACK, LOOK_AHEAD = 40 * DAY, 300 * DAY


@dataclass(frozen=True)
class SaidTwice:
    """What was said of a coach when it was booked, and when it was ready."""

    without: tuple[datetime, datetime]  # even, safe
    counted: tuple[datetime, datetime]
    ready_at: datetime


class BusyLife(Life):
    """Coaches are booked all along; turn_of draws the turn of each."""

    def __init__(self, number, turn_of):
        rng, chance = np.random.default_rng(number), random.Random(number)
        span = 2 * COACHES * EVERY_DAYS
        self.problem = shop(number, jobs=COACHES, operations=12, workers=5, bays=3, days=span, horizon=600)
        self.shifts = self.problem.shifts
        self.spreads = Spreads(
            spread_of_work([float(LABOUR.at(each)) for each in rng.random(30)]), DRYING, SURE, SURE, SHARED
        )
        jobs = [with_hidden_damage(job, chance) for job in self.problem.jobs]
        self.jobs = {job.key: replace(job, priority=turn_of(chance), promised_at=None) for job in jobs}
        self.booked_at = {key: job.release_at - chance.randrange(4, 30) * DAY for key, job in self.jobs.items()}
        self.really, self.is_found = self._truth(rng)
        self.begun, self.ended, self.stands, self.told = {}, {}, {}, {}

    def _live_a_day(self, now):
        shifts = (each for each in self.shifts if now - LOOK_BACK < each[0] < now + LOOK_AHEAD)
        self.problem = replace(self.problem, shifts=tuple(shifts))
        super()._live_a_day(now)

    def _say(self, keys, prepared, now):
        new = [key for key in keys if key not in self.told]
        if not new:
            return
        known = sorted(self.told, key=self.booked_at.get)
        record = Bookings(tuple(booking_of(self.jobs[key], self.booked_at[key]) for key in known), now)
        without = self._odds(prepared, now)
        counted = self._odds(prepare(with_room_for(prepared.problem, record)), now, record)
        for key in new:
            self.told[key] = [(each.at(key, EVEN), each.at(key, SAFE)) for each in (without, counted)]
            self.jobs[key] = replace(self.jobs[key], promised_at=self.told[key][1][1])

    def _odds(self, prepared, now, record=None) -> Forecast:
        record = record if record and record.is_enough else None
        return forecast(
            prepared, samples=SAMPLES, seed=now.toordinal(), spreads=self.spreads, bookings=record, threads=1
        )

    def _course(self, key):
        ready_at = max(at for (job, _), at in self.ended.items() if job == key)
        return self.booked_at[key], SaidTwice(*self.told[key], ready_at)

    def said_twice(self):
        return [said for _, said in sorted(self.live(), key=lambda each: each[0])][FIRST_COUNTED:-LAST_LEFT_OUT]


TURNS = {
    "one in four goes first": lambda chance: 3 if chance.random() < 0.25 else 5,
    "turns as they come": lambda chance: chance.randrange(1, 6),
}


@pytest.mark.timeout(7200)
@pytest.mark.parametrize("words", TURNS if FULL else list(TURNS)[:1])
def test_dates_said_at_booking_count_on_coaches_booked_later(words, capsys):
    said = [each for number in range(SHOPS) for each in BusyLife(number, TURNS[words]).said_twice()]

    without, counted = (held([(kind(each), each.ready_at) for each in said]) for kind in (left_out, drawn))

    with capsys.disabled():
        print(f"\n{SHOPS} shops, {len(said)} coaches, {words}: ready by even, by safe, and cost in days (pinball loss)")
        print(f"later bookings left out {without}\ncounted on               {counted}")
    assert len(said) == SHOPS * (COACHES - FIRST_COUNTED - LAST_LEFT_OUT)
    assert counted.safe_cost_days < without.safe_cost_days
    # One shop, which is all that the engine lives through uncompiled, tells nothing of shares.
    if IS_COMPILED:
        slack = 0.0 if FULL else 0.1
        assert counted.safe > without.safe
        assert 0.75 - slack <= counted.safe <= 0.85 + slack


@dataclass(frozen=True)
class Held:
    even: float
    safe: float
    even_cost_days: float
    safe_cost_days: float

    def __str__(self):
        return f"{self.even:.0%}, {self.safe:.0%}; {self.even_cost_days:.2f}, {self.safe_cost_days:.2f}"


def left_out(said):
    return said.without


def drawn(said):
    return said.counted


def held(pairs):
    late = [[(ready_at.date() - each.date()).days for each in dates] for dates, ready_at in pairs]
    even, safe = zip(*late, strict=True)
    return Held(
        even=sum(days <= 0 for days in even) / len(even),
        safe=sum(days <= 0 for days in safe) / len(safe),
        even_cost_days=pinball_loss([(days, 0) for days in even], EVEN),
        safe_cost_days=pinball_loss([(days, 0) for days in safe], SAFE),
    )
