"""What a page of jobs shows of the plan, which jobs itself knows nothing of."""

from typing import Any

from django import template
from django.utils import timezone

from estimates.day import read_day
from estimates.option_days import read_question_days
from jobs.models import ApprovalRequest, Person, Shop

register = template.Library()


@register.inclusion_tag("estimates/_question_days.html")
def question_days(asked: ApprovalRequest, shop: Shop) -> dict[str, Any]:
    """With and without, for an open question: two queries."""
    return {"days": read_question_days([asked]).get(asked.pk), "shop": shop}


@register.inclusion_tag("estimates/_todays_work.html")
def todays_work(person: Person, shop: Shop) -> dict[str, Any]:
    """A technician's own day: six queries."""
    day = read_day(shop, timezone.now())
    return {"day": day, "own": day.of(person), "shop": shop}
