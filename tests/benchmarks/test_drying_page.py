"""How long the drying of a large job takes on its way to the screen. Nothing here fails by time."""

import random
import time
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import StationForecast
from jobs.services.drying import work_out_drying
from shopfloor.demo.telling import drain
from tests.scenes import mark, opened_coach, walk

FORECASTS_LIMIT_S = 0.300
PAGE_LIMIT_S = 0.150
STATIONS, ROUNDS, EVERY_H = 24, 10, 13
LAYERS = (("framing", "spruce_sitka"), ("inner_panel", "plywood"), ("floor", "plywood"))


@pytest.fixture
def say(capsys):
    def print_now(text):
        with capsys.disabled():
            print(f"\n{text}")

    return print_now


@pytest.fixture
def wet_coach(db):
    """A coach with 24 stations read ten times each, and everything worked out that the worker works out."""
    now = timezone.now().replace(second=0, microsecond=0)
    scene = opened_coach(now - timedelta(hours=ROUNDS * EVERY_H))
    chance = random.Random(7)
    stations = [
        mark(scene, left_mm=100.0 * number, layer=LAYERS[number % 3][0], material=LAYERS[number % 3][1])
        for number in range(STATIONS)
    ]
    starts_pct = [chance.uniform(24, 34) for _ in stations]
    for number in range(ROUNDS):
        left = 0.93**number
        values = {
            each: round(9 + (start - 9) * left + chance.gauss(0, 0.4), 1)
            for each, start in zip(stations, starts_pct, strict=True)
        }
        walk(scene, now - timedelta(hours=(ROUNDS - 1 - number) * EVERY_H), values)
    drain(now)
    return scene, now


def best_of(times, do):
    spans = []
    for _ in range(times):
        started = time.perf_counter()
        result = do()
        spans.append(time.perf_counter() - started)
    return min(spans), result


def shares(what, seconds, limit_s):
    return f"{what}: {seconds * 1000:.0f} ms, {seconds / limit_s:.2f} of the limit of {limit_s * 1000:g} ms"


def test_the_forecasts_of_a_job_with_twenty_four_stations(wet_coach, say):
    """The whole of it with its queries, as the worker runs it after each round; against reading the rows alone."""
    scene, now = wet_coach
    stations = scene.job.stations.in_use().with_readings()
    work_out_drying(scene.job, now=now)  # what is loaded once is loaded

    reading_s, rows = best_of(5, lambda: [list(each.readings.all()) for each in stations.all()])
    spent_s, worked_out = best_of(5, lambda: work_out_drying(scene.job, now=now))

    say(
        f"{shares(f'forecasts of {STATIONS} stations read {ROUNDS} times', spent_s, FORECASTS_LIMIT_S)}, "
        f"{spent_s / reading_s:.1f} times reading their rows alone"
    )
    assert [len(each) for each in rows] == [ROUNDS] * STATIONS
    assert len(worked_out) == STATIONS
    assert {each.forecast.outcome.value for each in worked_out} <= {"dry", "date"}


def test_the_drying_page_of_a_job_with_twenty_four_stations(wet_coach, say):
    """Against the page of the job itself, which shows none of it."""
    scene, _ = wet_coach
    client = Client()
    client.force_login(scene.technician)
    address = reverse("jobs:drying-detail", args=[scene.job.pk])
    plain = reverse("jobs:job-detail", args=[scene.job.pk])
    draw_all(client, client.get(address).context)  # every picture is in the cache
    client.get(plain)

    plain_s, _ = best_of(5, lambda: client.get(plain))
    spent_s, page = best_of(5, lambda: client.get(address))

    say(
        f"{shares(f'drying page with {STATIONS} stations, best of five', spent_s, PAGE_LIMIT_S)}, "
        f"{spent_s / plain_s:.1f} times the page of the job"
    )
    assert page.status_code == 200
    assert page.content.decode().count("/chart.svg?v=") == STATIONS == StationForecast.objects.count()


def test_a_chart_drawn_and_a_chart_from_the_cache(wet_coach, say):
    scene, _ = wet_coach
    client = Client()
    client.force_login(scene.technician)
    address = reverse("jobs:station-chart", args=[scene.job.stations.first().pk, "svg"])
    client.get(address)  # fonts are read once

    def draw():
        cache.clear()
        return client.get(address).content

    drawn_s, drawn = best_of(5, draw)
    kept_s, kept = best_of(5, lambda: client.get(address).content)

    say(
        f"a chart drawn for the first time: {drawn_s * 1000:.0f} ms; from the cache: {kept_s * 1000:.0f} ms, "
        f"{kept_s / drawn_s:.2f} of the first time"
    )
    assert kept == drawn
    assert len(kept) > 10_000


def draw_all(client, context):
    for row, *_ in context["charts"]:
        assert client.get(reverse("jobs:station-chart", args=[row.station.pk, "svg"])).status_code == 200
    for layer, *_ in context["plans"]:
        address = reverse("jobs:moisture-plan", args=[context["job"].pk, layer, "svg"])
        assert client.get(address).status_code == 200
