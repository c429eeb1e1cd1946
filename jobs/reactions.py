"""How jobs answers its own journal: photos are made ready to show."""

from jobs import kinds
from jobs.journal import Run, reaction
from jobs.models import JournalEntry, Photo
from jobs.services.findings import draw_renditions, store_renditions


@reaction("make photos ready", kinds.FINDING_POSTED, kinds.PHOTOS_ADDED)
def make_photos_ready(entry: JournalEntry, run: Run) -> None:
    """Draw both renditions of each photo named in the entry that has none yet."""
    waiting = Photo.objects.filter(
        finding_id=entry.data["finding"], sha256__in=entry.data["photos_sha256"], small=""
    ).order_by("position")
    drawn = [(photo, *draw_renditions(photo)) for photo in waiting]
    with run.finish():
        for photo, large, small in drawn:
            store_renditions(photo, large, small)
