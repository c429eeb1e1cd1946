"""The demo loads on any day at any hour, and shows what it is there to show."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from estimates.models import DateChange, JobForecast
from estimates.odds_record import read_odds_record
from jobs import journal
from jobs.calc.stage import Stage
from jobs.models import Job, Operation, Reaction
from jobs.stages import stage_for
from shopfloor.demo import scenario, telling
from tests.scenes import jpeg

pytestmark = pytest.mark.django_db

ZONE = ZoneInfo(telling.ZONE)
MOMENTS = [
    datetime(2026, 3, 11, 10, 30, tzinfo=ZONE),  # a Wednesday, the clock change three days ago
]
# The clock is the same on every database.
MORE_MOMENTS = [
    datetime(2026, 11, 23, 6, 10, tzinfo=ZONE),  # a Monday before opening
    datetime(2026, 11, 27, 17, 40, tzinfo=ZONE),  # a Friday after closing
    datetime(2026, 11, 29, 13, 0, tzinfo=ZONE),  # a Sunday
    datetime(2026, 1, 1, 0, 30, tzinfo=ZONE),  # New Year's night
]
MOMENTS += [pytest.param(moment, marks=pytest.mark.one_database) for moment in MORE_MOMENTS]


@pytest.mark.parametrize("now", MOMENTS, ids=lambda now: f"{now:%a %H.%M}")
def test_the_demo_loads_on_any_day_and_shows_every_stage(now, monkeypatch):
    drawn = iter(range(1, 250))
    monkeypatch.setattr(telling, "draw_photo", lambda kind, **size: jpeg(shade=next(drawn)))

    demo = scenario.load(now)

    jobs = {key: Job.objects.get(pk=job.pk) for key, job in demo.jobs.items()}
    assert len(jobs) == 10
    assert stage_for(jobs["waiting"]) == Stage.WAITING_FOR_OWNER
    assert stage_for(jobs["drying"]) == Stage.DRYING
    assert stage_for(jobs["ready"]) == Stage.READY
    assert stage_for(jobs["collected"]) == stage_for(jobs["front_cap"]) == Stage.COLLECTED
    assert Operation.objects.filter(job=jobs["reworked"], payer="shop").exists()
    drying = Operation.objects.get(job=jobs["drying"], kind="wait", started_at__isnull=False, finished_at=None)
    assert _meets_a_weekend(drying)
    late = JobForecast.objects.get(job=jobs["overrun"]).expected_on - jobs["overrun"].promise.ready_on
    assert late > timedelta(days=3)
    causes = set(DateChange.objects.filter(job=jobs["overrun"]).values_list("cause", flat=True))
    assert {"finding", "answer", "rework"} <= causes
    told = {row.moment: row for row in read_odds_record(demo.shop, now)}
    assert told["booking"].scores.of >= 2
    assert told["arrival"].safe.of >= 2
    assert not Reaction.objects.exclude(state=Reaction.State.DONE).exists()
    assert all(journal.first_break(job) is None for job in jobs.values())


def _meets_a_weekend(wait):
    begin = wait.started_at.astimezone(ZONE)
    hours = (begin + timedelta(hours=number) for number in range(int(wait.hours) + 1))
    return any(hour.weekday() >= 5 for hour in hours)
