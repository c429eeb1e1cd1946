"""The shop's rule for when added work needs a fresh yes."""

from django.db import transaction

from estimates.calc.consent_rules import starting_point
from jobs.errors import JobError
from jobs.models import Shop


@transaction.atomic
def choose_consent_rule(*, shop: Shop, key: str) -> None:
    """Take a starting point as the shop's rule. Raises JobError for one that is not offered.

    It holds for what is found from now on; what was asked stays asked.
    """
    try:
        starting_point(key)
    except ValueError:
        raise JobError("Choose a rule from the list.") from None
    Shop.objects.filter(pk=shop.pk).update(consent_rule=key)
