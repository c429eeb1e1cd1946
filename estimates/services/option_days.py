"""Keeping what each answer to an open question does to the dates."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from estimates.models import OptionDate
from estimates.option_days import OptionDays
from jobs.models import ApprovalRequest, Shop


def store_option_days(shop: Shop, options: Sequence[OptionDays]) -> None:
    """Keep the dates of the plan in force in place of the last ones. Runs inside the caller's transaction."""
    requests = {
        request.finding_id: request
        for request in ApprovalRequest.objects.open().filter(finding__in={each.finding.pk for each in options})
    }
    OptionDate.objects.filter(request__finding__job__shop=shop).delete()
    moved = _moved(options)
    OptionDate.objects.bulk_create(
        OptionDate(request=requests[each.finding.pk], remedy_id=each.remedy_id, job_id=job_id, ready_on=ready_on)
        for each in options
        if each.finding.pk in requests
        for job_id, ready_on in each.ready_on.items()
        if job_id == each.finding.job_id or (each.finding.pk, job_id) in moved
    )


def _moved(options: Sequence[OptionDays]) -> set[tuple[int, int]]:
    """Finding and coach, where the date is not the same under all answers to the question."""
    dates: dict[tuple[int, int], set[date]] = defaultdict(set)
    for each in options:
        for job_id, ready_on in each.ready_on.items():
            dates[each.finding.pk, job_id].add(ready_on)
    return {key for key, found in dates.items() if len(found) > 1}
