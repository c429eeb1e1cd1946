"""The demo shop's catalogue: the one that comes with the program, every figure in it a planning value."""

from django.utils import timezone

from estimates.services.catalogue import import_catalogue, starting_files
from jobs.models import Shop


def write_catalogue(shop: Shop) -> None:
    """Give a shop its skills, rates, materials and recipes."""
    import_catalogue(shop=shop, files=starting_files(), by=None, now=timezone.now())
