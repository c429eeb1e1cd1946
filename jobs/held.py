"""Photos of a refused form, held so that nobody has to take them again.

A browser cannot be told to keep chosen files. What was accepted waits in a private folder under the
form's key until the form is sent again, and goes after a while if it never is.
"""

import hashlib
import shutil
import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings

from jobs import photos
from jobs.services.findings import UploadedPhoto

KEPT_FOR = timedelta(days=2)
FORMS_A_PERSON = 5
SUFFIXES = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp", "HEIC": ".heic", "HEIF": ".heic", "AVIF": ".avif"}


def accept(data: bytes) -> UploadedPhoto:
    """Check the bytes of one upload. Raises photos.PhotoRefused with words for the person."""
    checked = photos.check_upload(data)
    return UploadedPhoto(data=data, suffix=SUFFIXES[checked.format], taken_at=checked.taken_at)


def hold(*, person_id: int, key: uuid.UUID, uploads: Sequence[UploadedPhoto], now: datetime) -> None:
    """Hold these photos for the form, instead of those held for it before."""
    drop(person_id=person_id, key=key)
    if not uploads:
        return
    _drop_old(person_id, now)
    folder = _folder(person_id, key)
    for parent in (folder.parent.parent, folder.parent, folder):
        parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    for number, upload in enumerate(uploads):
        name = f"{number:02}-{hashlib.sha256(upload.data).hexdigest()[:16]}{upload.suffix}"
        path = folder / name
        path.touch(mode=0o600)
        path.write_bytes(upload.data)


def read(*, person_id: int, key: uuid.UUID) -> list[UploadedPhoto]:
    """The photos held for the form, in the order they were sent."""
    folder = _folder(person_id, key)
    return [accept(path.read_bytes()) for path in sorted(folder.iterdir())] if folder.is_dir() else []


def drop(*, person_id: int, key: uuid.UUID) -> None:
    """Let go of the photos held for the form."""
    shutil.rmtree(_folder(person_id, key), ignore_errors=True)


def _folder(person_id: int, key: uuid.UUID) -> Path:
    return Path(settings.MEDIA_ROOT) / "held" / str(int(person_id)) / str(uuid.UUID(str(key)))


def _drop_old(person_id: int, now: datetime) -> None:
    """Keep few forms a person, and none for long."""
    home = Path(settings.MEDIA_ROOT) / "held" / str(int(person_id))
    if not home.is_dir():
        return
    newest_first = sorted(home.iterdir(), key=lambda folder: folder.stat().st_mtime, reverse=True)
    oldest_kept = (now - KEPT_FOR).timestamp()
    for place, folder in enumerate(newest_first):
        if place >= FORMS_A_PERSON - 1 or folder.stat().st_mtime < oldest_kept:
            shutil.rmtree(folder, ignore_errors=True)
