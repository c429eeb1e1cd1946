"""Whose days are whose: several changes since the last plan, split by planning with one after another put in."""

import random
from datetime import timedelta

import pytest

from estimates.changes import stages_of
from estimates.inputs import read_shop
from estimates.models import DateChange, JobForecast
from estimates.overruns import steps_until
from estimates.plan_keys import job_key
from estimates.services.planning import replan_for_time, work_out_plan
from jobs.models import ApprovalRequest, Decision, HoldPoint, Operation
from jobs.services.approvals import Answer, record_decision, withdraw_request
from jobs.services.booking import set_priority
from jobs.services.remedies import OwnRemedy
from jobs.services.work import fail_hold_point, finish_operation, pass_hold_point, start_operation, what_blocks
from jobs.stages import progress_of
from shopfloor.demo.telling import drain
from tests.factories import NOON
from tests.scenes import find_rot

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
Cause = DateChange.Cause


@pytest.fixture
def scene(kept_coach):
    return kept_coach()


def moves_since(scene, first):
    return list(DateChange.objects.filter(job=scene.job, pk__gt=first).values_list("cause", "from_on", "to_on"))


def last_move():
    return DateChange.objects.latest("pk").pk


def slow_rot(scene, now):
    skill = scene.shop.skills.first()
    return find_rot(scene, remedy=OwnRemedy("Dry it out slowly", 2.0, skill, wait_hours=168.0), now=now)


def expected_on(scene):
    return JobForecast.objects.get(job=scene.job).expected_on


def test_days_that_passed_unused_are_times_and_the_findings_its_own(scene):
    before, first = expected_on(scene), last_move()
    late = NOON + 5 * DAY
    snapshot = read_shop(scene.shop, late)
    time_alone = scene.shop.local_date(snapshot.schedule().jobs[job_key(scene.job.pk)].ready_at)
    slow_rot(scene, late)
    drain(late)

    assert moves_since(scene, first) == [
        (Cause.WORK, before, time_alone),
        (Cause.FINDING, time_alone, expected_on(scene)),
    ]
    words = DateChange.objects.filter(pk__gt=first).values_list("words", flat=True)
    assert words[0].startswith("Not begun:")
    assert words[1].startswith("Finding ")


def test_the_same_at_once_is_the_findings_alone(scene):
    first = last_move()
    slow_rot(scene, NOON)
    drain(NOON)

    assert {cause for cause, _, _ in moves_since(scene, first)} == {Cause.FINDING}


def test_a_repeat_after_a_failed_check_is_rework_and_the_wait_for_it_time(scene):
    operation = scene.job.operations.filter(hold_point__isnull=False).first()
    for each in scene.job.operations.order_by("phase", "position", "pk"):
        start_operation(operation_id=each.pk, by=scene.technician, now=NOON)
        finish_operation(operation_id=each.pk, by=scene.technician, now=NOON)
        if each == operation:
            break
    drain(NOON)
    before, first = expected_on(scene), last_move()
    late = NOON + 6 * DAY
    check = HoldPoint.objects.get(operation=operation)

    fail_hold_point(hold_point_id=check.pk, note="Hollow.", redo_hours=40.0, by=scene.manager, now=late)
    drain(late)

    moves = moves_since(scene, first)
    assert [cause for cause, _, _ in moves][-1] == Cause.REWORK
    assert (moves[0][1], moves[-1][2]) == (before, expected_on(scene))
    assert len(moves) == 2


def test_a_yes_that_came_late_moves_nothing_by_itself_but_the_time_it_took(scene):
    slow_rot(scene, NOON)
    drain(NOON)
    first, late = last_move(), NOON + 4 * DAY
    asked = ApprovalRequest.objects.get()

    record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(asked.remedy, scene.owner.name, scene.owner, Decision.Channel.LINK),
        by=None,
        now=late,
    )
    drain(late)

    assert {cause for cause, _, _ in moves_since(scene, first)} <= {Cause.WORK, Cause.ANSWER}
    assert sum((to_on - from_on).days for _, from_on, to_on in moves_since(scene, first)) > 0


def test_a_question_taken_back_gives_its_days_back_under_its_own_name(scene):
    slow_rot(scene, NOON)
    drain(NOON)
    before, first, late = expected_on(scene), last_move(), NOON + DAY

    withdraw_request(request_id=ApprovalRequest.objects.get().pk, reason="Dry.", by=scene.manager, now=late)
    drain(late)

    cause, from_on, to_on = moves_since(scene, first)[-1]
    assert cause == Cause.FINDING
    assert to_on < from_on
    assert moves_since(scene, first)[0][1] == before


def test_what_cannot_be_told_from_time_is_one_cause(scene):
    snapshot = read_shop(scene.shop, NOON + 3 * DAY)
    moved = scene.job.entries.filter(kind="coach_moved").latest("pk")
    snapshot.entries[:] = [moved]

    stages = stages_of(snapshot, snapshot.ready_on())

    assert [stage.entry for stage in stages] == [moved]


def test_a_change_after_it_is_still_told_apart(scene):
    turned = set_priority(job_id=scene.job.pk, priority=2, by=scene.manager, now=NOON).entries.latest("pk")
    snapshot = read_shop(scene.shop, NOON + 3 * DAY)
    moved = scene.job.entries.filter(kind="coach_moved").latest("pk")
    snapshot.entries[:] = [moved, turned]

    assert [stage.entry for stage in stages_of(snapshot, snapshot.ready_on())] == [moved, turned]


def test_nothing_new_leaves_time_alone(scene):
    snapshot = read_shop(scene.shop, NOON + 3 * DAY)

    assert [stage.entry for stage in stages_of(snapshot, snapshot.ready_on())] == [None]


@pytest.mark.parametrize("seed", range(6))
def test_whatever_happens_before_a_plan_the_days_add_up_to_the_move(scene, seed):
    """Some random hours of a shop, planned now and then; after each plan the moves since are one unbroken chain."""
    rng, now = random.Random(seed), NOON

    for _ in range(5):
        before, first = expected_on(scene), last_move()
        now += timedelta(hours=rng.choice([0, 1, 20, 70]))
        for _ in range(rng.randint(0, 3)):
            _something(scene, rng, now)
        replan_for_time(work_out_plan(read_shop(scene.shop, now)), now=now)
        drain(now)

        moves = moves_since(scene, first)
        days = sum((to_on - from_on).days for _, from_on, to_on in moves)
        assert days == (expected_on(scene) - before).days
        assert [from_on for _, from_on, _ in moves] == [before, *(to_on for _, _, to_on in moves)][:-1] or not moves


def _something(scene, rng, now):
    """One thing that can happen to the coach at this moment, if it can."""
    running = Operation.objects.filter(job=scene.job, started_at__isnull=False, finished_at__isnull=True).first()
    ready = scene.job.operations.filter(started_at__isnull=True).order_by("phase", "position", "pk").first()
    if running:
        finish_operation(operation_id=running.pk, by=scene.technician, now=now)
    elif ready and not what_blocks(ready) and rng.random() < 0.5:
        start_operation(operation_id=ready.pk, by=scene.technician, now=now)
    elif not ApprovalRequest.objects.open().exists() and scene.job.findings.count() < 5:
        slow_rot(scene, now)
    else:
        job = type(scene.job).objects.get(pk=scene.job.pk)
        set_priority(job_id=job.pk, priority=job.priority % 9 + 1, by=scene.manager, now=now)


def test_a_coach_that_waited_for_its_last_signature_is_ready_with_it_and_the_days_are_the_signatures(scene):
    for operation in scene.job.operations.order_by("phase", "position", "pk"):
        sign_off(scene, NOON)
        start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
        finish_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
    drain(NOON)
    assert HoldPoint.objects.waiting().filter(operation__job=scene.job).exists()
    first, late = last_move(), NOON + 5 * DAY  # the Monday after

    snapshot = read_shop(scene.shop, late)
    replan_for_time(work_out_plan(snapshot), now=late)
    sign_off(scene, late)
    drain(late)

    ready_on = progress_of([scene.job])[scene.job.pk].ready_on(scene.shop)
    assert expected_on(scene) == ready_on == scene.shop.local_date(late)
    moves = DateChange.objects.filter(job=scene.job, pk__gt=first)
    assert [move.words for move in moves] == ["Check to be signed off"]
    days = (ready_on - scene.job.promise.ready_on).days
    steps = steps_until(scene.job.promise, DateChange.objects.filter(job=scene.job), days)
    assert "ready" not in {step.cause for step in steps}


def sign_off(scene, now):
    for check in HoldPoint.objects.waiting().filter(operation__job=scene.job, operation__finished_at__isnull=False):
        pass_hold_point(hold_point_id=check.pk, note="", by=scene.manager, now=now)
