"""What the last plans moved, and a better order: proposed with its gain, in force only by a press."""

from datetime import timedelta

import pytest
import time_machine

from estimates.inputs import read_shop
from estimates.models import DateChange, OrderSearch, ShopPlan
from estimates.services.order_search import LEASE, look_for_order
from estimates.what_if import WhatIf, ask
from jobs.models import Person
from jobs.services.booking import set_priority
from tests.factories import NOON, PersonFactory
from tests.scenes import crowded_bay, opened_coach

pytestmark = pytest.mark.django_db

LIST, LOOK = "/manager/moves/", "/manager/moves/look/"
ADOPT, DROP = "/manager/moves/adopt/", "/manager/moves/drop/"


@pytest.fixture
def scene(client):
    with time_machine.travel(NOON, tick=False):
        scene = opened_coach(NOON)
        client.force_login(scene.manager)
        yield scene


@pytest.fixture
def crowded(client, keep_crowded, settings):
    settings.ORDER_SEARCH_SECONDS, settings.ORDER_POLISH_SECONDS = 0.3, 0.0
    with time_machine.travel(NOON, tick=False):
        scene, _ = keep_crowded()
        client.force_login(scene.manager)
        yield scene


@pytest.fixture(scope="module")
def keep_crowded(keeper):
    with time_machine.travel(NOON, tick=False):
        return keeper(crowded_bay, NOON)


def proposed(client, scene):
    """The page once the worker has searched."""
    look_for_order(scene.shop, now=NOON)
    return client.get(LIST)


def test_the_page_shows_at_once_what_is_known_and_searches_nothing_itself(client, crowded):
    page = client.get(LIST).content.decode()

    assert "No order has been looked for yet." in page
    assert "The search begins in some seconds." in page
    assert "Look again" in page
    assert not OrderSearch.objects.exists()


def test_an_order_is_proposed_with_its_gain_and_the_dates_it_moves(client, crowded):
    page = proposed(client, crowded).content.decode()

    search = OrderSearch.objects.get()
    assert f"{round(100 * search.gain)} % less lateness against promises." in page
    assert "Days past promises, all coaches together:" in page
    assert "Brindlewick" in page
    assert "Adopt this order" in page
    assert "The longer search after the first second found nothing better." in page
    assert ShopPlan.objects.get().turns == []


def test_days_past_promises_are_counted_as_the_what_if_counts_them(client, crowded):
    order = proposed(client, crowded).context["order"]

    before = ask(read_shop(crowded.shop, NOON), WhatIf()).late_days_now
    client.post(ADOPT, {"version": order.search.version})
    after = ask(read_shop(crowded.shop, NOON), WhatIf()).late_days_now

    assert order.late_days == (before, after)
    assert before > after


def test_what_the_longer_search_gained_is_told(client, crowded, settings):
    settings.ORDER_SEARCH_SECONDS, settings.ORDER_POLISH_SECONDS = 0.0, 0.3

    page = proposed(client, crowded).content.decode()

    gain_pct = round(100 * OrderSearch.objects.get().gain)
    assert f"The first second gained 0 %, the longer search after it {gain_pct} %." in page


def test_while_the_worker_searches_the_part_asks_again_and_the_order_can_be_adopted(client, crowded):
    proposed(client, crowded)
    OrderSearch.objects.update(claim="0" * 32, claimed_until=NOON + LEASE, is_polished=False)

    part = client.get(LIST, headers={"HX-Request": "true"}).content.decode()

    assert part.lstrip().startswith('<section id="better-order"')
    assert 'hx-trigger="every 2s"' in part
    assert "The search goes on from what was found" in part
    assert "Adopt this order" in part
    assert "<html" not in part


def test_once_it_is_over_the_part_asks_no_more(client, crowded):
    proposed(client, crowded)

    part = client.get(LIST, headers={"HX-Request": "true"}).content.decode()

    assert "hx-trigger" not in part
    assert "Search once more" in part


def test_below_the_stated_gain_nothing_is_proposed_nor_adopted(client, crowded):
    proposed(client, crowded)
    OrderSearch.objects.update(gain=0.04)

    page = client.get(LIST).content.decode()

    assert "4 % gained, and below 5 %" in page
    assert "Adopt this order" not in page
    assert client.post(ADOPT, {"version": OrderSearch.objects.get().version}).status_code == 409


def test_a_press_asks_the_worker(client, crowded):
    proposed(client, crowded)

    response = client.post(LOOK, follow=True)

    assert OrderSearch.objects.get().asked_at == NOON
    assert "The search begins in some seconds." in response.content.decode()


def test_an_adopted_order_is_planned_by_until_it_is_dropped(client, crowded):
    version = proposed(client, crowded).context["order"].search.version
    turns = OrderSearch.objects.get().turns

    response = client.post(ADOPT, {"version": version}, follow=True)

    assert "The order is adopted." in response.content.decode()
    assert [list(turn) for turn in read_shop(crowded.shop, NOON).turns] == turns
    assert "Back to the rule’s order" in response.content.decode()
    assert "Adopt this order" not in response.content.decode()

    client.post(DROP)
    assert read_shop(crowded.shop, NOON).turns == ()


def test_another_turn_for_a_coach_ends_an_adopted_order(client, crowded):
    version = proposed(client, crowded).context["order"].search.version
    client.post(ADOPT, {"version": version})

    set_priority(job_id=crowded.job.pk, priority=3, by=crowded.manager, now=NOON)

    assert read_shop(crowded.shop, NOON).turns == ()


def test_an_order_from_before_the_last_event_is_neither_shown_nor_adopted(client, crowded):
    version = proposed(client, crowded).context["order"].search.version
    set_priority(job_id=crowded.job.pk, priority=3, by=crowded.manager, now=NOON)

    response = client.post(ADOPT, {"version": version})

    assert response.status_code == 409
    page = response.content.decode()
    assert "Something has happened in the shop since. The order is looked for again" in page
    assert "Adopt this order" not in page
    assert ShopPlan.objects.get().turns == []


def test_another_order_than_the_one_shown_is_not_adopted(client, crowded):
    version = proposed(client, crowded).context["order"].search.version
    OrderSearch.objects.update(version=version + 1)

    response = client.post(ADOPT, {"version": version})

    assert response.status_code == 409
    assert "Another order has been found since." in response.content.decode()
    assert ShopPlan.objects.get().turns == []


@pytest.mark.parametrize("version", ["", "rubbish", "-1", "²"])
def test_a_damaged_order_is_refused(client, scene, version):
    response = client.post(ADOPT, {"version": version})

    assert response.status_code == 422
    assert "damaged on its way" in response.content.decode()


def test_an_order_of_another_shop_is_refused(client, crowded):
    version = proposed(client, crowded).context["order"].search.version
    client.force_login(PersonFactory(role=Person.Role.MANAGER))

    assert client.post(ADOPT, {"version": version}).status_code == 409
    assert ShopPlan.objects.get().turns == []


def test_a_shop_that_cannot_be_planned_says_so(client, scene):
    Person.objects.filter(shop=scene.shop, role="technician").update(is_active=False)

    page = proposed(client, scene).content.decode()

    assert "No better order can be looked for, since no plan can be made:" in page


def test_an_order_is_neither_adopted_nor_dropped_while_no_plan_can_be_made(client, crowded):
    version = proposed(client, crowded).context["order"].search.version
    Person.objects.filter(shop=crowded.shop, role="technician").update(is_active=False)

    for url, given in ((ADOPT, {"version": version}), (DROP, {})):
        response = client.post(url, given)

        assert response.status_code == 422
        assert "No plan can be made:" in response.content.decode()
    assert ShopPlan.objects.get().turns == []


def test_coaches_moved_through_another_are_told_apart(client, keep_crowded, crowded):
    scene, crowded = keep_crowded()
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
    for url in (LOOK, ADOPT, DROP):
        assert client.get(url).status_code == 405
    client.force_login(scene.technician)
    assert client.get(LIST).status_code == 403
    for url in (LOOK, ADOPT, DROP):
        assert client.post(url).status_code == 403
