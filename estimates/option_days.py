"""With and without: each answer to each open question in days, for its own coach and for every other that it pushes."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from estimates.calc.plan import Schedule
from estimates.inputs import Snapshot
from estimates.models import OptionDate, QuestionOdds
from estimates.moved_coaches import MovedCoach, jobs_of, moved_coaches
from estimates.plan_age import of_the_plan
from estimates.plan_keys import job_key
from jobs.models import ApprovalRequest, Finding, Job, Remedy

LEAVE_AS_IS = "Left as it is"


@dataclass(frozen=True)
class OptionDays:
    """The dates of the whole shop under one answer to one open question, all others as recommended."""

    finding: Finding
    remedy_id: int | None  # None: left as it is
    ready_on: Mapping[int, date]  # by primary key of the job


@dataclass(frozen=True)
class Pushed:
    """A coach that the answer moves, this one or another; days against leaving it as it is."""

    job: Job
    without_on: date
    with_on: date

    @property
    def days(self) -> int:
        return (self.with_on - self.without_on).days


@dataclass(frozen=True)
class OptionLine:
    """One remedy: its own coach first, then every other whose date it moves."""

    name: str
    coaches: tuple[Pushed, ...]


@dataclass(frozen=True)
class QuestionDays:
    """An open question, remedy by remedy, against leaving it as it is. odds: only those of the plan in force."""

    request: ApprovalRequest
    without_on: date
    options: tuple[OptionLine, ...]
    odds: QuestionOdds | None = None
    odds_others: tuple[MovedCoach, ...] = ()  # whose safe date a yes makes later

    @property
    def moves_others(self) -> bool:
        return any(len(option.coaches) > 1 for option in self.options)


def option_days(snapshot: Snapshot, recommended: Schedule) -> Iterator[OptionDays]:
    """Each answer to each open question. recommended: the plan with every question answered as recommended."""
    as_recommended = {
        job.pk: snapshot.shop.local_date(recommended.jobs[job_key(job.pk)].ready_at) for job in snapshot.jobs
    }
    for question in snapshot.questions():
        first, *others = (option.remedy_id for option in question.options)
        yield OptionDays(question.finding, first, as_recommended)
        for remedy_id in [*others, None]:
            yield OptionDays(question.finding, remedy_id, snapshot.ready_on({question.finding.pk: remedy_id}))


def read_question_days(requests: Sequence[ApprovalRequest]) -> dict[int, QuestionDays]:
    """By primary key of the request, for those that the plan in force knows: three queries, four where the odds
    name other coaches, none without requests.

    requests: open ones, with their finding.
    """
    if not requests:
        return {}
    rows = OptionDate.objects.filter(request__in=requests).select_related("job__coach")
    remedies = Remedy.objects.filter(finding__in={each.finding_id for each in requests}).select_related("standard")
    named = {remedy.pk: remedy for remedy in remedies.order_by("position")}
    by_request: dict[int, list[OptionDate]] = defaultdict(list)
    for row in rows:
        by_request[row.request_id].append(row)
    in_force = of_the_plan("request__finding__job__shop")
    odds = {each.request_id: each for each in QuestionOdds.objects.filter(request__in=requests, **in_force)}
    jobs = jobs_of(each.others for each in odds.values())
    return {
        request.pk: _with_odds(found, odds.get(request.pk), jobs)
        for request in requests
        if (found := _question_days(request, by_request[request.pk], named)) is not None
    }


def _with_odds(days: QuestionDays, odds: QuestionOdds | None, jobs: Mapping[int, Job]) -> QuestionDays:
    return replace(days, odds=odds, odds_others=moved_coaches(odds.others, jobs) if odds else ())


def _question_days(
    request: ApprovalRequest, rows: Sequence[OptionDate], named: Mapping[int, Remedy]
) -> QuestionDays | None:
    own_id = request.finding.job_id
    without = {row.job_id: row.ready_on for row in rows if row.remedy_id is None}
    if own_id not in without:
        return None
    options = []
    for remedy_id, remedy in named.items():
        coaches = [
            Pushed(row.job, without[row.job_id], row.ready_on)
            for row in rows
            if row.remedy_id == remedy_id
            if row.job_id == own_id or row.ready_on != without[row.job_id]
        ]
        if coaches:
            coaches.sort(key=lambda each: (each.job.pk != own_id, -abs(each.days), each.job.number))
            options.append(OptionLine(remedy.name, tuple(coaches)))
    return QuestionDays(request, without[own_id], tuple(options))
