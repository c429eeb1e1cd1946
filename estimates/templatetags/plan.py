"""What a page of jobs shows of the plan, which jobs itself knows nothing of."""

from typing import Any

from django import template

from estimates.option_days import read_question_days
from jobs.models import ApprovalRequest, Shop

register = template.Library()


@register.inclusion_tag("estimates/_question_days.html")
def question_days(asked: ApprovalRequest, shop: Shop) -> dict[str, Any]:
    """With and without, for an open question: two queries."""
    return {"days": read_question_days([asked]).get(asked.pk), "shop": shop}
