"""Whose shop it is."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from jobs.models import Shop
from jobs.views.access import person_of


def shop_of(request: HttpRequest) -> Shop:
    """The shop of the person behind the request. Raises PermissionDenied (403) for one who belongs to none."""
    shop = person_of(request).shop
    if shop is None:
        raise PermissionDenied
    return shop
