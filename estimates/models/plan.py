"""The shop's plan as last worked out, and every change of a coach's expected date."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import models
from django.db.models import F, Q

from jobs.models import ApprovalRequest, Bay, Finding, Job, JournalEntry, Operation, Person, Shop


class LaterBookings(models.TextChoices):
    """Whether the odds count on coaches booked later that go before others."""

    COUNTED = "counted", "counted on by the shop's record"
    FEW = "few", "left out: the record is short"
    AFTER = "after", "none go first while an adopted order is kept"


class ShopPlan(models.Model):
    """How fresh a shop's plan is. A plan made from an older journal never replaces a newer one."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="plan")
    made_at = models.DateTimeField()
    # The newest journal entry the plan knows of.
    last_entry = models.PositiveBigIntegerField()
    seconds = models.FloatField(help_text="Working time of the planner.")
    # Coaches that could not be planned, and why: {primary key of the job, as JSON has it: words}.
    unplanned = models.JSONField(default=dict)
    # Work that stands still for days because its people are away: [primary key of the job, words].
    long_waits = models.JSONField(default=list)
    # Why no newer plan of the shop could be made; empty once one is.
    refusal = models.CharField(max_length=300, default="")
    odds_at = models.DateTimeField(null=True, help_text="When the odds were worked out; null before the first time.")
    later_bookings = models.CharField(max_length=7, choices=LaterBookings, default=LaterBookings.FEW)
    # The last day whose work was given out: by the first plan after opening, or by a manager who asked.
    given_out_on = models.DateField(null=True)
    given_out_at = models.DateTimeField(null=True)
    given_out_by = models.ForeignKey(Person, on_delete=models.SET_NULL, related_name="+", null=True)
    # The order of work that a manager adopted, as (job, task) by the planner's keys; empty: by the rule.
    # It ends with the next turn that is given to a coach.
    turns = models.JSONField(default=list)
    turns_entry = models.PositiveBigIntegerField(default=0)  # the newest journal entry when it was adopted
    turns_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"Plan of {self.shop}"

    def long_waits_of(self, job_id: int) -> list[str]:
        return [words for pk, words in self.long_waits if pk == job_id]

    def why_unplanned(self, job_id: int) -> str:
        """Why this job could not be planned; empty if it was."""
        return str(self.unplanned.get(str(job_id), ""))


class GivenOut(models.Model):
    """A start that was given out for a day, and to whom. A recompute keeps it, unless a manager asks for another."""

    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="given_out")
    on = models.DateField()
    start_at = models.DateTimeField()
    worker_ids = models.JSONField(default=list)

    class Meta:
        ordering = ["start_at", "pk"]
        constraints = [models.UniqueConstraint(fields=["operation", "on"], name="given_out_once_a_day")]

    def __str__(self) -> str:
        return f"{self.operation} on {self.on}"


class JobForecast(models.Model):
    """When a coach is now expected to be ready, with the work in scope and every open question answered yes."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="forecast")
    expected_at = models.DateTimeField()
    expected_on = models.DateField()
    even_on = models.DateField("even odds", null=True, help_text="Ready by then in half of the simulated courses.")
    safe_on = models.DateField("safe", null=True, help_text="Ready by then in four of five simulated courses.")
    bay = models.ForeignKey(Bay, on_delete=models.CASCADE, related_name="+", null=True)
    bay_from_at = models.DateTimeField(null=True)
    bay_until_at = models.DateTimeField(null=True)
    waits_for = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(bay__isnull=True, bay_from_at__isnull=True, bay_until_at__isnull=True)
                | Q(bay__isnull=False, bay_from_at__isnull=False, bay_until_at__gte=F("bay_from_at")),
                name="forecast_bay_whole",
            ),
            models.CheckConstraint(
                condition=Q(even_on__isnull=True, safe_on__isnull=True) | Q(safe_on__gte=F("even_on")),
                name="forecast_odds_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} expected {self.expected_on}"


class PlannedTask(models.Model):
    """One placed piece of the plan: labour, a wait, or an event."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="planned_tasks")
    operation = models.OneToOneField(Operation, on_delete=models.CASCADE, related_name="planned", null=True)
    # Set for work that waits for the owner's yes.
    finding = models.ForeignKey(Finding, on_delete=models.CASCADE, related_name="planned_tasks", null=True)
    # What the planner knows it by.
    key = models.CharField(max_length=60, default="")
    words = models.CharField(max_length=160)
    kind = models.CharField(max_length=6)
    start_at = models.DateTimeField()
    end_at = models.DateTimeField()
    worker_ids = models.JSONField(default=list)
    # Part of the chain that sets the coach's date.
    is_critical = models.BooleanField(default=False)
    # How much later it could end without moving its coach or anything that follows; None where it is not known.
    slack = models.DurationField(null=True)

    class Meta:
        ordering = ["start_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(end_at__gte=F("start_at")), name="planned_task_ends_after_start"),
        ]

    def __str__(self) -> str:
        return self.words


class QuestionOutlook(models.Model):
    """What one open question does to the dates, by the current plan.

    days: what an answer on each workday from today on does, oldest first: {"day", "ready_on", "days", "others"}; others
    are [job, days] (primary keys). Days are counted from the plan's date, which has the answer at answer_at.
    """

    request = models.OneToOneField(ApprovalRequest, on_delete=models.CASCADE, related_name="outlook")
    ready_without_on = models.DateField(help_text="If the owner says no.")
    ready_with_on = models.DateField(help_text="With the recommended remedy, answered at answer_at.")
    answer_at = models.DateTimeField(help_text="When the plan counts on the answer.")
    free_at = models.DateTimeField(help_text="The latest answer that leaves the coach's date.")
    free_for_all_at = models.DateTimeField(help_text="The same with no other coach later either.")
    days = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(free_for_all_at__gte=F("answer_at"), free_at__gte=F("free_for_all_at")),
                name="outlook_times_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request}: {self.ready_without_on} without"

    @property
    def rows(self) -> list["OutlookDay"]:
        """The days looked at, oldest first."""
        return [_outlook_day(each) for each in self.days]

    @property
    def moving(self) -> list["OutlookDay"]:
        """The days on which an answer moves some coach."""
        return [each for each in self.rows if each.days or each.others]

    @property
    def moving_it(self) -> list["OutlookDay"]:
        """The days on which an answer moves this coach."""
        return [each for each in self.rows if each.days]

    @property
    def later(self) -> list["OutlookDay"]:
        """The days on which an answer makes this coach later."""
        return [each for each in self.rows if each.days > 0]

    @property
    def has_end(self) -> bool:
        """Among the days looked at is one on which an answer makes this coach later."""
        return any(each.days > 0 for each in self.rows)

    @property
    def has_end_for_all(self) -> bool:
        """The same of any coach."""
        return any(each.days > 0 or any(days > 0 for _, days in each.others) for each in self.rows)

    @property
    def is_overdue(self) -> bool:
        """The plan counts on an answer now, for the time asked for is over."""
        return self.answer_at > self.request.answer_by_at

    @property
    def has_room(self) -> bool:
        """An answer later than the plan counts on can leave this coach's date."""
        return self.free_at > self.answer_at

    @property
    def has_room_for_all(self) -> bool:
        return self.free_for_all_at > self.answer_at


@dataclass(frozen=True)
class OutlookDay:
    """An answer on a day: the coach's ready date, days later than planned (below nought sooner), others it moves."""

    day: date
    ready_on: date
    days: int
    others: tuple[tuple[int, int], ...]  # job (primary key), days

    @property
    def days_words(self) -> str:
        return f"{abs(self.days)} day{'' if abs(self.days) == 1 else 's'} {'later' if self.days > 0 else 'sooner'}"


def _outlook_day(kept: dict[str, Any]) -> OutlookDay:
    others = tuple((pk, days) for pk, days in kept["others"])
    return OutlookDay(date.fromisoformat(kept["day"]), date.fromisoformat(kept["ready_on"]), kept["days"], others)


class JobAnswers(models.Model):
    """What the answers to all open questions of a job do to its date together, by the current plan.

    ways: {"picks": {finding: remedy or null}, "ready_on", "others": [[job, days]]} (primary keys; JSON makes the
    finding's a text). others: the coaches it moves, against all questions left as they are.
    """

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="answers")
    ways = models.JSONField()

    class Meta:
        verbose_name_plural = "job answers"

    def __str__(self) -> str:
        return f"{len(self.ways)} ways to answer about {self.job}"


class DateChange(models.Model):
    """One move of a coach's expected date, with its cause. They add up to expected minus promised."""

    class Cause(models.TextChoices):
        FINDING = "finding", "finding"
        ANSWER = "answer", "owner's answer"
        DRYING = "drying", "drying or curing"
        WORK = "work", "work"
        REWORK = "rework", "work done again"
        ARRIVAL = "arrival", "arrival"
        OTHER_COACH = "other_coach", "another coach"
        FIRST_PLAN = "first_plan", "first plan"

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="date_changes")
    entry = models.ForeignKey(JournalEntry, on_delete=models.PROTECT, related_name="+", null=True)
    from_on = models.DateField(null=True)
    to_on = models.DateField()
    cause = models.CharField(max_length=12, choices=Cause)
    words = models.CharField(max_length=200)
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    cause__in=["finding", "answer", "drying", "work", "rework", "arrival", "other_coach", "first_plan"]
                ),
                name="date_change_cause_known",
            ),
            models.CheckConstraint(condition=~Q(from_on=F("to_on")), name="date_change_changes"),
        ]

    def __str__(self) -> str:
        return f"{self.from_on} to {self.to_on}: {self.words}"
