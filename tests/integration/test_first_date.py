"""The first date for a coach not booked yet: the plan with one coach more, asked by a GET that changes nothing."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
import time_machine
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import escape

from estimates.inputs import read_shop
from estimates.pricing import work_out
from estimates.services.planning import replan_for_time, work_out_plan
from jobs.calc.faces import Face, Place
from jobs.models import Coach, Finding, Job, JournalEntry, Remedy
from jobs.services.booking import BookedWork, book_job
from shopfloor.demo.telling import drain
from tests.factories import NOON, CoachFactory, JobFactory, OperationFactory, PersonFactory, WorkSpanFactory

pytestmark = pytest.mark.django_db

URL = "/manager/first-date/"


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


def asked(client, **given):
    return client.get(URL, {"ask": "1", "length": "26'", "arrives_on": "2026-03-06", **given})


def seal(scene):
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    return {"remedy1": remedy.pk, "face1": "roof", "width1": "3'", "height1": "7'"}


def test_it_is_the_date_that_booking_the_same_work_would_give(client, scene):
    found = asked(client, **seal(scene)).context["found"]

    foot = 304.8
    coach = CoachFactory(shop=scene.shop, length_mm=26 * foot)
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    job = book_job(
        coach=coach,
        complaint="Drip.",
        arrives_on=scene.shop.local_date(NOON) + timedelta(days=2),
        work=[BookedWork("failed_seal", Place(Face.ROOF, 0, 0, 3 * foot, 7 * foot), "Open.", remedy)],
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)
    replan_for_time(work_out_plan(read_shop(scene.shop, NOON)), now=NOON)
    assert found.planned_on == Job.objects.get(pk=job.pk).forecast.expected_on


def test_asking_stores_nothing(client, scene):
    kinds = (Coach, Finding, Job, Remedy, JournalEntry)
    before = [kind.objects.count() for kind in kinds]

    assert asked(client, **seal(scene)).status_code == 200

    assert [kind.objects.count() for kind in kinds] == before


def test_the_hours_are_those_the_catalogue_gives_for_the_size(client, scene):
    small = asked(client, **seal(scene)).context["operations"]
    large = asked(client, **seal(scene) | {"width1": "12'"}).context["operations"]

    assert [each.words for each in small] == [each.words for each in large]
    assert sum(each.hours for each in large) > sum(each.hours for each in small)
    remedy = scene.job.findings.filter(kind="failed_seal").last().remedies.get()
    assert [each.words for each in small] == [each.words for each in work_out(remedy, scene.shop.rates).operations]


def test_plain_hours_and_a_wait_will_do_and_more_takes_longer(client, scene):
    skill = scene.shop.skills.first()

    short = asked(client, **{f"hours{skill.pk}": "4"}).context["found"].planned_on
    long = asked(client, **{f"hours{skill.pk}": "4", "wait_hours": "240"}).context["found"].planned_on

    assert (long - short).days >= 9


def test_it_says_honestly_that_a_plan_carries_no_odds(client, scene):
    response = asked(client, **seal(scene))

    assert response.context["found"].planned_on < response.context["found"].chosen_on
    assert "carries no odds, so promise no earlier than the day of the odds you want" in response.content.decode()


def test_the_odds_spread_as_the_shops_own_work_did(client, scene):
    plain = asked(client, **seal(scene)).context["found"]
    for number in range(900, 930):  # work that took five times its hours, on coaches long gone
        job = JobFactory(shop=scene.shop, number=number, arrived=True, collected_at=NOON)
        done = OperationFactory(remedy__finding__job=job, finished=True, hours=1.0)
        WorkSpanFactory(operation=done, started_at=NOON - timedelta(hours=6), ended_at=NOON - timedelta(hours=1))

    slow = asked(client, **seal(scene)).context["found"]

    assert slow.planned_on == plain.planned_on
    assert all(slow.by_odds[each] > plain.by_odds[each] for each in (50, 80))


def test_the_odds_can_be_chosen_and_the_day_follows_them(client, scene):
    usual = asked(client, **seal(scene)).context["found"]
    bold = asked(client, odds="50", **seal(scene))
    careful = asked(client, odds="90", **seal(scene))

    assert usual.chosen == 80
    assert list(usual.by_odds.values()) == sorted(usual.by_odds.values())
    for in_100, response in ((50, bold), (90, careful)):
        found = response.context["found"]
        assert found.by_odds == usual.by_odds, "the same courses, asked otherwise"
        assert found.chosen_on == usual.by_odds[in_100]
        assert f"Ready by {found.chosen_on:%a, %b} {found.chosen_on.day}, {in_100} times in 100" in response.text
    assert bold.context["found"].chosen_on < careful.context["found"].chosen_on


def test_where_the_shop_is_closed_on_the_day_the_next_open_one_is_to_be_promised(client, scene):
    found = asked(client, **seal(scene)).context["found"]
    saturday = replace(found, by_odds=found.by_odds | {80: date(2026, 3, 21)}, promise_on=date(2026, 3, 23))

    page = render_to_string("shopfloor/first_date.html", {"found": saturday})

    assert "the shop is closed then, promise Mon, Mar 23" in page


def test_a_bare_number_is_a_length_in_feet(client, scene):
    assert asked(client, length="24", **seal(scene)).context["form"].cleaned_data["length"] == pytest.approx(24 * 304.8)


def test_booking_takes_over_what_was_asked_and_makes_the_same_hours(client, scene):
    dry = scene.shop.standard_remedies.get(name="Dry and treat stained framing")
    size = {"face1": "curb_side", "left1": "10", "top1": "0", "width1": "2'", "height1": "3'"}
    response = asked(client, length="24", remedy1=dry.pk, **size)

    link = response.context["booking"]
    assert f'href="{reverse("shopfloor:job-book")}{escape(link)}"' in response.text
    booking = client.get(reverse("shopfloor:job-book") + link).context["booking"]

    stay, work = booking.stay, booking.works[0]
    assert (stay["length"].value(), stay["arrives_on"].value()) == ("24", "2026-03-06")
    given = {name: work[name].value() for name in ("remedy", "face", "left", "top", "width", "height")}
    assert given == {
        "remedy": str(dry.pk),
        "face": "curb_side",
        "left": "10",
        "top": "0",
        "width": "2'",
        "height": "3'",
    }
    assert "A place without a position" not in response.text
    typed = given | {"kind": "stained_framing", "seen": "Stained."}
    owner = {"make": "Larkmoor", "year": "2012", "body": "travel_trailer", "width": "96", "height": "90"}
    owner |= {"owner_name": "Ada Quill", "owner_email": "ada@quill.example", "complaint": "Drip.", "priority": "5"}
    data = (
        owner | {"length": "24", "arrives_on": "2026-03-06"} | {f"work1-{name}": text for name, text in typed.items()}
    )
    booked = client.post(reverse("shopfloor:job-book"), data)
    assert booked.status_code == 302, booked.context["booking"].stay.errors
    drain(NOON)
    job = Job.objects.latest("pk")
    hours = {each.words: each.hours for each in response.context["operations"]}
    assert {each.words: each.hours for each in job.operations.all()} == hours
    assert job.coach.length_mm == pytest.approx(24 * 304.8)


def test_a_place_without_a_position_is_said_to_be_counted_from_the_start_of_its_face(client, scene):
    assert "A place without a position is taken to begin where its face does." in asked(client, **seal(scene)).text


def test_a_day_of_another_year_says_so(client, scene):
    found = asked(client, arrives_on="2027-01-11", **seal(scene))

    chosen_on = found.context["found"].chosen_on
    assert f"Ready by {chosen_on:%a, %b} {chosen_on.day}, 2027" in found.content.decode()


def test_the_odds_are_repeatable_and_safe_is_not_before_even(client, scene):
    first = asked(client, **seal(scene)).context["found"]

    assert first.by_odds[50] <= first.by_odds[80]
    assert asked(client, **seal(scene)).context["found"] == first


def test_a_later_arrival_is_never_sooner_ready(client, scene):
    first = asked(client, **seal(scene)).context["found"].planned_on
    later = asked(client, **seal(scene), arrives_on="2026-03-16").context["found"].planned_on

    assert later > first


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({}, None, "Say what is to be done"),
        ({"length": "", "wait_hours": "3"}, "length", "Measure it and write it down"),
        ({"length": "long", "wait_hours": "3"}, "length", ""),
        ({"length": "80'", "wait_hours": "3"}, "length", "too long for every bay"),
        ({"length": "1'", "wait_hours": "3"}, "length", "A coach's length lies between 3' 3 3/8\""),
        ({"odds": "99", "wait_hours": "3"}, "odds", "Choose odds of the list."),
        ({"left1": "0"}, "remedy1", "Which remedy?"),
        ({"arrives_on": "2026-03-01", "wait_hours": "3"}, "arrives_on", "That day has passed."),
        ({"arrives_on": "2028-03-01", "wait_hours": "3"}, "arrives_on", "more than a year away"),
        ({"wait_hours": "much"}, "wait_hours", "Write hours as a number"),
        ({"wait_hours": "90000"}, "wait_hours", "At most"),
        ({"remedy1": "", "face1": "roof"}, "remedy1", "Which remedy?"),
        ({"remedy1": "SEAL", "face1": "roof", "width1": "3'"}, "height1", "How high is it?"),
        ({"remedy1": "SEAL", "face1": "roof", "width1": "70'", "height1": "3'"}, "width1", ""),
        ({"remedy1": "999999"}, "remedy1", "999999 is not one of the available choices"),
    ],
)
def test_a_bad_question_is_refused_in_words(client, scene, given, field, words):
    named = {"SEAL": scene.shop.standard_remedies.get(name="Renew the edge seal").pk}

    response = asked(client, **{name: named.get(value, value) for name, value in given.items()})

    assert response.status_code == 422
    form = response.context["form"]
    errors = form.errors[field] if field else form.non_field_errors()
    assert errors
    assert any(words in error for error in errors)


def test_work_that_nobody_can_do_is_refused_in_words(client, scene):
    skill = scene.shop.skills.create(name="upholstery")

    response = asked(client, **{f"hours{skill.pk}": "4"})

    assert response.status_code == 422
    assert "upholstery" in str(response.context["form"].non_field_errors())


def test_the_page_without_a_question_is_an_empty_form(client, scene):
    response = client.get(URL)

    assert response.status_code == 200
    assert "found" not in response.context
    assert URL in client.get(reverse("shopfloor:job-book")).content.decode()


def test_only_a_manager_asks_and_only_by_reading(client, scene):
    assert client.post(URL).status_code == 405
    client.force_login(scene.technician)
    assert client.get(URL).status_code == 403
    client.force_login(PersonFactory(role="manager"))
    assert client.get(URL).status_code == 200
