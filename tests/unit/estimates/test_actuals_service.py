"""The shop's record beside the catalogue: what counts, what is suggested, and what taking it over leaves behind."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from estimates.job_hours import left_open, read_job_hours
from estimates.models import CatalogueChange, HoursAccepted, Rates, RecipeOperation
from estimates.pricing import work_out
from estimates.questions import operations_as_json, operations_from_json, skills_of
from estimates.services.actuals import accept_hours, read_steps
from jobs.errors import NotNow, Stale
from jobs.services.work import NewOperation
from tests.factories import (
    NOON,
    FindingFactory,
    JobFactory,
    OperationFactory,
    PersonFactory,
    RatesFactory,
    RemedyFactory,
    ShopFactory,
    SkillFactory,
    StandardRemedyFactory,
    WorkSpanFactory,
)

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
LATER = NOON + timedelta(days=3)


@pytest.fixture
def shop():
    return ShopFactory()


@pytest.fixture
def manager(shop):
    return PersonFactory(shop=shop, manager=True)


@pytest.fixture
def step(shop):
    """One hour for setting up and 0.1 h a square foot, by one person: 3 h for 20 square feet."""
    return step_of(shop)


def step_of(shop, words="Strip the skin", **kwargs):
    remedy = StandardRemedyFactory(shop=shop)
    given = {"setup_hours": 1.0, "hours_per_unit": 0.1, "basis": "area_ft2", "skill": SkillFactory(shop=shop)}
    return RecipeOperation.objects.create(
        standard_remedy=remedy, position=1, phase=1, words=words, kind="labour", **given | kwargs
    )


def done(step, hours, *, people=1, finished_at=NOON, units=20.0, **kwargs):
    """The step finished once on a coach of its own, every one of its people on it for so many hours."""
    job = JobFactory(shop=step.standard_remedy.shop, arrived=True)
    operation = OperationFactory(
        remedy=kwargs.pop("remedy", None) or RemedyFactory(finding=FindingFactory(job=job)),
        started_at=finished_at - timedelta(hours=hours),
        finished_at=finished_at,
        recipe_key=step.key,
        units=units,
        hours=3.0,
        **kwargs,
    )
    for _ in range(people):
        WorkSpanFactory(operation=operation, started_at=finished_at - timedelta(hours=hours), ended_at=finished_at)
    return operation


def row_of(step):
    return next(row for row in read_steps(step.standard_remedy.shop) if row.step == step)


def accept(step, manager, *, now=LATER, **changed):
    return accept_hours(
        **{"recipe_operation_id": step.pk, "seen": row_of(step).seen, "by": manager, "now": now} | changed
    )


class TestReading:
    def test_without_finished_work_the_catalogue_stands(self, step):
        row = row_of(step)

        assert (row.finished, row.variance, row.is_new) == (0, None, False)
        assert row.suggestion.setup_hours == 1.0

    def test_two_jobs_at_twice_the_standard_draw_it_a_quarter_of_the_way(self, step):
        """n / (n + 6) = 2 / 8 of the way from 1 to 2 times."""
        for _ in range(2):
            done(step, 6.0)

        row = row_of(step)

        assert row.suggestion.times == pytest.approx(1.25)
        assert (row.suggestion.setup_hours, row.suggestion.hours_per_unit) == (1.25, 0.125)
        assert (row.variance.n, row.variance.estimated_hours, row.variance.clocked_hours) == (2, 6.0, 12.0)
        assert "counts for 25 %" in row.weight_words
        assert "as if 6 jobs" in row.weight_words

    def test_rails_of_any_length_that_keep_the_hours_by_the_foot_suggest_no_change(self, shop):
        """1 h and 0.2 h a foot: 2.6 h for 8 ft and 6.6 h for 28 ft. Each 10 % over draws it 2/8 of the way to 1.1."""
        step = step_of(shop, basis="member_ft", hours_per_unit=0.2)
        for feet, hours in ((8.0, 2.6), (28.0, 6.6)):
            done(step, hours, units=feet)
        assert row_of(step).suggestion.times == pytest.approx(1)
        assert row_of(step).hours_words == "1 h for setting up and 0.2 h a foot of member worked on"

        slow = step_of(shop, words="Cut back", basis="member_ft", hours_per_unit=0.2)
        for feet, hours in ((8.0, 2.6), (28.0, 6.6)):
            done(slow, 1.1 * hours, units=feet)
        assert row_of(slow).suggestion.times == pytest.approx(1 + 0.1 * 2 / 8)

    def test_the_hours_of_all_people_are_added(self, step):
        done(step, 1.5, people=2)

        assert row_of(step).variance.clocked_hours == 3.0
        assert row_of(step).suggestion.times == 1.0

    def test_a_crew_of_two_that_keeps_the_standard_suggests_no_change(self, shop):
        pair = step_of(shop, crew=2)
        done(pair, 3.0, people=2, crew=2)

        row = row_of(pair)

        assert row.suggestion.times == 1.0
        assert not row.is_new

    def test_a_break_does_not_count(self, step):
        operation = done(step, 3.0)
        WorkSpanFactory(operation=operation, started_at=NOON + 4 * HOUR, ended_at=NOON + 5 * HOUR)

        assert row_of(step).variance.clocked_hours == 4.0

    def test_a_repeat_counts_as_done_again_and_not_toward_the_standard(self, step):
        first = done(step, 3.0)
        done(step, 30.0, redo_of=first, payer="shop", remedy=first.remedy)

        row = row_of(step)

        assert (row.finished, row.redone) == (1, 1)
        assert row.suggestion.times == 1.0

    def test_work_that_goes_on_or_was_never_clocked_does_not_count(self, step):
        job = JobFactory(shop=step.standard_remedy.shop, arrived=True)
        remedy = RemedyFactory(finding=FindingFactory(job=job))
        running = OperationFactory(remedy=remedy, running=True, recipe_key=step.key, units=20.0)
        WorkSpanFactory(operation=running, ended_at=None)
        OperationFactory(remedy=remedy, finished=True, recipe_key=step.key, units=20.0)

        assert row_of(step).finished == 0

    def test_another_shops_record_stays_its_own(self, step):
        other = step_of(ShopFactory())
        RecipeOperation.objects.filter(pk=other.pk).update(words=step.words)
        other.standard_remedy.name = step.standard_remedy.name
        other.standard_remedy.save()
        other.refresh_from_db()
        assert other.key == step.key
        done(other, 6.0)

        assert row_of(step).finished == 0
        assert row_of(other).finished == 1

    def test_a_night_of_changed_clocks_counts_the_hours_that_passed(self, step):
        """Chicago, March 8: 22:00 to 06:00 on the wall are seven hours."""
        done(step, 7.0, finished_at=datetime(2026, 3, 8, 11, tzinfo=UTC))

        assert row_of(step).variance.clocked_hours == 7.0

    def test_the_most_hours_over_come_first(self, shop, step):
        worse = step_of(shop, words="Lay decking")
        done(step, 4.0)
        done(worse, 9.0)

        assert [row.step for row in read_steps(shop)] == [worse, step]

    def test_the_number_of_queries_does_not_grow_with_the_record(self, shop, step):
        done(step, 4.0)
        with CaptureQueriesContext(
            connection,
        ) as few:
            read_steps(shop)
        for _ in range(5):
            done(step, 4.0)
            step_of(shop)

        with CaptureQueriesContext(connection) as many:
            read_steps(shop)

        assert len(many) == len(few)


class TestTakingOver:
    def test_the_catalogue_changes_and_a_record_of_it_stays(self, step, manager):
        done(step, 6.0)

        accepted = accept(step, manager)

        step.refresh_from_db()
        assert (step.setup_hours, step.hours_per_unit) == (accepted.setup_hours, accepted.hours_per_unit)
        assert accepted.was == (1.0, 0.1)
        assert accepted.setup_hours == pytest.approx(8 / 7, abs=1e-4)
        assert (accepted.n, accepted.by, accepted.at) == (1, manager, LATER)

    def test_the_same_jobs_never_count_twice(self, step, manager):
        done(step, 6.0)
        accept(step, manager)

        row = row_of(step)

        assert (row.suggestion.n, row.is_new, row.finished) == (0, False, 1)
        with pytest.raises(NotNow, match="nothing to take over"):
            accept(step, manager)

    def test_what_was_taken_over_weighs_as_much_as_its_jobs(self, step, manager):
        """Taken over after two jobs and again after two more: as good as once after four."""
        for _ in range(2):
            done(step, 6.0)
        accept(step, manager)
        for _ in range(2):
            done(step, 6.0, finished_at=LATER + HOUR)

        accept(step, manager, now=LATER + 2 * HOUR)

        step.refresh_from_db()
        assert row_of(step).worth_jobs == 10
        assert step.setup_hours == pytest.approx((6 * 1.0 + 4 * 2.0) / 10, abs=2e-4)

    def test_hours_set_by_hand_afterwards_rest_on_no_record(self, step, manager):
        done(step, 6.0)
        accept(step, manager)
        RecipeOperation.objects.filter(pk=step.pk).update(setup_hours=2.0)

        row = row_of(step)

        assert (row.worth_jobs, row.suggestion.n) == (6, 1)

    def test_a_step_that_the_catalogue_makes_anew_keeps_its_record(self, step, manager):
        done(step, 6.0)
        accept(step, manager)
        step.refresh_from_db()
        made_anew = RecipeOperation.objects.get(pk=step.pk)
        step.delete()
        made_anew.pk = None
        made_anew.save(force_insert=True)

        row = row_of(made_anew)

        assert (row.finished, row.suggestion.n, row.worth_jobs) == (1, 0, 7)
        assert row.last_accepted.by == manager

    def test_the_catalogues_own_list_of_changes_tells_of_it_and_the_hours_are_the_shops_own(self, step, manager):
        RecipeOperation.objects.filter(pk=step.pk).update(is_planning_value=True)
        done(step, 6.0)

        accept(step, manager)

        step.refresh_from_db()
        assert not step.is_planning_value
        change = CatalogueChange.objects.get(shop=manager.shop)
        assert (change.person, change.words) == (manager, f"Hours taken over from the shop's own record: {step.key}")

    def test_estimates_from_then_on_take_the_new_hours(self, step, manager):
        RatesFactory(shop=manager.shop)
        rates = Rates.objects.get()
        finding = FindingFactory(job=JobFactory(shop=manager.shop, arrived=True))
        remedy = RemedyFactory(finding=finding, standard=step.standard_remedy)
        [before] = work_out(remedy, rates).operations
        for _ in range(6):
            done(step, 6.0)

        accept(step, manager)

        remedy.refresh_from_db()
        [after] = work_out(remedy, rates).operations
        assert before.recipe_key == after.recipe_key == step.key
        assert after.units == pytest.approx(finding.place.area_m2 / 0.3048**2)
        assert after.hours == pytest.approx(1.5 * before.hours, abs=0.25)

    def test_a_record_that_moved_on_is_looked_at_first(self, step, manager):
        done(step, 6.0)
        seen = row_of(step).seen
        done(step, 9.0)

        with pytest.raises(Stale):
            accept(step, manager, seen=seen)

        assert not HoursAccepted.objects.exists()

    def test_only_a_manager_of_that_shop_takes_over(self, shop, step):
        done(step, 6.0)

        for person in (PersonFactory(shop=shop), PersonFactory(manager=True)):
            with pytest.raises(NotNow, match="manager"):
                accept(step, person)

    def test_neither_the_row_nor_the_database_lets_the_record_change(self, step, manager):
        done(step, 6.0)
        accepted = accept(step, manager)

        with pytest.raises(TypeError):
            accepted.save()
        with pytest.raises(IntegrityError), transaction.atomic():
            HoursAccepted.objects.update(n=99)


class TestOffers:
    def test_an_offer_keeps_where_its_operations_came_from(self, shop):
        skill = SkillFactory(shop=shop)
        new = NewOperation(1, "Strip", "labour", 3.0, skill, recipe_key="Open up / Strip / each", units=1.0)

        assert operations_from_json(operations_as_json([new]), skills_of(shop)) == (new,)

    def test_an_offer_written_before_still_reads(self, shop):
        skill = SkillFactory(shop=shop)
        [row] = operations_as_json([NewOperation(1, "Strip", "labour", 3.0, skill)])
        for name in ("recipe_key", "units"):
            del row[name]

        [read] = operations_from_json([row], skills_of(shop))

        assert (read.recipe_key, read.units) == ("", 0.0)


class TestJob:
    @pytest.fixture
    def job(self, shop):
        RatesFactory(shop=shop)
        return JobFactory(shop=shop, in_bay=True)

    def operation(self, job, **kwargs):
        return OperationFactory(remedy=RemedyFactory(finding=FindingFactory(job=job)), **kwargs)

    def test_estimate_and_clock_stand_side_by_side(self, job):
        operation = self.operation(job, finished=True, hours=1.5, crew=2)
        WorkSpanFactory(operation=operation)
        WorkSpanFactory(operation=operation, ended_at=NOON)

        hours = read_job_hours(job, NOON)

        [row] = hours.rows
        assert (row.estimated_hours, row.clocked_hours, row.over_words) == (3.0, 5.0, "2 h over")
        assert (hours.estimated_hours, hours.clocked_hours) == (3.0, 5.0)

    def test_rework_stands_apart_and_has_its_cost(self, job):
        """2 h at $110.00."""
        first = self.operation(job, finished=True)
        redo = OperationFactory(remedy=first.remedy, redo_of=first, payer="shop", finished=True, hours=1.0)
        WorkSpanFactory(operation=redo)

        hours = read_job_hours(job, NOON)

        assert (hours.estimated_hours, hours.clocked_hours) == (2.0, 0)
        assert (hours.rework_estimated_hours, hours.rework_hours) == (1.0, 2.0)
        assert hours.rework_usd == Decimal("220.00")

    def test_running_and_unclocked_work_is_neither_over_nor_under(self, job):
        running = self.operation(job, running=True)
        WorkSpanFactory(operation=running, ended_at=None)
        self.operation(job, finished=True)

        hours = read_job_hours(job, NOON)

        assert [row.over_words for row in hours.rows] == ["", ""]
        assert sorted(row.clocked_hours for row in hours.rows) == [0, 3.0]

    @pytest.mark.parametrize(
        ("hours_ago", "ended", "flag"),
        [
            (3, None, ""),
            (24, None, "still open since yesterday"),
            (72, None, "still open after 3 days"),
            (24, NOON, "ran through a night"),
        ],
    )
    def test_what_ran_over_a_night_is_shown_and_counted_as_it_stands(self, job, hours_ago, ended, flag):
        operation = self.operation(job, running=True)
        WorkSpanFactory(operation=operation, started_at=NOON - hours_ago * HOUR, ended_at=ended)

        hours = read_job_hours(job, NOON)

        assert hours.rows[0].spans[0].flag == flag
        assert hours.clocked_hours == hours_ago
        assert [each.flag for each in left_open(job.shop, job.shop.calendar(), NOON)] == (
            [flag] if flag and not ended else []
        )

    @pytest.mark.parametrize(
        ("began_h", "now_h", "flag"),
        [
            (0, 4, ""),  # closing time, 16:00
            (0, 5, "still open after closing time"),
            (5, 6, ""),  # whoever begins after closing means to
            (5, 13, "still open since yesterday"),
        ],
    )
    def test_what_is_open_after_closing_is_named(self, job, began_h, now_h, flag):
        span = WorkSpanFactory(
            operation=self.operation(job, running=True), started_at=NOON + began_h * HOUR, ended_at=None
        )

        found = left_open(job.shop, job.shop.calendar(), NOON + now_h * HOUR)

        assert [(each.span, each.flag) for each in found] == ([(span, flag)] if flag else [])

    def test_what_a_manager_has_corrected_is_flagged_no_more(self, job):
        operation = self.operation(job, finished=True)
        WorkSpanFactory(operation=operation, started_at=NOON - 20 * HOUR, ended_at=NOON, mended_at=NOON)

        assert read_job_hours(job, NOON).flagged == []

    def test_open_work_of_another_shop_is_not_shown(self, job):
        WorkSpanFactory(operation=self.operation(job, running=True), started_at=NOON - 30 * HOUR, ended_at=None)

        other = ShopFactory()
        assert left_open(other, other.calendar(), NOON) == []
