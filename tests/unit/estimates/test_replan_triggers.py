"""Every kind of journal entry: either it calls for a plan of its own, or it is known why not."""

from datetime import timedelta

import pytest
import time_machine

from estimates import kinds as estimate_kinds
from estimates.changes import _UNDO
from estimates.inputs import REPLANNED_ON
from estimates.models import DateChange, JobForecast, ShopPlan
from jobs import kinds
from jobs.journal import KINDS
from jobs.models import JournalEntry
from jobs.services.booking import BookedWork, book_job, check_in, leave_bay, promise_date
from jobs.services.work import start_operation
from shopfloor.demo.telling import drain
from tests.factories import NOON, CoachFactory
from tests.scenes import FRONT_EDGE, opened_coach
from updates import kinds as update_kinds

# What is changed by these is read by the planner, and each is followed by an entry that calls for a plan.
LEADING_TO = {
    kinds.JOB_BOOKED: estimate_kinds.SCOPE_SETTLED,  # once its first revision is written, its work is there
    kinds.OWNER_DECIDED: estimate_kinds.SCOPE_SETTLED,
    kinds.WORK_AGREED: estimate_kinds.SCOPE_SETTLED,
    kinds.FINDING_POSTED: kinds.OWNER_ASKED,
    kinds.REMEDIES_ADJUSTED: kinds.OWNER_ASKED,
    estimate_kinds.OFFER_MADE: kinds.OWNER_ASKED,
    kinds.ROUND_TAKEN: kinds.DRYING_WORKED_OUT,
    kinds.READING_STRUCK: kinds.DRYING_WORKED_OUT,
    kinds.STATION_RETIRED: kinds.DRYING_WORKED_OUT,
    kinds.STATION_RESTORED: kinds.DRYING_WORKED_OUT,
    kinds.LIMITS_CHANGED: kinds.DRYING_WORKED_OUT,
}
# The planner reads nothing of what these tell of.
NOT_READ = {
    kinds.PHOTOS_ADDED,
    kinds.CLOCKED_ON,  # who is on an operation; who has joined it has an entry of its own
    kinds.CLOCKED_OFF,
    kinds.SPAN_MENDED,
    kinds.MATERIAL_USED,
    kinds.STATION_MARKED,  # it counts from its first round on
    kinds.EVIDENCE_NOTED,
    kinds.VERDICT_REACHED,
    kinds.VERDICT_OVERRULED,
    kinds.EQUIPMENT_PLACED,  # where it stands; how much there is is counted on its own page
    kinds.EQUIPMENT_TAKEN_AWAY,
    kinds.FRAMING_NOTED,  # prices what comes after
    estimate_kinds.TERMS_CHANGED,
    estimate_kinds.PAYMENT_TAKEN,
    estimate_kinds.PAYMENT_TAKEN_BACK,
    estimate_kinds.MONEY_GIVEN_BACK,
    estimate_kinds.SCOPE_PLANNED,  # what a plan itself writes
    estimate_kinds.DATE_MOVED,
    update_kinds.UPDATE_WRITTEN,
    update_kinds.UPDATE_SENT,
    update_kinds.UPDATE_REFUSED,
    update_kinds.LINKS_WITHDRAWN,
}
# What cannot be taken out of the shop again: where a coach stood and what else stood there meanwhile.
STAYS = {kinds.COACH_MOVED, kinds.COACH_COLLECTED}

pytestmark = pytest.mark.one_database


def test_every_kind_of_entry_is_known_to_call_for_a_plan_or_not():
    groups = [set(REPLANNED_ON), set(LEADING_TO), NOT_READ]

    assert set().union(*groups) == set(KINDS)
    assert sum(map(len, groups)) == len(KINDS)
    assert set(LEADING_TO.values()) <= set(REPLANNED_ON)


def test_what_calls_for_a_plan_can_be_taken_out_again_but_for_what_is_named():
    assert set(_UNDO) == set(REPLANNED_ON) - STAYS


@pytest.fixture
def scene(db):
    with time_machine.travel(NOON, tick=False):
        yield opened_coach(NOON)


def last_entry_of(kind):
    return JournalEntry.objects.filter(kind=kind).order_by("pk").last().pk


def test_a_promise_makes_a_plan_of_its_own(scene):
    promise_date(
        job=scene.job,
        ready_on=scene.shop.local_date(NOON) + timedelta(days=9),
        expected_on=None,
        reason="Parts come later.",
        by=scene.manager,
        now=NOON,
    )

    drain(NOON)

    assert ShopPlan.objects.get().last_entry >= last_entry_of(kinds.DATE_PROMISED)


@pytest.fixture
def waiting(db):
    """Nobody stands in the one bay; two coaches of one turn wait for it, the one booked first goes first."""
    with time_machine.travel(NOON, tick=False):
        scene = opened_coach(NOON)
        leave_bay(job_id=scene.job.pk, by=scene.technician, now=NOON)
        remedy = scene.shop.standard_remedies.get(name="Cut out and splice framing")
        coaches = [
            book_job(
                coach=CoachFactory(shop=scene.shop, make=make),
                complaint="Drip.",
                arrives_on=scene.shop.local_date(NOON),
                work=[BookedWork("rotten_framing", FRONT_EDGE, "Soft.", remedy)],
                by=scene.manager,
                now=NOON,
            )
            for make in ("Brindlewick", "Copperlane")
        ]
        for job in coaches:
            check_in(job_id=job.pk, by=scene.manager, now=NOON)
        drain(NOON)
        yield scene, coaches


def test_what_a_promise_moves_is_put_down_to_it(waiting):
    scene, (_, last) = waiting
    before = {each.job_id: each.expected_on for each in JobForecast.objects.all()}

    promise_date(
        job=last,
        ready_on=scene.shop.local_date(NOON),
        expected_on=None,
        reason="Given at booking",
        by=scene.manager,
        now=NOON,
    )
    drain(NOON)

    after = {each.job_id: each.expected_on for each in JobForecast.objects.all()}
    assert after[last.pk] < before[last.pk]
    own = DateChange.objects.filter(job=last).last()
    assert own.words == "Promised for March 4"
    others = DateChange.objects.exclude(job=last).filter(words=f"Job {last.number}: Promised for March 4")
    assert {each.job_id for each in others} == {pk for pk in after if after[pk] > before[pk]} != set()


def test_joining_running_work_makes_a_plan_of_its_own(scene):
    operation = scene.job.operations.first()
    start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)
    drain(NOON)

    start_operation(operation_id=operation.pk, by=scene.manager, now=NOON)
    drain(NOON)

    assert ShopPlan.objects.get().last_entry >= last_entry_of(kinds.OPERATION_JOINED)


def test_going_on_after_a_break_is_no_joining(scene):
    operation = scene.job.operations.first()
    start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)

    start_operation(operation_id=operation.pk, by=scene.technician, now=NOON)

    assert not JournalEntry.objects.filter(kind=kinds.OPERATION_JOINED).exists()
