"""When people work: their own week, days away, overtime; noted by the manager, planned at once, put down to them."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from estimates.inputs import read_shop
from estimates.models import DateChange, GivenOut, JobForecast
from estimates.people import without
from estimates.plan_keys import worker_key
from jobs.models import Absence, Overtime, Person, PersonHours, ShopHours
from tests.factories import NOON, PersonFactory

pytestmark = pytest.mark.django_db

LIST = "/manager/people/"


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


def url(name, person):
    return reverse(f"shopfloor:{name}", args=[person.pk])


def worker_of(scene):
    problem = read_shop(scene.shop, NOON)._problem(30)
    return next(worker for worker in problem.workers if worker.key == worker_key(scene.technician.pk))


def test_an_own_week_is_what_the_planner_is_given(client, scene):
    response = client.post(url("person-hours", scene.technician), {"opens0": "09:00", "closes0": "13:00"})

    assert response.status_code == 302
    # Chicago, before the clock changes on March 8: 6 hours behind; after it 5.
    assert worker_of(scene).hours[:2] == (
        (datetime(2026, 3, 9, 14, tzinfo=UTC), datetime(2026, 3, 9, 18, tzinfo=UTC)),
        (datetime(2026, 3, 16, 14, tzinfo=UTC), datetime(2026, 3, 16, 18, tzinfo=UTC)),
    )


def test_an_empty_week_gives_the_shops_hours_back(client, scene):
    PersonHours.objects.create(person=scene.technician, weekday=0, opens=time(9), closes=time(13))

    client.post(url("person-hours", scene.technician), {})

    assert worker_of(scene).hours is None


def test_the_shops_midday_break_is_everybodys(scene):
    scene.shop.hours.all().delete()
    for opens, closes in ((time(7), time(12)), (time(12, 30), time(16))):
        ShopHours.objects.create(shop=scene.shop, weekday=0, opens=opens, closes=closes)
    PersonHours.objects.create(person=scene.technician, weekday=0, opens=time(6), closes=time(14))

    spans = worker_of(scene).hours[:2]

    assert [(end - begin) / timedelta(hours=1) for begin, end in spans] == [6.0, 1.5]


def test_spans_without_breaks_lose_exactly_the_breaks():
    def at(hour):
        return NOON + timedelta(hours=hour)

    assert list(without([(at(0), at(8)), (at(10), at(12))], [(at(-1), at(1)), (at(4), at(5)), (at(7), at(11))])) == [
        (at(1), at(4)),
        (at(5), at(7)),
        (at(11), at(12)),
    ]


def test_overtime_is_on_top_and_may_go_past_midnight(client, scene):
    client.post(url("overtime-add", scene.technician), {"on": "2026-03-05", "begins": "22:00", "ends": "01:00"})

    assert worker_of(scene).overtime == ((datetime(2026, 3, 6, 4, tzinfo=UTC), datetime(2026, 3, 6, 7, tzinfo=UTC)),)


def test_days_away_into_another_year_say_which(client, scene):
    Absence.objects.create(person=scene.technician, first_on="2026-03-05", last_on="2027-03-01")

    for page in (client.get("/manager/people/").text, client.get(url("person-detail", scene.technician)).text):
        assert "Thu, Mar 5 to Mon, Mar 1, 2027" in page


def test_days_away_move_the_coach_and_are_its_cause(client, scene):
    GivenOut.objects.all().delete()
    before = JobForecast.objects.get(job=scene.job).expected_on
    last = DateChange.objects.latest("pk").pk

    for person in Person.objects.filter(shop=scene.shop, role="technician"):
        client.post(url("absence-add", person), {"first_on": "2026-03-04", "last_on": "2026-03-13"})

    after = JobForecast.objects.get(job=scene.job).expected_on
    assert after >= date(2026, 3, 16) > before
    moves = DateChange.objects.filter(job=scene.job, pk__gt=last)
    assert {move.words.rpartition(" of ")[0] for move in moves} == {"Working time"}
    assert sum((move.to_on - move.from_on).days for move in moves) == (after - before).days


def test_what_was_noted_is_listed_and_can_be_taken_out_again(client, scene):
    person = scene.technician
    client.post(url("absence-add", person), {"first_on": "2026-03-10", "last_on": "2026-03-11"})
    client.post(url("overtime-add", person), {"on": "2026-03-07", "begins": "08:00", "ends": "12:00"})
    page = client.get(url("person-detail", person)).content.decode()
    assert "Tue, Mar 10 to Wed, Mar 11" in page
    assert "Sat, Mar 7, 8:00 AM" in page

    client.post(reverse("shopfloor:absence-remove", args=[Absence.objects.get().pk]))
    client.post(reverse("shopfloor:overtime-remove", args=[Overtime.objects.get().pk]))

    assert not Absence.objects.exists()
    assert not Overtime.objects.exists()
    assert worker_of(scene).away == ()


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("person-hours", {"opens0": "09:00"}, "Until when?"),
        ("person-hours", {"closes0": "09:00"}, "From when?"),
        ("person-hours", {"opens0": "09:00", "closes0": "08:00"}, "This lies before the beginning."),
        ("person-hours", {"opens0": "nine", "closes0": "17:00"}, "Write a time such as 07:00."),
        ("absence-add", {"first_on": "2026-03-10"}, "This field is required."),
        ("absence-add", {"first_on": "2026-03-10", "last_on": "2026-03-09"}, "The last day lies before the first."),
        ("absence-add", {"first_on": "2026-02-10", "last_on": "2026-02-11"}, "These days have passed."),
        ("absence-add", {"first_on": "2026-03-10", "last_on": "2028-03-09"}, "more than a year"),
        ("absence-add", {"first_on": "2026-04-02", "last_on": "2026-04-05"}, "away on some of these days already"),
        ("overtime-add", {"on": "2026-03-10", "begins": "08:00"}, "Give a time such as 07:00."),
        ("overtime-add", {"on": "2026-03-02", "begins": "08:00", "ends": "10:00"}, "That has passed."),
        ("overtime-add", {"on": "2026-03-10", "begins": "08:00", "ends": "07:00"}, "more than 12 hours on end"),
        ("overtime-add", {"on": "2026-04-01", "begins": "17:30", "ends": "19:00"}, "overlaps overtime"),
    ],
)
def test_bad_input_is_refused_in_words_and_stores_nothing(client, scene, name, given, words):
    person = scene.technician
    Absence.objects.create(person=person, first_on=date(2026, 4, 3), last_on=date(2026, 4, 3))
    Overtime.objects.create(
        person=person, begins_at=datetime(2026, 4, 1, 22, tzinfo=UTC), ends_at=datetime(2026, 4, 1, 23, tzinfo=UTC)
    )

    response = client.post(url(name, person), given)

    assert response.status_code == 422
    page = response.content.decode()
    assert words in page
    for value in given.values():
        assert f'value="{value}"' in page
    assert (PersonHours.objects.count(), Absence.objects.count(), Overtime.objects.count()) == (0, 1, 1)


def test_a_week_in_which_nobody_can_do_the_work_is_kept_and_the_trouble_told(client, scene):
    scene.shop.people.filter(role="technician").exclude(pk=scene.technician.pk).update(is_active=False)

    page = client.post(url("person-hours", scene.technician), {"opens0": "07:00", "closes0": "07:15"}, follow=True)

    assert page.status_code == 200
    assert "Noted." in page.content.decode()
    assert "Not all coaches can be planned with that: “" in page.content.decode()


def test_a_week_for_a_shop_where_nobody_works_is_kept_and_the_trouble_told(client, scene):
    scene.shop.people.filter(role="technician").exclude(pk=scene.technician.pk).update(is_active=False)
    scene.technician.skills.clear()

    page = client.post(url("person-hours", scene.technician), {"opens0": "07:00", "closes0": "09:00"}, follow=True)

    assert "No plan can be made with that:" in page.content.decode()


def test_the_list_asks_no_more_for_more_people(client, scene):
    with CaptureQueriesContext(connection) as few:
        client.get(LIST)
    for _ in range(4):
        PersonFactory(shop=scene.shop)

    with CaptureQueriesContext(connection) as more:
        assert client.get(LIST).status_code == 200

    assert len(more) == len(few)


def test_only_a_manager_of_the_shop_notes_it(client, scene):
    person = scene.technician
    assert client.get(url("absence-add", person)).status_code == 405
    client.force_login(person)
    assert client.get(LIST).status_code == 403
    assert client.post(url("absence-add", person), {}).status_code == 403
    client.force_login(PersonFactory(role=Person.Role.MANAGER))
    assert client.get(url("person-detail", person)).status_code == 404
    assert client.post(url("person-hours", person), {}).status_code == 404


@pytest.mark.parametrize(
    ("begins", "ends", "field"),
    [
        ("14:00", "18:00", "begins"),
        ("08:00", "10:00", "begins"),
        ("06:00", "07:30", "ends"),
        ("06:00", "17:00", "ends"),
    ],
)
def test_overtime_within_the_usual_hours_is_refused_beside_the_time_to_move(client, scene, begins, ends, field):
    response = client.post(url("overtime-add", scene.technician), {"on": "2026-03-10", "begins": begins, "ends": ends})

    assert response.status_code == 422
    assert response.context["overtime"].errors == {
        field: [
            "Overtime is for time outside their hours. On Tuesday, March 10 they work from 7:00 AM to 4:00 PM anyway."
        ]
    }
    assert not Overtime.objects.exists()


def test_overtime_may_touch_the_usual_hours_at_both_ends(client, scene):
    for begins, ends in (("05:00", "07:00"), ("16:00", "18:00")):
        client.post(url("overtime-add", scene.technician), {"on": "2026-03-10", "begins": begins, "ends": ends})

    assert Overtime.objects.count() == 2


def test_overtime_goes_by_the_own_week_and_may_lie_on_a_closed_day(client, scene):
    person = scene.technician
    PersonHours.objects.create(person=person, weekday=1, opens=time(10), closes=time(19))
    scene.shop.closures.create(first_on=date(2026, 3, 17), last_on=date(2026, 3, 17), reason="Stocktaking")

    early = client.post(url("overtime-add", person), {"on": "2026-03-10", "begins": "07:00", "ends": "10:00"})
    late = client.post(url("overtime-add", person), {"on": "2026-03-10", "begins": "16:00", "ends": "20:00"})
    closed = client.post(url("overtime-add", person), {"on": "2026-03-17", "begins": "10:00", "ends": "12:00"})

    assert (early.status_code, late.status_code, closed.status_code) == (302, 422, 302)
    assert "they work from 10:00 AM to 7:00 PM anyway." in late.content.decode()


def test_overtime_on_a_day_away_is_refused_beside_the_day(client, scene):
    person = scene.technician
    Absence.objects.create(person=person, first_on=date(2026, 3, 10), last_on=date(2026, 3, 11))

    response = client.post(url("overtime-add", person), {"on": "2026-03-11", "begins": "17:00", "ends": "19:00"})

    assert response.status_code == 422
    assert response.context["overtime"].errors == {
        "on": [
            "They are away from Tuesday, March 10 to Wednesday, March 11. Take that out first, or choose another day."
        ]
    }
    assert not Overtime.objects.exists()


def test_overtime_may_end_at_the_midnight_before_a_day_away_and_not_after(client, scene):
    person = scene.technician
    Absence.objects.create(person=person, first_on=date(2026, 3, 11), last_on=date(2026, 3, 11))

    into_it = client.post(url("overtime-add", person), {"on": "2026-03-10", "begins": "17:00", "ends": "00:30"})
    before_it = client.post(url("overtime-add", person), {"on": "2026-03-10", "begins": "17:00", "ends": "00:00"})

    assert (into_it.status_code, before_it.status_code) == (422, 302)
    assert "They are away on Wednesday, March 11." in into_it.content.decode()
    assert Overtime.objects.count() == 1


def test_days_away_over_overtime_are_refused_and_say_which(client, scene):
    person = scene.technician
    Overtime.objects.create(
        person=person, begins_at=datetime(2026, 3, 10, 22, tzinfo=UTC), ends_at=datetime(2026, 3, 11, 1, tzinfo=UTC)
    )

    response = client.post(url("absence-add", person), {"first_on": "2026-03-09", "last_on": "2026-03-10"})

    assert response.status_code == 422
    assert response.context["away"].errors == {
        "first_on": ["Overtime is noted for Tuesday, March 10. Take that out first, below."]
    }
    assert not Absence.objects.exists()
