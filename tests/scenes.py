"""A working shop for tests that follow a job: people, bays, the demo's catalogue, a coach in a bay."""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO

from PIL import Image

from estimates.models import GivenOut
from jobs.calc.faces import Face, Place
from jobs.models import (
    ApprovalRequest,
    Bay,
    Coach,
    Decision,
    Finding,
    Job,
    Owner,
    Person,
    ReadingRound,
    Remedy,
    Shop,
    Station,
)
from jobs.services.approvals import Answer, record_decision
from jobs.services.booking import BookedWork, book_job, check_in, move_to_bay, promise_date
from jobs.services.findings import UploadedPhoto, post_finding
from jobs.services.moisture import Air, NewReading, mark_station, take_round
from jobs.services.remedies import OwnRemedy
from jobs.services.verdicts import Evidence
from shopfloor.demo.catalogue import write_catalogue
from shopfloor.demo.telling import drain
from tests.factories import BayFactory, CoachFactory, PersonFactory, ShopFactory

FRONT_EDGE = Place(Face.ROOF, 0, 150, 900, 2100)


@dataclass
class Scene:
    """A shop with one coach opened up in its bay."""

    now: datetime
    shop: Shop
    manager: Person
    technician: Person
    bay: Bay
    coach: Coach
    owner: Owner
    job: Job


def working_shop() -> tuple[Shop, Person, Person, Bay]:
    """A shop with the demo's catalogue, a manager, a technician who can do everything twice over, and a bay."""
    shop = ShopFactory()
    write_catalogue(shop)
    manager = PersonFactory(shop=shop, role=Person.Role.MANAGER)
    technicians = [PersonFactory(shop=shop) for _ in range(2)]
    for technician in technicians:
        technician.skills.set(shop.skills.all())
    return shop, manager, technicians[0], BayFactory(shop=shop)


def opened_coach(now: datetime, *, promise_days: int = 2) -> Scene:
    """Booked, planned, promised, arrived and in its bay; the worker has done all it had to."""
    shop, manager, technician, bay = working_shop()
    coach = CoachFactory(shop=shop)
    owner = coach.owners.get()
    remedies = {remedy.name: remedy for remedy in shop.standard_remedies.all()}
    job = book_job(
        coach=coach,
        complaint="Water over the front bunk.",
        arrives_on=shop.local_date(now),
        work=[
            BookedWork("failed_seal", FRONT_EDGE, "Edge is open.", remedies["Open up and inspect"]),
            BookedWork("failed_seal", FRONT_EDGE, "Seal it new.", remedies["Renew the edge seal"]),
        ],
        by=manager,
        now=now,
    )
    drain(now)
    expected_on = job.forecast.expected_on
    promise_date(
        job=job,
        ready_on=expected_on + timedelta(days=promise_days),
        expected_on=expected_on,
        reason="Given at booking",
        by=manager,
        now=now,
    )
    check_in(job_id=job.pk, by=technician, now=now)
    job = move_to_bay(job_id=job.pk, bay=bay, by=technician, now=now)
    drain(now)
    return Scene(now, shop, manager, technician, bay, coach, owner, job)


def crowded_bay(now: datetime) -> tuple[Scene, Job]:
    """Nobody stands in the one bay; a long job goes first by its turn though a short one was promised for today."""
    scene = opened_coach(now)
    Job.objects.filter(pk=scene.job.pk).update(entered_bay_at=None, bay=None, priority=1)
    remedy = scene.shop.standard_remedies.get(name="Renew the edge seal")
    today = scene.shop.local_date(now)
    short = book_job(
        coach=CoachFactory(shop=scene.shop, make="Brindlewick"),
        complaint="Drip.",
        arrives_on=today,
        work=[BookedWork("failed_seal", FRONT_EDGE, "Open.", remedy)],
        by=scene.manager,
        now=now,
    )
    drain(now)
    check_in(job_id=short.pk, by=scene.manager, now=now)
    promise_date(job=short, ready_on=today, expected_on=None, reason="Given at booking", by=scene.manager, now=now)
    GivenOut.objects.all().delete()
    find_rot(scene, remedy=OwnRemedy("Bond anew", 60.0, scene.shop.skills.first()))
    drain(now)
    GivenOut.objects.all().delete()
    return scene, short


def book_behind(scene: Scene) -> Job:
    """One more coach for the same day, not checked in and not planned yet."""
    seal = scene.shop.standard_remedies.get(name="Renew the edge seal")
    return book_job(
        coach=CoachFactory(shop=scene.shop, make="Brindlewick"),
        complaint="Drip.",
        arrives_on=scene.shop.local_date(scene.now),
        work=[BookedWork("failed_seal", FRONT_EDGE, "Open.", seal)],
        by=scene.manager,
        now=scene.now,
    )


def answer_by_link(scene: Scene, asked: ApprovalRequest, remedy: Remedy | None, *, now: datetime) -> None:
    """The owner picks a remedy, or with None says no, and all that follows is done."""
    record_decision(
        request_id=asked.pk,
        seen_sha256=asked.offer_sha256,
        answer=Answer(remedy, scene.owner.name, scene.owner, Decision.Channel.LINK, "192.0.2.1", "Test"),
        by=None,
        now=now,
    )
    drain(now)


def find_rot(scene: Scene, *, photos: int = 1, **fields: object) -> Finding:
    """A technician posts rotten framing at the front; nothing has reacted yet."""
    given = {
        "job_id": scene.job.pk,
        "key": uuid.uuid4(),
        "kind": "rotten_framing",
        "place": Place(Face.FRONT, 100, 0, 1800, 150),
        "seen": "Header is soft from end to end.",
        "evidence": Evidence(moisture_pct=28.0, probe_depth_mm=20.0, tap_sound="dull", is_wet=True),
        "remedy": scene.shop.standard_remedies.get(name="Cut out and splice framing"),
        "uploads": [UploadedPhoto(jpeg(shade=40 * number), ".jpg", None) for number in range(photos)],
        "by": scene.technician,
        "now": scene.now,
    }
    return post_finding(**given | fields)


def mark(scene: Scene, **fields: object) -> Station:
    """A technician marks a station in the header that find_rot finds rotten."""
    given = {
        "job_id": scene.job.pk,
        "key": uuid.uuid4(),
        "face": Face.FRONT,
        "left_mm": 900.0,
        "top_mm": 75.0,
        "layer": "framing",
        "material": "spruce_sitka",
        "note": "",
        "by": scene.technician,
        "now": scene.now,
    }
    return mark_station(**given | fields)


def walk(
    scene: Scene, taken_at: datetime, values: dict[Station, float | str], *, air: tuple[float, float] = (24.0, 40.0)
) -> ReadingRound:
    """A technician reads stations: a meter value, or "low" or "high" beyond its scale; nothing has reacted yet."""
    return take_round(
        job_id=scene.job.pk,
        key=uuid.uuid4(),
        taken_at=taken_at,
        air=Air(*air),
        cavity_air=None,
        readings=[
            NewReading(station.pk, value) if isinstance(value, str) else NewReading(station.pk, "value", value)
            for station, value in values.items()
        ],
        by=scene.technician,
        now=taken_at,
    )


def jpeg(*, width_px: int = 640, height_px: int = 480, shade: int = 90) -> bytes:
    """A small photo."""
    out = BytesIO()
    Image.new("RGB", (width_px, height_px), (shade, 80, 60)).save(out, "JPEG")
    return out.getvalue()
