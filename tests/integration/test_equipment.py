"""Counted equipment, from the catalogue and the manager's page into the plan, and what is said where it runs short."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
import time_machine
from django.urls import reverse

from estimates.calc.plan.checker import violations
from estimates.equipment import equipment_of, short_work
from estimates.inputs import read_shop
from estimates.models import DateChange
from estimates.plan_keys import job_key, operation_key
from jobs.calc.equipment import MOST_AT_ONCE, count_for
from jobs.calc.faces import Face, Place
from jobs.models import ApprovalRequest, Decision, Equipment, Operation
from jobs.services.approvals import Answer, record_decision
from jobs.services.work import fail_hold_point
from shopfloor.demo.telling import drain
from tests.factories import (
    NOON,
    FindingFactory,
    HoldPointFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    ShopFactory,
    SkillFactory,
)
from tests.scenes import find_rot, opened_coach

pytestmark = pytest.mark.django_db

PAGE = "/manager/equipment/"
DAY = timedelta(days=1)


def two_coaches():
    """Each in a bay of its own, with a day of drying that holds two blowers and a dehumidifier."""
    shop = ShopFactory()
    manager, technician = PersonFactory(shop=shop, manager=True), PersonFactory(shop=shop)
    technician.skills.add(SkillFactory(shop=shop))
    waits = []
    for name in ("Dry the roof", "Dry the floor"):
        job = JobFactory(shop=shop, in_bay=True)
        wait = OperationFactory(
            remedy=RemedyFactory(finding=FindingFactory(job=job)),
            wait=True,
            phase=2,
            words=name,
            hours=24.0,
            blowers=2,
            dehumidifiers=1,
        )
        waits.append(wait)
    return SimpleNamespace(shop=shop, manager=manager, technician=technician, waits=waits)


@pytest.fixture(scope="module")
def kept(keeper):
    return keeper(two_coaches)


@pytest.fixture
def scene(kept):
    with time_machine.travel(NOON, tick=False):
        yield kept()


def owns(shop, **counts):
    for kind, count in counts.items():
        Equipment.objects.create(shop=shop, kind=kind, count=count)


def starts(scene):
    """When each wait begins, by the plan made of the rows; the checker finds no fault with it."""
    snapshot = read_shop(scene.shop, NOON)
    schedule = snapshot.schedule()
    assert violations(snapshot._problem(120), schedule) == []
    tasks = {task.key: task for plan in schedule.jobs.values() for task in plan.tasks}
    return [tasks[operation_key(wait.pk)].start_at for wait in scene.waits]


@pytest.mark.parametrize(
    ("counts", "second_after"),
    [
        ({}, timedelta(0)),
        ({"blower": 4, "dehumidifier": 2}, timedelta(0)),
        ({"blower": 3}, DAY),
        ({"blower": 2}, DAY),
        ({"blower": 40, "dehumidifier": 1}, DAY),
        ({"heater": 1}, timedelta(0)),
    ],
    ids=["nobody counted", "enough", "one short", "for one coach", "dehumidifiers short", "of another kind"],
)
def test_what_the_shop_has_is_given_out_once(scene, counts, second_after):
    owns(scene.shop, **counts)

    assert starts(scene) == [NOON, NOON + second_after]


def test_another_shops_equipment_is_not_counted(scene):
    owns(ShopFactory(), blower=2)

    assert starts(scene) == [NOON, NOON]


def test_work_that_needs_more_than_there_is_is_planned_with_all_of_it_and_said(client, scene):
    owns(scene.shop, blower=2)
    Operation.objects.filter(pk=scene.waits[0].pk).update(blowers=4)
    short, enough = (Operation.objects.get(pk=wait.pk).job for wait in scene.waits)

    assert starts(scene) == [NOON, NOON + DAY]
    client.force_login(scene.manager)
    client.post(PAGE, {"blower": "2"})
    said = "“Dry the roof” needs 4 blowers; the shop has 2."
    assert [(each.job, each.words) for each in client.get("/manager/").context["board"].short] == [(short, said)]
    pages = {job.pk: client.get(reverse("shopfloor:job-detail", args=[job.pk])).text for job in (short, enough)}
    assert said in pages[short.pk]
    assert "the shop has 2" not in pages[enough.pk]


def test_what_is_finished_runs_short_of_nothing(scene):
    Operation.objects.update(started_at=NOON - DAY, finished_at=NOON)

    assert list(short_work([wait.job for wait in scene.waits], {"blower": 1})) == []


def test_what_runs_may_hold_more_than_was_counted_and_the_next_waits_for_it(scene):
    owns(scene.shop, blower=2)
    begun_at = NOON - timedelta(hours=4)
    Operation.objects.update(started_at=begun_at)
    third = OperationFactory(
        remedy=RemedyFactory(finding=FindingFactory(job=JobFactory(shop=scene.shop, in_bay=True))),
        wait=True,
        phase=2,
        hours=6.0,
        blowers=1,
    )
    scene.waits.append(third)

    assert starts(scene) == [begun_at, begun_at, begun_at + DAY]


def test_a_recipes_needs_are_offered_and_stand_in_what_is_agreed():
    with time_machine.travel(NOON, tick=False):
        coach = opened_coach(NOON)
        remedy = coach.shop.standard_remedies.get(name="Renew wet insulation")
        find_rot(coach, kind="wet_insulation", remedy=remedy)
        drain(NOON)
        owns(coach.shop, blower=3)

        (plan,) = [job for job in read_shop(coach.shop, NOON)._problem(30).jobs if job.key == job_key(coach.job.pk)]
        offered = {task.words: task.equipment for task in plan.tasks if task.part}
        assert offered["Dry the open space"] == (("blower", 2),), "what nobody has counted is left out"
        assert offered["Fit new insulation"] == ()

        request = ApprovalRequest.objects.open().get()
        chosen = request.choices.get(standard=remedy)
        record_decision(
            request_id=request.pk,
            seen_sha256=request.offer_sha256,
            answer=Answer(chosen, "Delia M.", coach.owner, Decision.Channel.LINK),
            by=None,
            now=NOON,
        )
        drain(NOON)

        # 1.8 m by 0.15 m: 2.9 square feet.
        agreed = {each.words: (each.holds, each.amount) for each in chosen.operations.all()}
        assert agreed == {
            "Take out wet insulation": ("", "2.9 ft²"),
            "Dry the open space": ("2 blowers, 1 dehumidifier", "2.9 ft²"),
            "Fit new insulation": ("", "2.9 ft²"),
        }


def test_a_larger_place_is_offered_more_blowers_which_are_planned_and_said_where_there_are_too_few(client):
    """As found: 30 sq ft with two blowers at least; 164 sq ft takes one for each 50 sq ft begun."""
    with time_machine.travel(NOON, tick=False):
        coach = opened_coach(NOON)
        owns(coach.shop, blower=3)
        remedy = coach.shop.standard_remedies.get(name="Renew wet insulation")
        widths = {"roof": (2100, 1300), "floor": (2000, 7620)}
        for face, (across_mm, along_mm) in widths.items():
            place = Place(Face(face), 0, 0, along_mm, across_mm)
            find_rot(coach, kind="wet_insulation", remedy=remedy, place=place)
        drain(NOON)
        for request in ApprovalRequest.objects.open():
            record_decision(
                request_id=request.pk,
                seen_sha256=request.offer_sha256,
                answer=Answer(request.remedy, "Delia M.", coach.owner, Decision.Channel.LINK),
                by=None,
                now=NOON,
            )
        drain(NOON)

        agreed = {each.remedy.finding.face: each for each in Operation.objects.filter(words="Dry the open space")}
        assert {face: (each.holds, each.amount) for face, each in agreed.items()} == {
            "roof": ("2 blowers, 1 dehumidifier", "29.4 ft²"),
            "floor": ("4 blowers, 1 dehumidifier", "164 ft²"),
        }
        (plan,) = [job for job in read_shop(coach.shop, NOON)._problem(30).jobs if job.key == job_key(coach.job.pk)]
        assert sorted(dict(task.equipment)["blower"] for task in plan.tasks if task.equipment) == [2, 3]

        client.force_login(coach.manager)
        said = "“Dry the open space” needs 4 blowers; the shop has 3."
        assert said in client.get(reverse("shopfloor:board")).text
        assert said in client.get(reverse("shopfloor:job-detail", args=[coach.job.pk])).text
        catalogue = client.get(reverse("estimates:catalogue-list")).text
        assert "holds 1 blower for each 50 ft², at least 2; 1 dehumidifier" in catalogue


@pytest.mark.parametrize(
    ("area_ft2", "at_least", "each_ft2", "count"),
    [
        (4, 2, None, 2),
        (400, 0, None, 0),
        (4, 0, 40, 1),
        (40, 0, 40, 1),
        (41, 0, 40, 2),
        (40, 3, 40, 3),
        (200, 3, 40, 5),
        (0, 0, 40, 1),
        (5000, 0, 50, MOST_AT_ONCE),
    ],
)
def test_one_is_held_for_each_so_much_begun_areas_counted_whole(area_ft2, at_least, each_ft2, count):
    m2 = 0.3048**2
    each_m2 = each_ft2 * m2 if each_ft2 else None

    assert count_for(area_ft2 * m2, at_least=at_least, one_for_each_m2=each_m2) == count


def test_no_area_below_nought_and_none_for_each_nothing():
    with pytest.raises(ValueError, match="area_m2 must not be below 0"):
        count_for(-1.0, at_least=1, one_for_each_m2=None)
    with pytest.raises(ValueError, match="one_for_each_m2 must be above 0"):
        count_for(1.0, at_least=1, one_for_each_m2=0.0)


def test_work_done_again_needs_what_it_needed(scene):
    wait = scene.waits[0]
    Operation.objects.filter(pk=wait.pk).update(started_at=NOON - DAY, finished_at=NOON, amount="12 ft²")
    hold_point = HoldPointFactory(operation=Operation.objects.get(pk=wait.pk))

    again = fail_hold_point(hold_point_id=hold_point.pk, note="Wet.", redo_hours=24.0, by=scene.manager, now=NOON)

    assert (again.blowers, again.dehumidifiers, again.heaters, again.amount) == (2, 1, 0, "12 ft²")


class TestPage:
    def test_a_number_is_kept_planned_at_once_and_put_down_as_the_cause(self, client, scene):
        client.force_login(scene.manager)
        client.post(PAGE, {"blower": "", "dehumidifier": "", "heater": ""})

        response = client.post(PAGE, {"blower": " 2 ", "dehumidifier": "", "heater": "1"}, follow=True)

        assert equipment_of(scene.shop.pk) == {"blower": 2, "heater": 1}
        assert 'value="2"' in response.text
        moved = DateChange.objects.get(job=scene.waits[1].job, from_on__isnull=False)
        assert (moved.to_on - moved.from_on, moved.words) == (DAY, "The shop’s equipment counted anew")
        assert not DateChange.objects.filter(job=scene.waits[0].job, from_on__isnull=False).exists()

    def test_an_emptied_number_is_not_counted_any_more(self, client, scene):
        owns(scene.shop, blower=2, dehumidifier=1)
        client.force_login(scene.manager)

        client.post(PAGE, {"blower": "", "dehumidifier": "3"})

        assert equipment_of(scene.shop.pk) == {"dehumidifier": 3}

    @pytest.mark.parametrize("typed", ["-1", "1.5", "two", "201", "9" * 40])
    def test_what_is_no_number_of_blowers_is_refused_beside_the_field_and_kept(self, client, scene, typed):
        owns(scene.shop, blower=4)
        client.force_login(scene.manager)

        response = client.post(PAGE, {"blower": typed, "dehumidifier": "1"})

        assert response.status_code == 422
        assert response.context["form"].errors["blower"] == ["Write a whole number from 0 to 200, or leave it empty."]
        assert f'value="{typed}"' in response.text
        assert equipment_of(scene.shop.pk) == {"blower": 4}

    def test_a_shop_that_has_none_can_say_so_and_work_that_needs_some_is_planned_without(self, client, scene):
        client.force_login(scene.manager)

        response = client.post(PAGE, {"blower": "0", "dehumidifier": "1"}, follow=True)

        assert equipment_of(scene.shop.pk) == {"blower": 0, "dehumidifier": 1}
        assert 'value="0"' in response.text
        assert starts(scene) == [NOON, NOON + DAY], "the dehumidifier is still given out once"
        page = client.get(reverse("shopfloor:job-detail", args=[scene.waits[0].job.pk])).text
        assert "“Dry the roof” needs 2 blowers; the shop has none." in page

    def test_the_row_of_the_plan_says_what_the_work_holds(self, client, scene):
        client.force_login(scene.manager)
        address = reverse("shopfloor:job-detail", args=[scene.waits[0].job.pk])
        held = {
            "": "2 blowers",
            "2": "2 blowers",
            "1": "1 of the 2 blowers it needs",
            "0": "without the 2 blowers it needs",
        }

        for typed, words in held.items():
            client.post(PAGE, {"blower": typed, "dehumidifier": ""})

            assert f"no hands needed; {words}, 1 dehumidifier" in client.get(address).text

    def test_a_technician_does_not_count(self, client, scene):
        client.force_login(scene.technician)

        assert client.post(PAGE, {"blower": "1"}).status_code == 403
        assert client.get(PAGE).status_code == 403
        assert equipment_of(scene.shop.pk) == {}
