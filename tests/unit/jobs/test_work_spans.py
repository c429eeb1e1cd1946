"""The clock: who is on what, one thing at a time, off again, and corrected."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from jobs import kinds
from jobs.errors import NotNow
from jobs.models import JournalEntry, MaterialUse, Operation, WorkSpan
from jobs.services.clock import clock_off, mend_span, note_material
from jobs.services.work import NewOperation, fail_hold_point, finish_operation, start_operation, write_operations
from shopfloor.journal_words import particulars
from tests.factories import (
    NOON,
    FindingFactory,
    HoldPointFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RemedyFactory,
    SkillFactory,
    WorkSpanFactory,
)

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def job():
    return JobFactory(in_bay=True)


@pytest.fixture
def imani(job):
    return PersonFactory(shop=job.shop)


@pytest.fixture
def lou(job):
    return PersonFactory(shop=job.shop, first_name="Lou", last_name="Hargrove")


def operation_of(job, **kwargs):
    return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job, is_booked=True)), **kwargs)


def start(operation, person, now=NOON):
    return start_operation(operation_id=operation.pk, by=person, now=now)


def finish(operation, person, now):
    return finish_operation(operation_id=operation.pk, by=person, now=now)


def told(job, kind):
    return [entry.data for entry in JournalEntry.objects.filter(job=job, kind=kind).order_by("number")]


class TestOnAndOff:
    def test_starting_labour_opens_a_span_and_says_so_in_the_journal(self, job, imani):
        operation = operation_of(job)

        start(operation, imani)

        span = operation.spans.get()
        assert (span.person, span.started_at, span.ended_at) == (imani, NOON, None)
        assert [data["who"] for data in told(job, kinds.CLOCKED_ON)] == ["Imani Feld"]

    def test_a_wait_has_no_span(self, job, imani):
        operation = operation_of(job, wait=True)

        start(operation, imani)

        assert not WorkSpan.objects.exists()
        assert not told(job, kinds.CLOCKED_ON)

    def test_a_wait_leaves_the_person_on_what_they_are_doing(self, job, imani):
        labour, wait = operation_of(job), operation_of(job, wait=True)
        start(labour, imani)

        start(wait, imani, NOON + HOUR)

        assert WorkSpan.objects.open().get().operation == labour

    def test_two_people_on_one_operation_have_a_span_each(self, job, imani, lou):
        operation = operation_of(job)
        start(operation, imani)

        start(operation, lou, NOON + HOUR)
        finish(operation, imani, NOON + 3 * HOUR)

        assert {span.person: span.hours_until(NOON) for span in operation.spans.all()} == {imani: 3.0, lou: 2.0}
        assert len(told(job, kinds.OPERATION_STARTED)) == 1

    def test_starting_something_else_ends_the_span_before(self, job, imani):
        first, second = operation_of(job), operation_of(job)
        start(first, imani)

        start(second, imani, NOON + HOUR)

        assert first.spans.get().ended_at == NOON + HOUR
        assert second.spans.get().ended_at is None
        first.refresh_from_db()
        assert first.is_running

    def test_the_span_before_may_be_on_another_coach(self, job, imani):
        other = JobFactory(shop=job.shop, in_bay=True)
        first, second = operation_of(job), operation_of(other)
        start(first, imani)

        start(second, imani, NOON + HOUR)

        assert [data["hours"] for data in told(job, kinds.CLOCKED_OFF)] == [1.0]
        assert len(told(other, kinds.CLOCKED_ON)) == 1

    def test_starting_twice_changes_nothing(self, job, imani):
        operation = operation_of(job)
        start(operation, imani)

        start(operation, imani, NOON + HOUR)

        assert operation.spans.get().started_at == NOON
        assert len(told(job, kinds.CLOCKED_ON)) == 1

    def test_coming_back_after_lunch_opens_a_second_span(self, job, imani):
        operation = operation_of(job)
        start(operation, imani)
        clock_off(person=imani, now=NOON + HOUR)

        start(operation, imani, NOON + 2 * HOUR)
        finish(operation, imani, NOON + 5 * HOUR)

        assert [span.hours_until(NOON) for span in operation.spans.all()] == [1.0, 3.0]

    def test_clocking_off_leaves_the_operation_running(self, job, imani):
        operation = operation_of(job)
        start(operation, imani)

        clock_off(person=imani, now=NOON + HOUR)

        operation.refresh_from_db()
        assert operation.is_running
        assert [data["hours"] for data in told(job, kinds.CLOCKED_OFF)] == [1.0]

    def test_clocking_off_twice_is_refused_and_changes_nothing(self, job, imani):
        operation = operation_of(job)
        start(operation, imani)
        clock_off(person=imani, now=NOON + HOUR)

        with pytest.raises(NotNow, match="You are not clocked on"):
            clock_off(person=imani, now=NOON + 2 * HOUR)

        assert operation.spans.get().ended_at == NOON + HOUR

    def test_finishing_leaves_spans_on_other_work_open(self, job, imani, lou):
        first, second = operation_of(job), operation_of(job)
        start(first, imani)
        start(second, lou)

        finish(first, lou, NOON + HOUR)

        assert WorkSpan.objects.open().get().person == lou

    def test_a_refused_start_leaves_the_person_on_what_they_are_doing(self, job, imani):
        first, later = operation_of(job, phase=1), operation_of(job, phase=3)
        start(first, imani)

        with pytest.raises(NotNow):
            start(later, imani, NOON + HOUR)

        assert WorkSpan.objects.open().get().operation == first

    def test_a_clock_set_back_leaves_a_span_of_no_time(self, job, imani):
        operation = operation_of(job)
        start(operation, imani)

        span = clock_off(person=imani, now=NOON - HOUR)

        assert span.hours_until(NOON) == 0.0

    @pytest.mark.parametrize(
        ("day", "hours"),
        [((2026, 3, 8), 7.0), ((2026, 11, 1), 9.0), ((2026, 3, 10), 8.0)],
        ids=["clocks forward", "clocks back", "an ordinary night"],
    )
    def test_a_night_of_changed_clocks_counts_the_hours_that_passed(self, day, hours):
        """22:00 to 06:00 on the wall of a shop in Chicago."""
        from zoneinfo import ZoneInfo

        zone = ZoneInfo("America/Chicago")
        morning = datetime(*day, 6, tzinfo=zone)
        evening = (datetime(*day, 22) - timedelta(days=1)).replace(tzinfo=zone)  # noqa: DTZ001 - the zone follows

        assert WorkSpan(started_at=evening, ended_at=morning).hours_until(NOON) == hours


class TestConstraints:
    def test_the_database_refuses_a_second_open_span_of_a_person(self, job, imani):
        WorkSpanFactory(operation=operation_of(job, running=True), person=imani, ended_at=None)

        with pytest.raises(IntegrityError), transaction.atomic():
            WorkSpanFactory(operation=operation_of(job, running=True), person=imani, ended_at=None)

    def test_the_database_refuses_an_end_before_the_start(self):
        with pytest.raises(IntegrityError), transaction.atomic():
            WorkSpanFactory(started_at=NOON, ended_at=NOON - HOUR)

    def test_the_database_refuses_material_of_no_quantity(self, job, imani):
        with pytest.raises(IntegrityError), transaction.atomic():
            MaterialUse.objects.create(
                operation=operation_of(job), key=uuid.uuid4(), name="tape", quantity=0, unit="ft", noted_by=imani,
                noted_at=NOON,
            )  # fmt: skip


class TestMending:
    @pytest.fixture
    def wren(self, job):
        return PersonFactory(shop=job.shop, manager=True)

    @pytest.fixture
    def span(self, job, imani):
        return WorkSpanFactory(
            operation=operation_of(job, running=True), person=imani, started_at=NOON - 20 * HOUR, ended_at=None
        )

    def mend(self, span, by, **changed):
        given = {"started_at": span.started_at, "ended_at": NOON - 15 * HOUR, "reason": "Forgot to clock off"}
        return mend_span(span_id=span.pk, **given | changed, by=by, now=NOON)

    def test_a_forgotten_span_is_closed_and_the_journal_keeps_both(self, job, span, wren):
        self.mend(span, wren)

        span.refresh_from_db()
        assert (span.ended_at, span.mended_at) == (NOON - 15 * HOUR, NOON)
        [data] = told(job, kinds.SPAN_MENDED)
        assert data["before"] == {"started_at": "2026-03-03T16:00:00-06:00", "ended_at": None}
        assert data["after"] == {
            "started_at": "2026-03-03T16:00:00-06:00",
            "ended_at": "2026-03-03T21:00:00-06:00",
        }
        assert data["reason"] == "Forgot to clock off"
        told_of = particulars(job.entries.get(kind=kinds.SPAN_MENDED))
        assert "Mar 03 16:00 to open, now Mar 03 16:00 to Mar 03 21:00. Forgot to clock off" in told_of

    @pytest.mark.parametrize(
        ("changed", "words"),
        [
            ({"ended_at": NOON - 21 * HOUR}, "end lies before the start"),
            ({"ended_at": NOON + HOUR}, "end lies ahead"),
            ({"started_at": NOON - 50 * HOUR}, "more than 24 hours"),
            ({"reason": "  "}, "Say why"),
        ],
    )
    def test_what_cannot_be_is_refused_and_nothing_changes(self, span, wren, changed, words):
        with pytest.raises(NotNow, match=words):
            self.mend(span, wren, **changed)

        span.refresh_from_db()
        assert (span.ended_at, span.mended_at) == (None, None)
        assert not JournalEntry.objects.filter(kind=kinds.SPAN_MENDED).exists()

    def test_a_person_cannot_be_put_on_two_things_at_once(self, job, span, wren, imani):
        other = operation_of(job, words="Splice the frame", finished=True)
        WorkSpanFactory(operation=other, person=imani, started_at=NOON - 16 * HOUR, ended_at=NOON - 14 * HOUR)

        with pytest.raises(NotNow, match="Splice the frame"):
            self.mend(span, wren)
        self.mend(span, wren, ended_at=NOON - 16 * HOUR)

        span.refresh_from_db()
        assert span.ended_at == NOON - 16 * HOUR

    def test_a_technician_is_refused(self, span, imani):
        with pytest.raises(NotNow, match="manager"):
            self.mend(span, imani)

    def test_mending_across_the_changed_clock_counts_true_hours(self, job, imani, wren):
        """Chicago, November 1: 00:30 to 02:30 on the wall are three hours."""
        begin = datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
        span = WorkSpanFactory(operation=operation_of(job, running=True), person=imani, started_at=begin, ended_at=None)

        mended = mend_span(
            span_id=span.pk, started_at=begin, ended_at=begin + 3 * HOUR, reason="Night shift", by=wren,
            now=begin + 9 * HOUR,
        )  # fmt: skip

        assert mended.hours_until(NOON) == 3.0


class TestMaterials:
    def note(self, operation, by, **changed):
        given = {"key": uuid.uuid4(), "name": "Lap sealant", "quantity": 2.5, "unit": "tubes"}
        return note_material(operation_id=operation.pk, **given | changed, by=by, now=NOON)

    def test_what_was_used_is_kept_and_told(self, job, imani):
        operation = operation_of(job, finished=True)

        self.note(operation, imani)

        assert str(operation.materials_used.get()) == "2.5 tubes Lap sealant"
        assert [data["material"] for data in told(job, kinds.MATERIAL_USED)] == ["2.5 tubes Lap sealant"]

    def test_sent_twice_it_is_stored_once(self, job, imani):
        operation, key = operation_of(job, running=True), uuid.uuid4()

        self.note(operation, imani, key=key)
        self.note(operation, imani, key=key)

        assert operation.materials_used.count() == 1
        assert len(told(job, kinds.MATERIAL_USED)) == 1

    def test_work_that_was_not_started_took_nothing(self, job, imani):
        with pytest.raises(NotNow, match="not been started"):
            self.note(operation_of(job), imani)


class TestOrigin:
    def test_an_operation_remembers_its_recipe_step_and_its_units(self, job):
        remedy = RemedyFactory(finding=FindingFactory(job=job))
        new = NewOperation(
            phase=1, words="Strip", kind="labour", hours=2.0, skill=SkillFactory(shop=job.shop),
            recipe_key="Open up / Strip", units=24.5,
        )  # fmt: skip

        [operation] = write_operations(remedy=remedy, operations=[new], now=NOON)

        operation.refresh_from_db()
        assert (operation.recipe_key, operation.units) == ("Open up / Strip", 24.5)

    def test_work_done_again_keeps_its_origin(self, job):
        manager = PersonFactory(shop=job.shop, manager=True)
        done = operation_of(job, finished=True, recipe_key="Open up / Strip", units=24.5)
        check = HoldPointFactory(operation=done)

        fail_hold_point(hold_point_id=check.pk, note="Rough", redo_hours=1.0, by=manager, now=NOON)

        redo = Operation.objects.get(redo_of=done)
        assert (redo.recipe_key, redo.units) == ("Open up / Strip", 24.5)
