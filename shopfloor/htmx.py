"""Full page or part: decided here and nowhere else."""

from typing import cast

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails


def wants_partial(request: HttpRequest) -> bool:
    """True when htmx asked for a part; a boosted link or a restored page gets the whole page."""
    htmx = cast(HtmxDetails, request.htmx)  # type: ignore[attr-defined]
    return bool(htmx) and not htmx.boosted and not htmx.history_restore_request
