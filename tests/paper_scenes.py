"""A job with something for every paper, and what a paper says once it is opened again."""

import random
from datetime import datetime, timedelta
from io import BytesIO

from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image, ImageFilter
from pypdf import PdfReader

from jobs.calc.faces import Face, Place
from jobs.models import ApprovalRequest, Decision, Operation, Photo
from jobs.photos import LARGE_PX
from jobs.services.approvals import Answer, record_decision
from jobs.services.verdicts import Evidence
from jobs.services.work import fail_hold_point, finish_operation, pass_hold_point, start_operation
from shopfloor.demo.telling import drain
from tests.factories import FindingFactory, PhotoFactory
from tests.scenes import Scene, find_rot, mark, opened_coach, walk


def told_job(now: datetime, **shop_fields: object) -> Scene:
    """Finding 3 agreed by phone, finding 4 declined in person, finding 5 still with the owner; a station read twice."""
    scene = opened_coach(now)
    if shop_fields:
        type(scene.shop).objects.filter(pk=scene.shop.pk).update(**shop_fields)
        scene.shop.refresh_from_db()
        scene.job.refresh_from_db()
    find_rot(scene, photos=3)
    drain(now)
    answer(scene, now, channel=Decision.Channel.PHONE)
    find_rot(
        scene,
        kind="mould",
        place=Place(Face.ROAD_SIDE, 2400, 300, 900, 600),
        seen="Mould on the inner panel behind the bunk.",
        evidence=Evidence(moisture_pct=22.0, look="mould", is_near_mains=True),
        remedy=scene.shop.standard_remedies.get(name="Clean and treat mould"),
    )
    drain(now)
    answer(scene, now, channel=Decision.Channel.IN_PERSON, is_approved=False)
    station = mark(scene)
    for hours, value in ((0, 31.0), (26, 25.5)):
        walk(scene, now + timedelta(hours=hours), {station: value})
    find_rot(
        scene,
        kind="loose_decking",
        place=Place(Face.FLOOR, 500, 400, 1200, 700),
        seen="Floor gives underfoot by the door.",
        evidence=Evidence(tap_sound="hollow", probe_depth_mm=6.0, member="floor_decking", member_thickness_mm=15.0),
        remedy=scene.shop.standard_remedies.get(name="Replace decking"),
    )
    drain(now + timedelta(hours=27))
    return scene


def photographed_coach(*, findings: int = 10, photos_each: int = 2) -> Scene:
    """Findings with photos in the size of the large rendition, and stations read three times."""
    now = timezone.now().replace(second=0, microsecond=0)
    scene = opened_coach(now - timedelta(days=3))
    chance = random.Random(11)
    seen = "The batten is dark along its lower edge and the batt behind it is soaked right across. " * 3
    for number in range(findings):
        finding = FindingFactory(
            job=scene.job, seen=seen, left_mm=300.0 + 500 * number, width_mm=400.0, moisture_pct=24.0, tap_sound="dull"
        )
        for _ in range(photos_each):
            photo = PhotoFactory(finding=finding)
            large = ContentFile(_busy_jpeg(chance), "large.jpg")
            Photo.objects.filter(pk=photo.pk).update(
                large=photo.large.field.storage.save(f"photos/{photo.pk}-large.jpg", large), small="photos/small.jpg"
            )
    stations = [mark(scene, left_mm=200.0 * number) for number in range(8)]
    for day in range(3):
        walk(scene, now - timedelta(days=2 - day), dict.fromkeys(stations, 30.0 - 3 * day))
    drain(now)
    return scene


def _busy_jpeg(chance: random.Random) -> bytes:
    """A photo with as much detail as wet timber has: smoothed noise, 1600 by 1200 px."""
    small = Image.frombytes("RGB", (400, 300), chance.randbytes(400 * 300 * 3))
    picture = small.resize((LARGE_PX, LARGE_PX * 3 // 4), Image.Resampling.BICUBIC).filter(ImageFilter.GaussianBlur(2))
    out = BytesIO()
    picture.save(out, "JPEG", quality=82)
    return out.getvalue()


def answer(scene: Scene, now: datetime, *, channel: str, is_approved: bool = True, name: str = "") -> Decision:
    """The owner answers the open question."""
    asked = ApprovalRequest.objects.open().get(finding__job=scene.job)
    by = None if channel == Decision.Channel.LINK else scene.manager
    decision = record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(
            asked.remedy if is_approved else None,
            name or scene.owner.name,
            scene.owner,
            channel,
            phone=scene.owner.phone if channel == Decision.Channel.PHONE else "",
        ),
        by=by,
        now=now,
    )
    drain(now)
    return decision


def finish_work(scene: Scene, now: datetime, *, fail_first: bool = False) -> None:
    """Everything agreed is done and signed off; with fail_first, the first hold point fails once."""
    todo = scene.job.operations.unfinished().order_by("phase", "remedy_id", "position", "pk")
    while operation := todo.first():
        start_operation(operation_id=operation.pk, by=scene.technician, now=now)
        finish_operation(operation_id=operation.pk, by=scene.technician, now=now)
        if check := getattr(Operation.objects.get(pk=operation.pk), "hold_point", None):
            if fail_first:
                fail_first = False
                fail_hold_point(
                    hold_point_id=check.pk, note="Glue line is open.", redo_hours=1.5, by=scene.manager, now=now
                )
            else:
                pass_hold_point(hold_point_id=check.pk, note="", by=scene.manager, now=now)
    drain(now)


def opened(pdf: bytes) -> PdfReader:
    return PdfReader(BytesIO(pdf))


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in opened(pdf).pages).split())


def bookmarks_of(pdf: bytes) -> list[str]:
    """The titles of the outline, however deep."""

    def titles(entries: list) -> list[str]:
        return [title for each in entries for title in (titles(each) if isinstance(each, list) else [each.title])]

    return titles(opened(pdf).outline)
