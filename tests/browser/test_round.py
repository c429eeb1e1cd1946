"""The round's form on the phone: taps, corrections, refusals, dead spots, keys, readers, small screens."""

from datetime import datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser.test_drying import (
    BOTH_WAYS,
    FOUR_STATIONS,
    LOCAL,
    PRINT,
    SCENE,
    fill_air,
    tap,
    tap_number,
    type_round,
)
from tests.support.loop import sign_in

pytestmark = pytest.mark.one_database  # the form on the phone


@pytest.fixture(scope="module")
def kept_coach_with_stations(stack_maker):
    with stack_maker() as stack:
        job, today = stack.python(SCENE + FOUR_STATIONS + PRINT).split()
        stack.keep()
        yield stack, f"{stack.url}/shop/jobs/{job}", datetime.fromisoformat(today)


@pytest.fixture
def marked(kept_coach_with_stations):
    """A coach with four stations, without worker: for what happens on the phone alone."""
    kept_coach_with_stations[0].begin_again()
    return kept_coach_with_stations


@pytest.fixture
def open_round(marked, page_maker):
    """Opens the round's form on a fresh phone or desktop."""

    def open_it(profile="phone", *, javascript=True) -> Page:
        stack, job, _ = marked
        page = page_maker(profile, javascript=javascript)
        sign_in(page, stack, "tech")
        page.goto(f"{job}/round/")
        return page

    return open_it


def expect_step(page: Page, name: str) -> None:
    expect(page.locator("[data-round-step]:visible > legend")).to_have_text(name, use_inner_text=True)


def heading_of_step(page: Page) -> str:
    return page.locator("[data-round-step]:visible > legend").inner_text()


def to_the_last_step(page: Page) -> None:
    while page.get_by_role("button", name="Next").is_visible():
        page.get_by_role("button", name="Next").click()


def rounds_stored(stack) -> int:
    return int(stack.python("from jobs.models import ReadingRound; print(ReadingRound.objects.count())"))


def drafts(page: Page) -> list[str]:
    return page.evaluate("Object.keys(localStorage)")


def test_the_tick_of_a_doubted_reading_lies_above_the_pad(marked, open_round):
    """On a phone 844 px high the list of mistakes alone would push it behind the pad."""
    _, job, today = marked
    page = open_round()
    page.set_viewport_size({"width": 390, "height": 844})
    type_round(page, today - timedelta(hours=3), ["20", "20", "20", "20"], javascript=True)
    page.goto(f"{job}/round/")
    type_round(page, today, ["20", "60", "20", "20"], javascript=True)

    tick = page.get_by_label("Yes, that is what the meter shows: 60 %")
    expect(tick).to_be_visible()
    box, bar = tick.bounding_box(), page.locator(".round-foot").bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= bar["y"]


def test_a_round_is_walked_and_corrected_by_taps_alone(marked, open_round):
    stack, _, today = marked
    phone = open_round()
    phone.locator("[name=taken_at]").fill((today - timedelta(hours=30)).strftime(LOCAL))
    tap_number(phone, "72.5")
    phone.locator("[name=rh_pct]").tap()
    tap_number(phone, "48")
    tap(phone, "Next")
    tap_number(phone, "29")
    tap(phone, "Rub out")
    tap_number(phone, "7.5")
    tap_number(phone, ".")  # a second point is no number
    expect(phone.get_by_label("Station 1, %")).to_have_value("27.5")
    tap(phone, "Next")
    phone.get_by_label("too wet for it").locator("visible=true").tap()
    tap(phone, "Next")
    phone.get_by_label("too dry for it").locator("visible=true").tap()
    tap(phone, "Next")
    phone.get_by_label("skip").locator("visible=true").tap()

    for _ in range(4):
        tap(phone, "Back")
    expect(phone.get_by_role("button", name="Back")).to_be_disabled()
    expect(phone.get_by_label("Air, °F")).to_have_value("72.5")
    to_the_last_step(phone)
    expect(phone.get_by_label("skip").locator("visible=true")).to_be_checked()
    tap(phone, "Store this round")

    expect(phone.locator("main")).to_contain_text("3 readings stored.")
    stored = stack.python(
        "from jobs.models import ReadingRound; taken = ReadingRound.objects.latest('pk')\n"
        "print(taken.air_temp_c, taken.rh_pct, list(taken.readings.order_by('station__number')"
        ".values_list('station__number', 'range', 'meter_pct')))"
    )
    assert stored == "22.5 48.0 [(1, 'value', 27.5), (2, 'high', None), (3, 'low', None)]"


def test_of_a_number_and_too_wet_the_later_one_counts(open_round):
    phone = open_round()
    tap(phone, "Next")
    number, choice = phone.get_by_label("Station 1, %"), phone.locator("[data-round-step]:visible").get_by_label
    tap_number(phone, "38")

    choice("too wet for it").tap()
    expect(number).to_have_value("")
    tap(phone, "Rub out")  # nothing to rub out: too wet it stays
    expect(choice("too wet for it")).to_be_checked()
    choice("a value").tap()
    expect(number).to_have_value("38")  # it was only put aside
    choice("too dry for it").tap()
    tap_number(phone, "6")

    expect(choice("a value")).to_be_checked()
    expect(number).to_have_value("6")


@BOTH_WAYS
@pytest.mark.parametrize(
    ("field", "wrong", "step", "words"),
    [
        ("rh_pct", "140", "Air", "100"),
        ("reading_", "250", "Station 3", "hardly a reading"),
        ("reading_", "wet", "Station 3", "Write a number"),
    ],
    ids=["humidity of 140", "reading of 250", "word for a number"],
)
def test_a_refused_round_opens_at_its_mistake_and_keeps_everything(
    marked, open_round, javascript, field, wrong, step, words
):
    stack, _, _ = marked
    before = rounds_stored(stack)
    page = open_round(javascript=javascript)
    values = {"air_temp": "71", "rh_pct": "47"} | {
        name: f"2{number}" for number, name in enumerate(reading_names(page), start=1)
    }
    values[field if field == "rh_pct" else reading_names(page)[2]] = wrong
    for name, value in values.items():
        type_into(page, name, value)
    to_the_last_step(page)

    with page.expect_response(lambda response: response.request.method == "POST") as answered:
        page.get_by_role("button", name="Store this round").click()

    assert answered.value.status == 422
    assert rounds_stored(stack) == before
    wrong_field = page.locator(".field-wrong")
    expect(wrong_field).to_contain_text(words)
    expect(wrong_field).to_be_visible()
    for name, value in values.items():
        expect(page.locator(f"[name={name}]")).to_have_value(value)
    if javascript:
        expect_step(page, step)
        expect(page.locator("[data-round-kept]")).to_be_hidden()
        expect(page.locator(".field-wrong [data-round-target]")).to_have_count(1)  # where the pad now writes


def test_an_improbable_reading_is_stored_once_its_tick_says_so(marked, open_round):
    stack, job, today = marked
    page = open_round()
    type_round(page, today - timedelta(days=1), ["18", "20", "22", "24"], javascript=True)
    expect(page.locator("main")).to_contain_text("4 readings stored.")
    page.goto(f"{job}/round/")
    fill_air(page)
    type_into(page, reading_names(page)[0], "36")
    to_the_last_step(page)
    tap(page, "Store this round")

    expect_step(page, "Station 1")
    page.get_by_label("Yes, that is what the meter shows: 36 %").tap()
    expect(page.locator(f"[name={reading_names(page)[0]}]")).to_have_value("36")  # the tick puts no number aside
    to_the_last_step(page)
    tap(page, "Store this round")

    expect(page.locator("main")).to_contain_text("1 reading stored.")
    assert rounds_stored(stack) == 2


def reading_names(page: Page) -> list[str]:
    return [field.get_attribute("name") for field in page.locator("input[name^=reading_]").all()]


def type_into(page: Page, name: str, value: str) -> None:
    field = page.locator(f"[name={name}]")
    while not field.is_visible():
        page.get_by_role("button", name="Next").click()
    field.fill(value)


def test_the_way_from_the_list_of_mistakes_leads_to_the_step(open_round):
    page = open_round()
    fill_air(page, rh="140")
    type_into(page, reading_names(page)[1], "900")
    to_the_last_step(page)
    page.get_by_role("button", name="Store this round").click()
    expect_step(page, "Air")

    page.get_by_role("alert").get_by_role("link", name="Station 2").click()

    expect_step(page, "Station 2")
    expect(page.get_by_label("Station 2, %")).to_be_focused()


def test_a_temperature_left_out_brings_the_air_forward_and_sends_nothing(open_round):
    page = open_round()
    posts = []
    page.on("request", lambda request: posts.append(request.url) if request.method == "POST" else None)
    type_into(page, reading_names(page)[0], "21")
    to_the_last_step(page)

    page.get_by_role("button", name="Store this round").click()

    expect(page.get_by_label("Air, °F")).to_be_focused()
    expect_step(page, "Air")
    assert posts == []


@pytest.mark.parametrize("leave", ["reload", "close"])
def test_a_round_begun_is_still_there_after_the_page_was_left_and_gone_once_stored(marked, open_round, leave):
    stack, job, today = marked
    page = open_round()
    at = today - timedelta(hours=20 if leave == "reload" else 25)
    fill_air(page, at)
    tap(page, "Next")
    tap_number(page, "19.5")
    tap(page, "Next")
    page.get_by_label("too wet for it").locator("visible=true").tap()

    if leave == "reload":
        page.reload()
    else:
        context = page.context
        page.close()
        page = context.new_page()
        page.goto(f"{job}/round/")

    expect(page.locator("[data-round-kept]")).to_be_visible()
    expect(page.locator("[name=taken_at]")).to_have_value(at.strftime(LOCAL))
    expect(page.locator("[name=rh_pct]")).to_have_value("48")
    expect(page.locator("input[name^=reading_]").first).to_have_value("19.5")
    expect(page.locator("input[value=high]").nth(1)).to_be_checked()
    assert len(drafts(page)) == 1
    before = rounds_stored(stack)
    to_the_last_step(page)
    tap(page, "Store this round")
    expect(page.locator("main")).to_contain_text("2 readings stored.")
    assert rounds_stored(stack) == before + 1

    for go in (lambda: page.goto(f"{job}/round/"), lambda: (page.goto(f"{job}/drying/"), page.go_back())):
        go()
        expect(page.locator("[data-round-count]")).not_to_be_empty()
        expect(page.locator("[data-round-kept]")).to_be_hidden()
        expect(page.locator("[name=rh_pct]")).to_have_value("")
        expect(page.locator("input[name^=reading_]").first).to_have_value("")
        assert drafts(page) == []


def test_going_back_from_a_stored_round_does_not_offer_it_again(marked, open_round):
    _, _, today = marked
    page = open_round()
    fill_air(page, today - timedelta(hours=40))
    type_into(page, reading_names(page)[0], "23")
    to_the_last_step(page)
    tap(page, "Store this round")
    expect(page.locator("main")).to_contain_text("1 reading stored.")

    page.go_back()

    expect(page.locator("[data-round-count]")).not_to_be_empty()
    expect(page.locator("input[name^=reading_]").first).to_have_value("")
    # This browser keeps no pages in its memory; one that does says so, and the page must be fetched anew.
    page.evaluate("window.isOld = true")
    page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))")
    page.wait_for_function("window.isOld === undefined")


def test_a_round_begun_can_be_given_up(open_round):
    page = open_round()
    fill_air(page)
    page.reload()

    tap(page, "Start afresh")

    expect(page.locator("[name=rh_pct]")).to_have_value("")
    expect(page.locator("[data-round-kept]")).to_be_hidden()
    assert drafts(page) == []


def test_a_phone_that_keeps_nothing_takes_a_round_all_the_same(marked, open_round):
    stack, _, today = marked
    page = open_round()
    page.add_init_script("Object.defineProperty(window, 'localStorage', {get() { throw new Error('closed'); }});")
    page.reload()
    before = rounds_stored(stack)

    type_round(page, today - timedelta(hours=44), ["22", "21", "20", "19"], javascript=True)

    expect(page.locator("main")).to_contain_text("4 readings stored.")
    assert rounds_stored(stack) == before + 1


def test_a_round_is_taken_with_the_keyboard_alone(marked, open_round):
    stack, _, today = marked
    page = open_round("desktop")
    page.locator("[name=taken_at]").fill((today - timedelta(hours=50)).strftime(LOCAL))
    page.locator("[name=air_temp]").focus()
    before = rounds_stored(stack)
    page.keyboard.type("70")
    page.keyboard.press("Tab")
    page.keyboard.type("45")
    page.keyboard.press("Enter")  # goes on, and does not store a round half read

    assert rounds_stored(stack) == before
    for number in range(1, 5):
        expect_step(page, f"Station {number}")
        expect(page.get_by_label(f"Station {number}, %")).to_be_focused()
        if number == 2:
            page.keyboard.press("Tab")
            page.keyboard.press("ArrowDown")
            page.keyboard.press("ArrowDown")
            expect(page.get_by_label("too wet for it").locator("visible=true")).to_be_checked()
            while not page.get_by_role("button", name="Next").evaluate("button => button === document.activeElement"):
                page.keyboard.press("Tab")
        else:
            page.keyboard.type(f"2{number}")
        page.keyboard.press("Enter")

    expect(page.locator("main")).to_contain_text("4 readings stored.")
    ranges = stack.python(
        "from jobs.models import ReadingRound\n"
        "print(*ReadingRound.objects.latest('pk').readings.order_by('station').values_list('range', flat=True))"
    )
    assert ranges == "value high value value"


def test_a_station_is_marked_with_the_keyboard_alone(marked, page_maker):
    stack, job, _ = marked
    page = page_maker("desktop")
    sign_in(page, stack, "tech")
    page.goto(f"{job}/stations/mark/")
    page.locator("[name=face]").focus()
    for typed in ("front", "3'", '6"', "framing", "Sitka", "by the keys"):
        page.keyboard.type(typed)
        page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Mark it", exact=True)).to_be_focused()

    page.keyboard.press("Enter")

    expect(page.locator("main")).to_contain_text("Write 5 on the spot.")


def test_a_screen_reader_hears_what_every_key_and_field_is(open_round):
    page = open_round()
    pad = page.get_by_role("group", name="Number pad")

    names = [key.inner_text() for key in pad.get_by_role("button").all()]

    assert [" ".join(name.split()) for name in names] == [*"123456789", ". point", "0", "Rub out"]
    expect(page.locator("form").get_by_role("status")).to_have_text("Air first, then 4 stations")
    tap(page, "Next")
    expect(page.locator("form").get_by_role("status")).to_have_text("1 of 4 in this round")
    tap_number(page, "2")
    expect(page.get_by_role("textbox", name="Station 1, %")).to_be_focused()  # as before the tap
    expect(page.get_by_role("group", name="Station 1", exact=True)).to_be_visible()
    expect(page.get_by_role("radio", name="too wet for it")).to_be_visible()


def test_a_metric_shop_taps_a_temperature_below_zero(marked, open_round):
    stack, _, _ = marked
    stack.python("from jobs.models import Shop; Shop.objects.update(units='metric')")
    page = open_round()

    tap_number(page, "4.5")
    tap(page, "Below zero")

    expect(page.get_by_label("Air, °C")).to_have_value("-4.5")
    tap(page, "Below zero")
    expect(page.get_by_label("Air, °C")).to_have_value("4.5")
    page.locator("[name=rh_pct]").tap()
    expect(page.get_by_role("button", name="Below zero")).to_be_hidden()


def test_on_a_phone_laid_on_its_side_the_pad_scrolls_with_the_page(open_round):
    page = open_round()
    page.set_viewport_size({"width": 844, "height": 390})

    tap(page, "Next")

    field, foot = page.locator("[data-round-target]").bounding_box(), page.locator(".round-foot").bounding_box()
    assert 0 <= field["y"] < field["y"] + field["height"] <= min(foot["y"], 390)


@pytest.mark.parametrize(("width", "height"), [(390, 844), (390, 664), (320, 640), (412, 839)])
def test_the_pad_never_covers_the_field_it_writes_to(open_round, width, height):
    page = open_round()
    page.set_viewport_size({"width": width, "height": height})
    page.reload()
    covered = []

    for _ in range(4):
        tap(page, "Next")
        field = page.locator("[data-round-target]").bounding_box()
        foot = page.locator(".round-foot").bounding_box()
        choices = page.locator("[data-round-step]:visible label:has(input)").last.bounding_box()
        if field["y"] < 0 or field["y"] + field["height"] > foot["y"] or foot["y"] + foot["height"] > height + 1:
            covered.append((heading_of_step(page), field, foot))
        if height > 800 and choices["y"] + choices["height"] > foot["y"]:
            covered.append((heading_of_step(page), "the choices", choices, foot))

    assert covered == []
