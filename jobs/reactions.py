"""How jobs answers its own journal: photos are made ready to show, drying and verdicts are worked out."""

from jobs import kinds
from jobs.journal import Run, reaction
from jobs.models import JournalEntry, Photo
from jobs.services.drying import store_drying, work_out_drying
from jobs.services.findings import draw_renditions, store_renditions
from jobs.services.verdicts import settle_verdicts


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


@reaction(
    "work out drying",
    kinds.ROUND_TAKEN,
    kinds.READING_STRUCK,
    kinds.STATION_RETIRED,
    kinds.STATION_RESTORED,
    kinds.LIMITS_CHANGED,
)
def work_out_drying_and_verdicts(entry: JournalEntry, run: Run) -> None:
    """Forecast every station anew, then judge the findings by the latest readings."""
    worked_out = work_out_drying(entry.job, now=run.now)
    with run.finish():
        store_drying(entry.job, worked_out, cause=entry.kind, now=run.now)
        settle_verdicts(entry.job, entry.job.findings.select_related("job__shop"), now=run.now)
