"""How much equipment the shop has."""

from collections.abc import Mapping

from django.db import transaction

from jobs.calc.equipment import FIELDS, MOST
from jobs.errors import NotNow
from jobs.models import Equipment, Shop


@transaction.atomic
def set_equipment(*, shop: Shop, counts: Mapping[str, int | None]) -> None:
    """How many of each kind the shop has; None where nobody has counted. Kinds that are not named stay as they are.

    Raises NotNow for a kind nobody knows or a number that is none, and then changes nothing.
    """
    for kind, count in counts.items():
        if kind not in FIELDS:
            raise NotNow(f"“{kind}” is no kind of equipment; those are {', '.join(FIELDS)}.")
        if count is not None and not 0 <= count <= MOST:
            raise NotNow(f"A number of {FIELDS[kind]} is 0 to {MOST}, or empty.")
    Equipment.objects.filter(shop=shop, kind__in=list(counts)).delete()
    Equipment.objects.bulk_create(
        Equipment(shop=shop, kind=kind, count=count) for kind, count in counts.items() if count is not None
    )
