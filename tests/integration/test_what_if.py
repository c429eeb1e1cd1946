"""The what-if page: every coach now and then, changing nothing; a link that can be kept."""

import uuid
from datetime import time, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from estimates.inputs import read_shop
from estimates.models import DateChange, GivenOut, ShopPlan
from estimates.what_if import Overtime, WhatIf, ask, overtime_spans
from jobs.models import Absence, ApprovalRequest, Job, JournalEntry, Operation, Person
from jobs.services.booking import BookedWork, book_job, check_in
from shopfloor.demo.telling import drain
from tests.factories import NOON, BayFactory, CoachFactory, PersonFactory
from tests.scenes import FRONT_EDGE, find_rot

pytestmark = pytest.mark.django_db

URL = "/manager/what-if/"
OVERTIME = {"person": "TECH", "over_from": "2026-03-09", "over_until": "2026-03-13", "over_hours": "2"}


@pytest.fixture
def scene(client, kept_coach):
    with time_machine.travel(NOON, tick=False):
        scene = kept_coach()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def behind(scene):
    """A second coach that is here and waits for the one bay."""
    return add_coach(scene, "Brindlewick")


def add_coach(scene, make):
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    job = book_job(
        coach=CoachFactory(shop=scene.shop, make=make),
        complaint="Drip.",
        arrives_on=scene.shop.local_date(NOON),
        work=[BookedWork("failed_seal", FRONT_EDGE, "Open.", remedy)],
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)
    check_in(job_id=job.pk, by=scene.manager, now=NOON)
    drain(NOON)
    return job


def asked(client, **given):
    return client.get(URL, {"ask": "1", **given})


def line(response, job):
    return next(coach for coach in response.context["answer"].coaches if coach.job == job)


def state():
    return (
        list(Job.objects.values()),
        list(Operation.objects.values()),
        JournalEntry.objects.count(),
        DateChange.objects.count(),
    )


def test_another_bay_for_the_coach_that_waits_brings_its_date_forward(client, scene, behind):
    free = BayFactory(shop=scene.shop)
    Job.objects.filter(pk=behind.pk).update(bay=scene.bay)
    before = state()

    response = asked(client, move1=behind.pk, to1=free.pk)

    assert response.status_code == 200
    assert line(response, behind).days < 0
    assert line(response, behind).words == "sooner"
    assert line(response, scene.job).days <= 0 or response.context["answer"].later
    assert state() == before


def test_a_free_bay_can_be_taken_by_a_press_and_a_taken_one_not(client, scene, behind):
    free = BayFactory(shop=scene.shop)

    page = asked(client, move1=behind.pk, to1=free.pk).content.decode()
    assert reverse("jobs:move-to-bay", args=[behind.pk]) in page
    assert (
        reverse("jobs:move-to-bay", args=[behind.pk])
        not in asked(client, move1=behind.pk, to1=scene.bay.pk).content.decode()
    )


def test_two_coaches_may_swap_their_bays(client, scene):
    other = BayFactory(shop=scene.shop)
    second = add_coach(scene, "Brindlewick")
    Job.objects.filter(pk=second.pk).update(bay=other, entered_bay_at=NOON)

    response = asked(client, move1=scene.job.pk, to1=other.pk, move2=second.pk, to2=scene.bay.pk)

    assert [coach.days for coach in response.context["answer"].coaches] == [0, 0]


def test_a_later_answer_moves_the_coach_that_waits_for_it(client, scene):
    find_rot(scene)
    drain(NOON)
    finding = ApprovalRequest.objects.get().finding
    later_on = scene.shop.local_date(NOON) + timedelta(days=12)

    response = asked(client, **{f"answer{finding.pk}": later_on.isoformat()})

    own = line(response, scene.job)
    assert own.days > 0
    assert own.then_on >= later_on


def test_leaving_a_finding_is_the_plans_own_without_and_says_when_it_is_unsafe(client, scene):
    find_rot(scene, is_unsafe_to_leave=True)
    drain(NOON)
    request = ApprovalRequest.objects.get()

    response = asked(client, **{f"pick{request.finding_id}": "leave"})

    assert line(response, scene.job).then_on == request.outlook.ready_without_on
    assert "Not safe to leave" in response.content.decode()


def test_an_extra_person_never_makes_the_one_coach_later(client, scene):
    skills = [skill.name for skill in scene.shop.skills.all()]

    response = asked(client, extra_skills=skills)

    assert response.status_code == 200
    assert line(response, scene.job).days <= 0


def test_another_turn_lets_the_second_coach_go_first(client, scene):
    Job.objects.filter(pk=scene.job.pk).update(entered_bay_at=None, bay=None)
    GivenOut.objects.all().delete()
    second = add_coach(scene, "Brindlewick")

    response = asked(client, turn1=second.pk, place1="1", turn2=scene.job.pk, place2="9")

    assert line(response, second).days <= 0
    assert line(response, scene.job).days >= 0
    assert (line(response, second).days, line(response, scene.job).days) != (0, 0)


def adopt_what_the_rule_would_not_do(scene, behind):
    """Nobody stands in the bay; the coach booked second goes first by an order that was adopted."""
    Job.objects.filter(pk=scene.job.pk).update(entered_bay_at=None, bay=None)
    GivenOut.objects.all().delete()
    turns = read_shop(scene.shop, NOON).schedule().turns
    first = [turn for turn in turns if turn[0] == f"job{behind.pk}"]
    turns = [*first, *(turn for turn in turns if turn not in first)]
    last = JournalEntry.objects.latest("pk").pk
    ShopPlan.objects.update(turns=[list(turn) for turn in turns], turns_entry=last, turns_at=NOON)


def test_the_turn_a_coach_has_already_keeps_the_adopted_order(client, scene, behind):
    adopt_what_the_rule_would_not_do(scene, behind)

    response = asked(client, turn1=behind.pk, place1="5")

    assert {coach.days for coach in response.context["answer"].coaches} == {0}
    assert "is the one the coach has already" in response.text
    assert "the adopted order of work stays" in response.text
    assert response.context["acts"] == []


def test_another_turn_says_that_it_ends_the_adopted_order(client, scene, behind):
    adopt_what_the_rule_would_not_do(scene, behind)
    assert "it ends when a coach is given another turn" in client.get(URL).text

    response = asked(client, turn1=behind.pk, place1="6")

    assert line(response, behind).days > 0
    assert "The adopted order of work would end with the new turn." in response.text


def test_a_turn_is_carried_over_by_a_press(client, scene):
    url = reverse("shopfloor:priority-set", args=[scene.job.pk])
    assert url in asked(client, turn1=scene.job.pk, place1="2").content.decode()

    response = client.post(url, {"priority": "2"})

    assert response.status_code == 302
    assert Job.objects.get(pk=scene.job.pk).priority == 2
    assert JournalEntry.objects.filter(job=scene.job, kind="turn_changed").get().data == {"priority": 2, "before": 5}
    assert client.post(url, {"priority": "2"}).status_code == 409
    assert client.post(url, {"priority": "12"}).status_code == 422
    assert Job.objects.get(pk=scene.job.pk).priority == 2


def test_the_link_asks_the_same_question_again(client, scene, behind):
    free = BayFactory(shop=scene.shop)
    response = asked(client, move1=behind.pk, to1=free.pk, turn1="", person="")

    again = client.get(URL + response.context["link"])

    assert response.context["link"] == f"?move1={behind.pk}&to1={free.pk}&ask=1"
    assert [(each.job, each.days) for each in again.context["answer"].coaches] == [
        (each.job, each.days) for each in response.context["answer"].coaches
    ]


def test_a_coach_named_in_the_address_stands_in_the_empty_form(client, scene):
    response = client.get(URL, {"move1": scene.job.pk})

    assert response.status_code == 200
    assert f'<option value="{scene.job.pk}" selected>' in response.content.decode()


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({}, None, "Choose at least one thing to change."),
        ({"move1": "JOB"}, "to1", "Say where it moves to."),
        ({"to1": "outside"}, "move1", "Say which coach moves."),
        ({"move1": "JOB", "to1": "SHORT"}, "to1", "is too long for"),
        ({"move1": "JOB", "to1": "outside", "move2": "JOB", "to2": "BAY"}, "move2", "This coach moves above already."),
        ({"move1": "999999", "to1": "outside"}, "move1", "Choose one of the list."),
        ({"turn1": "JOB"}, "place1", "Say when its turn is."),
        (
            {"turn1": "JOB", "place1": "1", "turn2": "JOB", "place2": "2"},
            "turn2",
            "This coach has a turn above already.",
        ),
        ({"person": "TECH"}, "over_from", "From which day?"),
        ({"over_hours": "2"}, "person", "Say who."),
        ({"person": "TECH", "over_hours": "much"}, "over_hours", "Write hours as a number"),
        ({"person": "TECH", "over_hours": "20"}, "over_hours", "At most 8, please."),
        (
            OVERTIME | {"over_until": "2026-03-06"},
            "over_until",
            "before the first day",
        ),
        (
            OVERTIME | {"over_from": "2026-03-02"},
            "over_from",
            "That day has passed.",
        ),
        (
            OVERTIME | {"over_until": "2026-12-06"},
            "over_until",
            "At most 60 days",
        ),
        ({"extra_from": "2026-03-09"}, "extra_skills", "Say what the extra person can do."),
        ({"extra_skills": "juggling"}, "extra_skills", "The shop has no such skill."),
        ({"extra_skills": "SKILL", "extra_from": "2030-03-09"}, "extra_from", "That is more than a year away."),
    ],
)
def test_a_bad_question_is_refused_in_words_and_keeps_what_was_typed(client, scene, given, field, words):
    short = BayFactory(shop=scene.shop, longest_coach_mm=3000.0)
    named = {
        "JOB": scene.job.pk,
        "SHORT": short.pk,
        "BAY": scene.bay.pk,
        "TECH": scene.technician.pk,
        "SKILL": scene.shop.skills.first().name,
    }

    response = asked(client, **{name: named.get(value, value) for name, value in given.items()})

    assert response.status_code == 422
    form = response.context["form"]
    assert any(words in error for error in (form.errors[field] if field else form.non_field_errors()))
    assert "answer" not in response.context


def test_a_refused_answer_names_its_question_at_the_head(client, scene):
    find_rot(scene)
    drain(NOON)
    finding = ApprovalRequest.objects.get().finding

    page = asked(client, **{f"answer{finding.pk}": "2026-03-02"}).text

    assert f"Job {scene.job.number}, finding {finding.number}: answers on</a>: That day has passed." in page


def test_what_cannot_be_planned_at_all_is_refused_in_words(client, scene):
    Person.objects.filter(pk__in=scene.shop.people.filter(role="technician").values("pk")).update(is_active=False)

    response = asked(client, turn1=scene.job.pk, place1="2")

    assert response.status_code == 422
    assert response.context["form"].non_field_errors()


def test_overtime_of_the_people_brings_a_coach_forward(scene):
    scene.shop.hours.filter(weekday__gt=0).delete()
    scene.shop.hours.update(closes=time(9))
    first_on = scene.shop.local_date(NOON) + timedelta(days=1)
    people = scene.shop.people.filter(role="technician")
    overtime = tuple(Overtime(person.pk, first_on, first_on + timedelta(days=20), 8.0) for person in people)

    answer = ask(read_shop(scene.shop, NOON), WhatIf(overtime=overtime))

    assert [coach.days < 0 for coach in answer.coaches] == [True]


def test_overtime_on_a_day_away_is_said_to_bring_nothing(client, scene):
    person = scene.technician
    Absence.objects.create(person=person, first_on="2026-03-10", last_on="2026-03-11")
    overtime = OVERTIME | {"person": person.pk}

    some = asked(client, **overtime).text
    one = asked(client, **overtime | {"over_from": "2026-03-11", "over_until": "2026-03-11"}).text
    none = asked(client, **overtime | {"over_until": "2026-03-09"}).text

    name = person.get_full_name() or person.username
    assert f"{name} is away on Tuesday, March 10 and 1 more of the days asked about." in some
    assert f"{name} is away on Wednesday, March 11." in one
    assert "is away on" not in none


def test_parked_outside_while_it_waits_a_coach_lets_the_next_one_in(client, scene, behind):
    GivenOut.objects.all().delete()
    opening, *_, last = scene.job.operations.order_by("phase", "pk")
    Operation.objects.filter(pk=last.pk).update(needs_bay=True)
    between = scene.job.operations.exclude(pk__in=[opening.pk, last.pk])
    between.update(kind="wait", skill=None, hours=240, needs_bay=False)

    response = asked(client, move1=scene.job.pk, to1="outside")

    assert line(response, behind).days < 0


def test_overtime_follows_closing_time_and_on_a_closed_day_the_usual_opening(scene):
    friday = scene.shop.local_date(NOON) + timedelta(days=2)
    calendar = scene.shop.calendar()

    spans = list(overtime_spans(calendar, Overtime(1, friday, friday + timedelta(days=1), 2.0)))

    assert spans[0][0] == calendar.day_shifts(friday)[-1][1]
    assert [end - begin for begin, end in spans] == [timedelta(hours=2)] * 2
    local = spans[1][0].astimezone(ZoneInfo(calendar.time_zone))
    assert (local.time(), local.date()) == (time(7), friday + timedelta(days=1))


def test_asking_nothing_of_the_planner_moves_nothing(scene, behind):
    answer = ask(read_shop(scene.shop, NOON), WhatIf())

    assert {coach.days for coach in answer.coaches} == {0}
    assert answer.late_days_now == answer.late_days_then


def test_more_coaches_ask_no_more_queries(client, scene):
    with CaptureQueriesContext(connection) as few:
        asked(client, turn1=scene.job.pk, place1="2")
    add_coach(scene, "Brindlewick")
    find_rot(scene, key=uuid.uuid4())
    drain(NOON)
    with CaptureQueriesContext(connection) as base:
        asked(client, turn1=scene.job.pk, place1="2")
    add_coach(scene, "Thorsby")

    with CaptureQueriesContext(connection) as more:
        asked(client, turn1=scene.job.pk, place1="2")

    assert len(more) == len(base)
    assert len(base) <= len(few) + 6  # the first question and its offer


def test_only_a_manager_asks_and_only_by_reading(client, scene):
    assert client.post(URL).status_code == 405
    client.force_login(scene.technician)
    assert client.get(URL).status_code == 403
    client.force_login(PersonFactory(role=Person.Role.MANAGER))
    assert asked(client, move1=scene.job.pk, to1="outside").status_code == 422
