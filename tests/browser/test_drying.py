"""Stations, rounds and drying as a technician does them: gloved thumb, poor signal, with and without JavaScript."""

import re
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.support.loop import PASSWORD, sign_in

SMALLEST_TARGET_PX = 44
LOCAL = "%Y-%m-%dT%H:%M"
# A coach that came three days ago, and people who can sign in; prints the job and the shop's time of day.
SCENE = (
    "from datetime import timedelta; from zoneinfo import ZoneInfo; from django.utils import timezone\n"
    "from tests.scenes import mark, opened_coach\n"
    "now = timezone.now(); scene = opened_coach(now - timedelta(days=3))\n"
    "for person, name in ((scene.technician, 'tech'), (scene.manager, 'boss')):\n"
    f"    person.username = name; person.set_password('{PASSWORD}'); person.save()\n"
)
PRINT = f"print(scene.job.pk, now.astimezone(ZoneInfo(scene.shop.time_zone)).strftime('{LOCAL}'))"
FOUR_STATIONS = "for number in range(4): mark(scene, left_mm=300.0 + 500 * number)\n"
BOTH_WAYS = pytest.mark.parametrize("javascript", [True, False], ids=["with JavaScript", "without JavaScript"])


@pytest.fixture(scope="module")
def empty_stack(stack_maker):
    with stack_maker() as started:
        started.keep()
        yield started


@pytest.fixture
def stack(empty_stack):
    """The running product without any shop yet; its worker is still to start."""
    empty_stack.begin_again()
    return empty_stack


@pytest.fixture
def shop(stack):
    """The running product with one coach in its bay that has no stations yet; its worker is still to start."""
    job, today = stack.python(SCENE + PRINT).split()
    return stack, f"{stack.url}/shop/jobs/{job}", datetime.fromisoformat(today)


def tap_number(page: Page, number: str) -> None:
    pad = page.get_by_role("group", name="Number pad")
    for sign in number:
        pad.get_by_role("button", name="point" if sign == "." else sign, exact=sign != ".").tap()


def tap(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).tap()


def fill_air(page: Page, at: datetime | None = None, *, temp="72", rh="48") -> None:
    if at:
        page.locator("[name=taken_at]").fill(at.strftime(LOCAL))
    page.locator("[name=air_temp]").fill(temp)
    page.locator("[name=rh_pct]").fill(rh)


def place_by_fields(page: Page) -> None:
    page.locator("[name=face]").select_option("front")
    page.locator("[name=left]").fill("3'")
    page.locator("[name=top]").fill('3"')


def place_by_tap(page: Page) -> None:
    """On the roof, a quarter along and half across."""
    page.get_by_role("button", name="Mark on plan").tap()
    roof = page.locator("[data-face=roof]")
    expect(roof).to_be_visible()
    box = roof.bounding_box()
    roof.tap(position={"x": box["width"] / 4, "y": box["height"] / 2})


def send_station(page: Page, button: str) -> None:
    page.locator("[name=layer]").select_option("framing")
    page.locator("[name=material]").select_option("spruce_sitka")
    page.get_by_role("button", name=button, exact=True).click()


def type_round(page: Page, at: datetime, values: list[str], *, javascript: bool) -> None:
    """With JavaScript by taps on the pad alone, but for the date."""
    if not javascript:
        fill_air(page, at)
        for field, value in zip(page.locator("input[name^=reading_]").all(), values, strict=True):
            field.fill(value)
    else:
        page.locator("[name=taken_at]").fill(at.strftime(LOCAL))
        tap_number(page, "72")
        page.locator("[name=rh_pct]").tap()
        tap_number(page, "48")
        for value in values:
            tap(page, "Next")
            tap_number(page, value)
    page.get_by_role("button", name="Store this round").click()


@BOTH_WAYS
def test_stations_are_marked_and_read_and_their_drying_comes_by_itself(shop, page_maker, javascript):
    stack, job, today = shop
    phone = page_maker("phone", javascript=javascript)
    sign_in(phone, stack, "tech")
    phone.goto(f"{job}/drying/")
    expect(phone.locator("main")).to_contain_text("No stations yet")

    # Marks two, the second on the plan where there is a script for it.
    phone.locator("main a[href$='/stations/mark/']").last.click()
    place_by_fields(phone)
    send_station(phone, "Mark it, and another")
    expect(phone.locator("main")).to_contain_text("Write 1 on the spot.")
    if javascript:
        place_by_tap(phone)
        expect(phone.locator("[name=face]")).to_have_value("roof")
        expect(phone.locator(".plan-drawn")).to_be_visible()
    else:
        place_by_fields(phone)
    send_station(phone, "Mark it")
    expect(phone.locator("main")).to_contain_text("Write 2 on the spot.")

    # Reads them yesterday.
    phone.get_by_role("link", name="Take a round").click()
    expect(phone.locator("main")).to_contain_text("Not read before")
    type_round(phone, today - timedelta(days=1), ["31", "24.5"], javascript=javascript)
    expect(phone.locator("main")).to_contain_text("2 readings stored.")
    expect(phone.locator("#drying-state h2").first).to_have_text("Being worked out")
    stack.start_worker()
    stack.start_beat()

    # And today: what each read before stands beside it.
    wait_for_forecasts(phone, stack, at_rounds=1, javascript=javascript)
    phone.get_by_role("link", name="Take a round").click()
    expect(phone.locator(".round-before strong")).to_have_text(["31 %", "24.5 %"])
    type_round(phone, today, ["25.5", "20"], javascript=javascript)

    wait_for_forecasts(phone, stack, at_rounds=2, javascript=javascript)
    expect(phone.locator("#drying-state .ticket")).to_contain_text("Dry by, even odds")
    pictures = phone.locator("#drying-state img")
    expect(pictures).to_have_count(3)  # the plan of the framing, and a chart for each station
    charts = phone.locator(".station .picture img")
    expect(charts.first).not_to_be_visible()  # folded, but for paper
    phone.emulate_media(media="print")
    expect(charts.first).to_be_visible()
    phone.emulate_media(media="screen")
    for fold in phone.locator(".station > summary").all():
        fold.tap()
    expect(charts.last).to_be_visible()
    for picture in pictures.all():
        if javascript:
            picture.scroll_into_view_if_needed()
            expect(picture).to_have_js_property("complete", True)
            assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 300
        drawn = phone.request.get(stack.url + picture.get_attribute("src"))
        assert (drawn.status, drawn.headers["content-type"]) == (200, "image/svg+xml")
        assert picture.get_attribute("alt")
    places = stack.python(
        "from jobs.models import Station; print([(s.face, s.left_mm, s.top_mm) for s in Station.objects.all()])"
    )
    assert places.startswith("[('front', 914.4, 76.2), ")
    if javascript:  # a coach of 8 by 2.5 m; a finger on a small plan is true to about a hand
        left, top = map(float, re.search(r"'roof', ([\d.]+), ([\d.]+)", places).groups())
        assert (left, top) == (pytest.approx(2000, abs=60), pytest.approx(1250, abs=60))


def wait_for_forecasts(page: Page, stack, *, at_rounds: int, javascript: bool) -> None:
    """With JavaScript the open page must change by itself; else it is opened again once the worker is done."""
    if not javascript:
        stack.wait_until(
            "from jobs.models import StationForecast\n"
            f"print(StationForecast.objects.filter(round__job__rounds__isnull=False).count() >= 2 and "
            f"all(f.station.readings.count() == {at_rounds} and f.round_id == f.station.readings.last().round_id "
            "for f in StationForecast.objects.all()))",
            seconds=120,
        )
        page.reload()
    expect(page.locator("#drying-state h2").first).not_to_have_text("Being worked out", timeout=120_000)
    expect(page.locator(".station .state")).to_have_count(2)
    expect(page.locator(".station .state", has_text="being worked out")).to_have_count(0)


TARGETS = """() => [...document.querySelectorAll("main :is(button, summary, select, a.button, input)")]
  .filter((each) => each.type !== "hidden" && each.checkVisibility())
  .map((each) => (each.matches("[type=radio], [type=checkbox]") ? each.closest("label") ?? each.parentElement : each))
  .map((each) => [each.name || each.innerText || each.tagName, each.getBoundingClientRect()])
  .map(([name, box]) => [name, Math.round(box.width), Math.round(box.height)])"""


def too_small(page: Page) -> list[list]:
    targets = page.evaluate(TARGETS)
    assert targets
    return [each for each in targets if min(each[1:]) < SMALLEST_TARGET_PX]


def runs_off(page: Page) -> bool:
    return page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")


@pytest.mark.one_database
@BOTH_WAYS
def test_everything_a_thumb_must_hit_is_large_enough_and_fits_320_px(stack, page_maker, javascript):
    job = f"{stack.url}/shop/jobs/{stack.python(SCENE + FOUR_STATIONS + PRINT).split()[0]}"
    page = page_maker("phone", javascript=javascript)
    sign_in(page, stack, "tech")
    page.set_viewport_size({"width": 320, "height": 640})
    faults = {}

    for address in ("drying/", "stations/mark/", "round/"):
        page.goto(f"{job}/{address}")
        for step in range(5):
            if small := too_small(page):
                faults[address, step] = small
            if runs_off(page):
                faults[address, step, "width"] = "runs off the side"
            if not page.locator("[data-round-next]").is_visible():
                break
            page.locator("[data-round-next]").tap()

    assert faults == {}
