"""What the last plans moved, and a better order: proposed with its gain, in force only by a press."""

from datetime import timedelta

import pytest
import time_machine

from estimates.better_order import BetterOrder, CoachInOrder, look_for_order
from estimates.inputs import read_shop
from estimates.models import DateChange, GivenOut, ShopPlan
from jobs.models import Job, Person
from jobs.services.booking import BookedWork, book_job, check_in, promise_date, set_priority
from jobs.services.remedies import OwnRemedy
from shopfloor.demo.telling import drain
from shopfloor.views import moves
from tests.factories import NOON, CoachFactory, PersonFactory
from tests.scenes import FRONT_EDGE, find_rot, opened_coach

pytestmark = pytest.mark.django_db

LIST, ADOPT, DROP = "/manager/moves/", "/manager/moves/adopt/", "/manager/moves/drop/"


@pytest.fixture
def scene(client):
    with time_machine.travel(NOON, tick=False):
        scene = opened_coach(NOON)
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def crowded(scene):
    """Nobody stands in the one bay; a long job goes first by its turn though a short one was promised for tomorrow."""
    Job.objects.filter(pk=scene.job.pk).update(entered_bay_at=None, bay=None, priority=1)
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    short = book_job(
        coach=CoachFactory(shop=scene.shop, make="Brindlewick"),
        complaint="Drip.",
        arrives_on=scene.shop.local_date(NOON),
        work=[BookedWork("failed_seal", FRONT_EDGE, "Open.", remedy)],
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)
    check_in(job_id=short.pk, by=scene.manager, now=NOON)
    promise_date(
        job=short,
        ready_on=scene.shop.local_date(NOON),
        expected_on=None,
        reason="Given at booking",
        by=scene.manager,
        now=NOON,
    )
    GivenOut.objects.all().delete()
    find_rot(scene, remedy=OwnRemedy("Bond anew", 60.0, scene.shop.skills.first()))
    drain(NOON)
    GivenOut.objects.all().delete()
    return short


def order_of(scene, **fields):
    snapshot = read_shop(scene.shop, NOON)
    turns = snapshot.schedule().turns
    given = {"gain": 0.25, "coaches": (), "turns": turns, "schedules": 40, "last_entry": snapshot.last_entry}
    return BetterOrder(**given | fields)


def proposed(client, scene, monkeypatch, **fields):
    monkeypatch.setattr(moves, "look_for_order", lambda snapshot: order_of(scene, **fields))
    return client.get(LIST, {"look": "1"})


def test_a_search_never_comes_back_with_a_worse_plan(scene, crowded):
    found = look_for_order(read_shop(scene.shop, NOON), schedules=40)

    assert found.gain >= 0
    assert found.schedules > 0
    assert {job for job, _ in found.turns} == {f"job{scene.job.pk}", f"job{crowded.pk}"}


def test_the_page_looks_only_when_asked(client, scene):
    page = client.get(LIST).content.decode()

    assert "Look for a better order" in page
    assert "plans tried" not in page
    assert "plans tried" in client.get(LIST, {"look": "1"}).content.decode()


def test_an_order_is_proposed_with_its_gain_and_the_dates_it_moves(client, scene, monkeypatch):
    coach = CoachInOrder(scene.job, NOON.date() + timedelta(days=9), NOON.date() + timedelta(days=4))

    page = proposed(client, scene, monkeypatch, coaches=(coach,)).content.decode()

    assert "25 % less lateness" in page
    assert "-5 days" in page
    assert "Adopt this order" in page
    assert ShopPlan.objects.get().turns == []


def test_below_the_stated_gain_nothing_is_proposed(client, scene, monkeypatch):
    page = proposed(client, scene, monkeypatch, gain=0.04).content.decode()

    assert "below 5 % nothing is proposed" in page
    assert "Adopt this order" not in page


def test_an_adopted_order_is_planned_by_until_it_is_dropped(client, scene, monkeypatch):
    coach = CoachInOrder(scene.job, NOON.date(), NOON.date() - timedelta(days=1))
    sealed = proposed(client, scene, monkeypatch, coaches=(coach,)).context["order"]

    response = client.post(ADOPT, {"order": sealed}, follow=True)

    assert "The order is adopted." in response.content.decode()
    assert read_shop(scene.shop, NOON).turns == order_of(scene).turns
    assert "Back to the rule’s order" in response.content.decode()

    client.post(DROP)
    assert read_shop(scene.shop, NOON).turns == ()


def test_another_turn_for_a_coach_ends_an_adopted_order(client, scene, monkeypatch):
    sealed = proposed(client, scene, monkeypatch).context["order"]
    client.post(ADOPT, {"order": sealed})

    set_priority(job_id=scene.job.pk, priority=3, by=scene.manager, now=NOON)

    assert read_shop(scene.shop, NOON).turns == ()


def test_an_order_from_before_the_last_event_is_refused(client, scene, monkeypatch):
    sealed = proposed(client, scene, monkeypatch).context["order"]
    set_priority(job_id=scene.job.pk, priority=3, by=scene.manager, now=NOON)

    response = client.post(ADOPT, {"order": sealed})

    assert response.status_code == 409
    assert "Please look for an order again." in response.content.decode()
    assert ShopPlan.objects.get().turns == []


@pytest.mark.parametrize("order", ["", "rubbish", "a:b:c"])
def test_a_damaged_order_is_refused(client, scene, order):
    response = client.post(ADOPT, {"order": order})

    assert response.status_code == 422
    assert "damaged on its way" in response.content.decode()


def test_an_order_of_another_shop_is_refused(client, scene, monkeypatch):
    sealed = proposed(client, scene, monkeypatch).context["order"]
    client.force_login(PersonFactory(role=Person.Role.MANAGER))

    assert client.post(ADOPT, {"order": sealed}).status_code == 422


def test_a_shop_that_cannot_be_planned_says_so(client, scene):
    Person.objects.filter(shop=scene.shop, role="technician").update(is_active=False)

    response = client.get(LIST, {"look": "1"})

    assert response.status_code == 422
    assert response.context["refusal"]


def test_an_order_is_neither_adopted_nor_dropped_while_no_plan_can_be_made(client, scene, monkeypatch):
    sealed = proposed(client, scene, monkeypatch).context["order"]
    Person.objects.filter(shop=scene.shop, role="technician").update(is_active=False)

    for url, given in ((ADOPT, {"order": sealed}), (DROP, {})):
        response = client.post(url, given)

        assert response.status_code == 422
        assert "No plan can be made:" in response.content.decode()
    assert ShopPlan.objects.get().turns == []


def test_coaches_moved_through_another_are_told_apart(client, scene, crowded):
    DateChange.objects.create(
        job=crowded,
        from_on=NOON.date(),
        to_on=NOON.date() + timedelta(days=2),
        cause=DateChange.Cause.OTHER_COACH,
        words=f"Job {scene.job.number}: Finding 3, rotten framing",
        changed_at=NOON,
    )

    response = client.get(LIST)

    replan = response.context["replans"][0]
    assert [move.job for move in replan.through_others][-1] == crowded
    assert "through another coach." in response.content.decode()


def test_moves_older_than_a_week_are_left_out(client, scene):
    DateChange.objects.update(changed_at=NOON - timedelta(days=8))

    assert "No date has moved." in client.get(LIST).content.decode()


def test_only_a_manager_sees_and_adopts(client, scene):
    assert client.get(ADOPT).status_code == 405
    client.force_login(scene.technician)
    assert client.get(LIST).status_code == 403
    assert client.post(ADOPT).status_code == 403
    assert client.post(DROP).status_code == 403
