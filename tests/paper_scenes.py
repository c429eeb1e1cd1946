"""A job with something for every paper, and what a paper says once it is opened again."""

from datetime import datetime, timedelta
from io import BytesIO

from pypdf import PdfReader

from jobs.calc.faces import Face, Place
from jobs.models import ApprovalRequest, Decision, Operation
from jobs.services.approvals import Answer, record_decision
from jobs.services.verdicts import Evidence
from jobs.services.work import fail_hold_point, finish_operation, pass_hold_point, start_operation
from shopfloor.demo.telling import drain
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
