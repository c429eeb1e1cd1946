"""Posting what teardown revealed, and making its photos fit to show."""

import hashlib
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import Max

from jobs import kinds, photos
from jobs.calc.faces import Place, check_place
from jobs.calc.leaving import is_never_safe
from jobs.errors import JobError, NotNow
from jobs.journal import record
from jobs.models import Finding, Job, Person, Photo, StandardRemedy
from jobs.services.remedies import Way, choose_ways, write_ways
from jobs.services.verdicts import Evidence, check_probe, verdict_of


@dataclass(frozen=True)
class UploadedPhoto:
    """Bytes of a photo that `photos.check_upload` has accepted."""

    data: bytes
    suffix: str
    taken_at: datetime | None


def post_finding(
    *,
    job_id: int,
    key: uuid.UUID,
    kind: str,
    place: Place,
    seen: str,
    evidence: Evidence,
    remedy: Way | None,
    beside: Sequence[StandardRemedy] | None = None,
    uploads: Sequence[UploadedPhoto] = (),
    is_unsafe_to_leave: bool = False,
    by: Person,
    now: datetime,
) -> Finding:
    """Store a finding with its photos and proposed remedies, once however often it is sent.

    remedy: the one to recommend; None for the one that fits best. beside: those to offer beside it; None for those
    that fit. Raises NotNow if the coach is not at the shop, JobError if the place lies off the coach, no remedy fits
    and none was named, or there are more than may be offered.
    After commit: photos are made ready, price and days are worked out, the owner is asked.
    """
    with transaction.atomic():
        job = Job.objects.select_for_update().select_related("coach", "shop").get(pk=job_id)
        if stored := Finding.objects.filter(key=key).first():
            if stored.job_id != job.pk:
                raise JobError("This finding was already stored for another coach.")
            return stored
        if not job.arrived_at or job.collected_at:
            raise NotNow("Findings can be posted while the coach is at the shop.")
        try:
            check_place(place, job.coach.faces())
        except ValueError as error:
            raise JobError(str(error)) from None
        check_probe(evidence)
        last = job.findings.aggregate(last=Max("number"))["last"]
        finding = Finding.objects.create(
            job=job,
            number=(last or 0) + 1,
            key=key,
            kind=kind,
            face=place.face,
            left_mm=place.left_mm,
            top_mm=place.top_mm,
            width_mm=place.width_mm,
            height_mm=place.height_mm,
            seen=seen,
            is_unsafe_to_leave=is_unsafe_to_leave or is_never_safe(kind, is_near_mains=evidence.is_near_mains),
            posted_by=by,
            posted_at=now,
            **vars(evidence),
        )
        finding.verdict = verdict_of(finding)
        finding.save(update_fields=["verdict"])
        write_ways(finding, choose_ways(finding, remedy, beside))
        stored_photos = [_store_photo(finding, number, upload) for number, upload in enumerate(_distinct(uploads), 1)]
        record(
            job,
            kinds.FINDING_POSTED,
            now=now,
            person=by,
            data={
                "finding": finding.pk,
                "number": finding.number,
                "kind": kind,
                "place": [place.face.value, place.left_mm, place.top_mm, place.width_mm, place.height_mm],
                "seen": seen,
                "evidence": vars(evidence),
                "verdict": finding.verdict,
                "photos_sha256": [photo.sha256 for photo in stored_photos],
            },
        )
        return finding


def add_photos(*, finding_id: int, uploads: Sequence[UploadedPhoto], by: Person, now: datetime) -> int:
    """Add photos to a finding; one already stored is not stored again. Returns how many were new.

    After commit: they are made ready.
    """
    with transaction.atomic():
        finding = Finding.objects.select_for_update().select_related("job__shop").get(pk=finding_id)
        known = set(finding.photos.values_list("sha256", flat=True))
        last = finding.photos.aggregate(last=Max("position"))["last"] or 0
        new = [upload for upload in _distinct(uploads) if _sha256(upload) not in known]
        stored = [_store_photo(finding, number, upload) for number, upload in enumerate(new, last + 1)]
        if stored:
            record(
                finding.job,
                kinds.PHOTOS_ADDED,
                now=now,
                person=by,
                data={"finding": finding.pk, "photos_sha256": [photo.sha256 for photo in stored]},
            )
        return len(stored)


def draw_renditions(photo: Photo) -> tuple[bytes, bytes]:
    """The large and the small JPEG of a stored photo: upright, without metadata."""
    with photo.original.open("rb") as file:
        data = file.read()
    return photos.render(data, long_side_px=photos.LARGE_PX), photos.render(data, long_side_px=photos.SMALL_PX)


def store_renditions(photo: Photo, large: bytes, small: bytes) -> None:
    """Keep both renditions of a photo, if no other worker has done so already."""
    locked = Photo.objects.select_for_update().get(pk=photo.pk)
    if locked.is_ready:
        return
    locked.large.save("large.jpg", ContentFile(large), save=False)
    locked.small.save("small.jpg", ContentFile(small), save=False)
    locked.save(update_fields=["large", "small"])


def _store_photo(finding: Finding, position: int, upload: UploadedPhoto) -> Photo:
    taken_at = upload.taken_at
    if taken_at is not None and taken_at.tzinfo is None:
        # Cameras write local time without a zone; the shop's is the best guess.
        taken_at = taken_at.replace(tzinfo=ZoneInfo(finding.job.shop.time_zone))
    photo = Photo(finding=finding, position=position, sha256=_sha256(upload), taken_at=taken_at)
    photo.original.save(f"original{upload.suffix}", ContentFile(upload.data), save=False)
    photo.save(force_insert=True)
    return photo


def _distinct(uploads: Sequence[UploadedPhoto]) -> list[UploadedPhoto]:
    return list({_sha256(upload): upload for upload in uploads}.values())


def _sha256(upload: UploadedPhoto) -> str:
    return hashlib.sha256(upload.data).hexdigest()
