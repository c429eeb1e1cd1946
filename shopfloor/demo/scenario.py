"""The demo: an invented shop, lived through day by day with the same services that people use.

Every event runs at its own past moment, then the worker's reactions run as of that moment, so journals,
plans and dates come out as they would have. Everything is relative to the day it is loaded.
"""

import itertools
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from estimates.inputs import read_shop
from estimates.models import JobForecast
from estimates.services.planning import replan_for_time, work_out_plan
from jobs import journal
from jobs.calc.faces import Face, Place
from jobs.models import (
    Absence,
    ApprovalRequest,
    Bay,
    Closure,
    Coach,
    CoachOwner,
    Decision,
    Finding,
    HoldPoint,
    Job,
    Operation,
    Owner,
    Person,
    Shop,
    ShopHours,
    StandardRemedy,
)
from jobs.services import approvals, booking, findings, work
from shopfloor.demo.catalogue import write_catalogue
from shopfloor.demo.drawing import draw_photo

PASSWORD = "copper-rivet-larch"  # noqa: S105 - the demo's own, printed when it starts
ZONE = "America/Chicago"
FOOT = 304.8


@dataclass
class Demo:
    """The shop being told, and the clock of the telling."""

    now: datetime
    shop: Shop
    people: dict[str, Person]
    bays: list[Bay]
    remedies: dict[str, StandardRemedy]
    events: list[tuple[datetime, int, Callable[[datetime], None]]] = field(default_factory=list)
    jobs: dict[str, Job] = field(default_factory=dict)
    seeds: Iterator[int] = field(default_factory=lambda: itertools.count(1))
    order: Iterator[int] = field(default_factory=itertools.count)

    def at(self, workdays_ago: int, hour: int, minute: int = 0) -> datetime:
        """A past moment in shop hours, that many workdays before today."""
        zone = ZoneInfo(ZONE)
        day = self.now.astimezone(zone).date()
        calendar = self.shop.calendar()
        while workdays_ago > 0 or not calendar.workdays_between(day, day + timedelta(days=1)):
            day -= timedelta(days=1)
            workdays_ago -= calendar.workdays_between(day, day + timedelta(days=1))
        moment = datetime.combine(day, time(hour, minute), tzinfo=zone)
        return min(moment, self.now - timedelta(minutes=5))

    def plan_event(self, moment: datetime, act: Callable[[datetime], None]) -> None:
        self.events.append((moment, next(self.order), act))

    def run(self) -> None:
        for moment, _, act in sorted(self.events, key=lambda event: event[:2]):
            # As beat does: what time alone has moved is not put down to the next event.
            replan_for_time(work_out_plan(read_shop(self.shop, moment)), now=moment)
            act(moment)
            drain(moment)


def drain(now: datetime) -> None:
    """Run the reactions that are due, as the worker would."""
    while claimed := journal.claim_next(now):
        journal.run_claimed(claimed, now)


def load(now: datetime) -> Demo:
    """Load the whole demo into an empty database."""
    demo = _shop(now)
    for tell in (_waiting, _drying, _overrun, _reworked, _ready, _collected, _fresh, _booked_soon, _booked_later):
        tell(demo)
    demo.run()
    return demo


def _shop(now: datetime) -> Demo:
    shop = Shop.objects.create(
        name="Harrowbend Coach Works",
        time_zone=ZONE,
        units=Shop.Units.US,
        phone="+1 555 0142",
        email="desk@harrowbend.example",
        address="18 Kiln Lane, Millbrace",
    )
    for weekday in range(5):
        ShopHours.objects.create(shop=shop, weekday=weekday, opens=time(7), closes=time(12))
        ShopHours.objects.create(shop=shop, weekday=weekday, opens=time(12, 30), closes=time(16, 30))
    today = shop.local_date(now)
    closed = today + timedelta(days=21)
    Closure.objects.create(shop=shop, first_on=closed, last_on=closed, reason="Stock-taking")
    write_catalogue(shop)
    people = dict(_people(shop))
    away = today + timedelta(days=9)
    Absence.objects.create(person=people["petra"], first_on=away, last_on=away + timedelta(days=1))
    bays = [
        Bay.objects.create(shop=shop, name=name, position=position, longest_coach_mm=feet * FOOT)
        for position, (name, feet) in enumerate([("Bay 1", 42), ("Bay 2", 36), ("Bay 3", 30), ("Bay 4", 24)], start=1)
    ]
    remedies = {remedy.name: remedy for remedy in shop.standard_remedies.all()}
    return Demo(now, shop, people, bays, remedies)


def _people(shop: Shop) -> Iterator[tuple[str, Person]]:
    skills = {skill.name: skill for skill in shop.skills.all()}
    for username, first, last, role, has in (
        ("wren", "Wren", "Ashdown", Person.Role.MANAGER, ()),
        ("tobias", "Tobias", "Quist", Person.Role.TECHNICIAN, ("body", "framing", "sealing")),
        ("imani", "Imani", "Feld", Person.Role.TECHNICIAN, ("framing", "wiring", "body")),
        ("petra", "Petra", "Sandvik", Person.Role.TECHNICIAN, ("skin", "sealing", "body")),
        ("lou", "Lou", "Hargrove", Person.Role.TECHNICIAN, ("skin", "framing", "sealing")),
    ):
        person = Person.objects.create_user(
            username, password=PASSWORD, first_name=first, last_name=last, role=role, shop=shop
        )
        person.skills.set(skills[name] for name in has)
        yield username, person


def _coach(demo: Demo, make: str, year: int, body: str, feet: tuple[float, float, float], owner: str) -> Coach:
    coach = Coach.objects.create(
        shop=demo.shop,
        make=make,
        year=year,
        body=body,
        length_mm=feet[0] * FOOT,
        width_mm=feet[1] * FOOT,
        height_mm=feet[2] * FOOT,
    )
    email = f"{owner.lower().replace(' ', '.')}@post.example"
    person = Owner.objects.create(shop=demo.shop, name=owner, email=email, phone="+1 555 0177")
    CoachOwner.objects.create(coach=coach, owner=person)
    return coach


def _book(
    demo: Demo,
    key: str,
    coach: Coach,
    complaint: str,
    *,
    booked: datetime,
    arrives_on: date,
    promise_days: int,
    works: list[tuple[str, Place, str, str]],
    bay: Bay | None = None,
    priority: int = 5,
) -> None:
    """Book a coach and, once it is planned, promise the planned date plus some days."""

    def book(now: datetime) -> None:
        demo.jobs[key] = booking.book_job(
            coach=coach,
            complaint=complaint,
            arrives_on=arrives_on,
            work=[booking.BookedWork(kind, place, seen, demo.remedies[remedy]) for kind, place, seen, remedy in works],
            bay=bay,
            priority=priority,
            by=demo.people["wren"],
            now=now,
        )

    def promise(now: datetime) -> None:
        forecast = JobForecast.objects.get(job=demo.jobs[key])
        booking.promise_date(
            job=demo.jobs[key],
            ready_on=forecast.expected_on + timedelta(days=promise_days),
            expected_on=forecast.expected_on,
            reason="Given at booking",
            by=demo.people["wren"],
            now=now,
        )

    demo.plan_event(booked, book)
    demo.plan_event(booked + timedelta(minutes=20), promise)


def _arrive(demo: Demo, key: str, moment: datetime, bay: Bay | None = None) -> None:
    def arrive(now: datetime) -> None:
        booking.check_in(job_id=demo.jobs[key].pk, by=demo.people["tobias"], now=now)
        if bay:
            booking.move_to_bay(job_id=demo.jobs[key].pk, bay=bay, by=demo.people["tobias"], now=now)

    demo.plan_event(moment, arrive)


def _find(
    demo: Demo,
    key: str,
    moment: datetime,
    kind: str,
    place: Place,
    seen: str,
    remedy: str | findings.OwnRemedy,
    *,
    evidence: findings.Evidence | None = None,
    by: str = "imani",
    photos: int = 2,
    is_unsafe_to_leave: bool = False,
) -> None:
    seeds = [next(demo.seeds) for _ in range(photos)]

    def find(now: datetime) -> None:
        uploads = [
            findings.UploadedPhoto(draw_photo(kind, seed=seed, width_px=1280, height_px=960), ".jpg", None)
            for seed in seeds
        ]
        findings.post_finding(
            job_id=demo.jobs[key].pk,
            key=uuid.uuid4(),
            kind=kind,
            place=place,
            seen=seen,
            evidence=evidence or findings.Evidence(),
            remedy=demo.remedies[remedy] if isinstance(remedy, str) else remedy,
            uploads=uploads,
            is_unsafe_to_leave=is_unsafe_to_leave,
            by=demo.people[by],
            now=now,
        )

    demo.plan_event(moment, find)


def _answer(demo: Demo, key: str, moment: datetime, *, is_approved: bool) -> None:
    """The owner answers the oldest open question by the link."""

    def answer(now: datetime) -> None:
        job = demo.jobs[key]
        request = ApprovalRequest.objects.open().filter(finding__job=job).order_by("pk")[0]
        owner = job.deciders()[0]
        approvals.record_decision(
            request_id=request.pk,
            seen_sha256=request.offer_sha256,
            answer=approvals.Answer(
                is_approved, owner.name, owner, Decision.Channel.LINK, "192.0.2.44", "Demo browser"
            ),
            by=None,
            now=now,
        )

    demo.plan_event(moment, answer)


def _work(demo: Demo, key: str, start: datetime, finish: datetime | None, *, by: str = "tobias") -> None:
    """Start the next operation that may start; finish it, unless it is left running."""
    started: list[Operation] = []

    def begin(now: datetime) -> None:
        waiting = Operation.objects.unfinished().filter(job=demo.jobs[key], started_at__isnull=True)
        operation = next(each for each in waiting if not work.what_blocks(each))
        started.append(work.start_operation(operation_id=operation.pk, by=demo.people[by], now=now))

    def end(now: datetime) -> None:
        work.finish_operation(operation_id=started[0].pk, by=demo.people[by], now=now)

    demo.plan_event(start, begin)
    if finish:
        demo.plan_event(finish, end)


def _sign_off(demo: Demo, key: str, moment: datetime, *, note: str = "", redo_hours: float = 0.0) -> None:
    """Pass the oldest hold point whose work is finished, or fail it with the hours of doing it again."""

    def check(now: datetime) -> None:
        hold_point = (
            HoldPoint.objects.waiting()
            .filter(operation__job=demo.jobs[key], operation__finished_at__isnull=False)
            .order_by("pk")[0]
        )
        if redo_hours:
            work.fail_hold_point(
                hold_point_id=hold_point.pk, note=note, redo_hours=redo_hours, by=demo.people["wren"], now=now
            )
        else:
            work.pass_hold_point(hold_point_id=hold_point.pk, note=note, by=demo.people["wren"], now=now)

    demo.plan_event(moment, check)


def _place(face: Face, left_ft: float, top_ft: float, width_ft: float, height_ft: float) -> Place:
    return Place(face, left_ft * FOOT, top_ft * FOOT, width_ft * FOOT, height_ft * FOOT)


def _waiting(demo: Demo) -> None:
    """Bay 1: a front cap opened up, a rotten header found, the owner has not answered yet."""
    coach = _coach(demo, "Larkmoor Finch", 2011, Coach.Body.TRAVEL_TRAILER, (26, 8, 8), "Delia Marchbanks")
    front = _place(Face.ROOF, 0, 0.5, 3, 7)
    _book(
        demo,
        "waiting",
        coach,
        "Water runs in over the front bunk when it rains.",
        booked=demo.at(9, 9),
        arrives_on=demo.at(2, 8).date(),
        promise_days=9,
        works=[
            ("failed_seal", front, "Seal cracked along the whole front roof edge.", "Open up and inspect"),
            ("failed_seal", front, "Edge to be sealed new once the wood is dry.", "Renew the edge seal"),
            ("other", front, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "waiting", demo.at(2, 8), demo.bays[0])
    _work(demo, "waiting", demo.at(2, 9), demo.at(2, 13))
    _find(
        demo,
        "waiting",
        demo.at(1, 13, 30),
        "wet_insulation",
        _place(Face.FRONT, 1, 0, 6, 3),
        "Batt is soaked right across, water runs out when pressed.",
        "Renew wet insulation",
        evidence=findings.Evidence(is_wet=True, moisture_pct=31.0, look="stained"),
    )
    _answer(demo, "waiting", demo.at(1, 15, 30), is_approved=True)
    _find(
        demo,
        "waiting",
        demo.at(1, 16),
        "rotten_framing",
        _place(Face.FRONT, 0.5, 0, 7, 0.5),
        "Header is gone from the road side to the middle. Screwdriver goes in to the handle.",
        "Cut out and splice framing",
        evidence=findings.Evidence(is_wet=True, moisture_pct=34.0, probe_depth_mm=28.0, tap_sound="crunchy"),
        photos=3,
        is_unsafe_to_leave=True,
    )


def _drying(demo: Demo) -> None:
    """Bay 2: a side wall drying out over the weekend."""
    coach = _coach(demo, "Fenwarrick 30", 2015, Coach.Body.FIFTH_WHEEL, (32, 8, 9), "Osei and Ruth Tillinghast")
    wall = _place(Face.CURB_SIDE, 14, 3, 8, 5)
    _book(
        demo,
        "drying",
        coach,
        "Soft wall below the window at the dinette.",
        booked=demo.at(12, 10),
        arrives_on=demo.at(4, 8).date(),
        promise_days=10,
        works=[
            ("wet_insulation", wall, "Wall gives under the window.", "Open up and inspect"),
            ("failed_seal", _place(Face.CURB_SIDE, 15, 2, 4, 3), "Window flange leaks.", "Renew the edge seal"),
            ("other", wall, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "drying", demo.at(4, 8), demo.bays[1])
    _work(demo, "drying", demo.at(4, 9), demo.at(4, 14), by="petra")
    opens = demo.shop.calendar().next_open
    today = demo.now.astimezone(ZoneInfo(ZONE))
    begin = demo.at(1, 15)
    weekend_end = today + timedelta(days=(7 - today.weekday()) % 7 or 7)
    if today.weekday() == 0:  # on a Monday the weekend that is just over
        weekend_end = today + timedelta(days=1)
    until = opens(weekend_end.replace(hour=7, minute=0, second=0, microsecond=0))
    hours = max(24.0, round((until - begin) / timedelta(hours=1)))
    skill = demo.shop.skills.get(name="body")
    _find(
        demo,
        "drying",
        demo.at(3, 10),
        "stained_framing",
        wall,
        "Studs are stained and wet but sound hard. Dry them slowly over the weekend, then look again.",
        findings.OwnRemedy("Set blowers and dry the open wall over the weekend", 1.0, skill, wait_hours=hours),
        evidence=findings.Evidence(
            is_wet=True, moisture_pct=27.0, probe_depth_mm=3.0, tap_sound="solid", look="stained"
        ),
        by="petra",
    )
    _answer(demo, "drying", demo.at(2, 12), is_approved=True)
    _work(demo, "drying", begin - timedelta(minutes=70), begin - timedelta(minutes=10), by="petra")
    _work(demo, "drying", begin, None, by="petra")


def _overrun(demo: Demo) -> None:
    """Bay 3: late for three causes: a finding, a late answer, work done again."""
    coach = _coach(demo, "Murrowdale Heron", 2008, Coach.Body.TRAVEL_TRAILER, (24, 8, 8), "Jonah Petrakis-Lund")
    rear = _place(Face.REAR, 0.5, 1, 7, 6)
    _book(
        demo,
        "overrun",
        coach,
        "Rear wall is soft at the bottom and the bumper side leaks.",
        booked=demo.at(16, 9),
        arrives_on=demo.at(10, 8).date(),
        promise_days=0,
        priority=3,
        works=[
            ("loose_skin", rear, "Rear skin stands off.", "Open up and inspect"),
            ("loose_skin", rear, "Rear skin to be replaced.", "Replace skin panel"),
            ("failed_seal", rear, "Seal all round the rear.", "Renew the edge seal"),
            ("other", rear, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "overrun", demo.at(10, 8), demo.bays[2])
    _work(demo, "overrun", demo.at(10, 9), demo.at(10, 14))
    _find(
        demo,
        "overrun",
        demo.at(9, 10),
        "rotten_framing",
        _place(Face.REAR, 0, 5.5, 8, 1.5),
        "Bottom rail crumbles along its whole length.",
        "Cut out and splice framing",
        evidence=findings.Evidence(probe_depth_mm=22.0, tap_sound="dull", look="stained", is_wet=False),
        by="tobias",
    )
    _answer(demo, "overrun", demo.at(6, 9), is_approved=True)
    _work(demo, "overrun", demo.at(6, 10), demo.at(6, 13), by="imani")
    _work(demo, "overrun", demo.at(6, 14), demo.at(5, 10), by="imani")
    _sign_off(demo, "overrun", demo.at(5, 11), note="Tight, in line.")
    _work(demo, "overrun", demo.at(5, 12, 45), demo.at(5, 15), by="lou")
    _work(demo, "overrun", demo.at(4, 8), demo.at(4, 12), by="lou")
    _sign_off(demo, "overrun", demo.at(3, 9), note="Two ripples at the lower edge. Not good enough.", redo_hours=5.0)
    _work(demo, "overrun", demo.at(2, 13), None, by="lou")


def _reworked(demo: Demo) -> None:
    """Outside: a panel was bonded a second time at the shop's cost; now it cures and is sealed."""
    coach = _coach(demo, "Pellworth Coaster", 2017, Coach.Body.MOTORHOME, (23, 8, 9), "Agnes Thorsby")
    side = _place(Face.ROAD_SIDE, 6, 2, 9, 5)
    _book(
        demo,
        "reworked",
        coach,
        "Skin bubbles on the road side behind the door.",
        booked=demo.at(14, 11),
        arrives_on=demo.at(8, 8).date(),
        promise_days=10,
        works=[
            ("loose_skin", side, "Skin bubbles, backing sounds solid.", "Bond loose skin again"),
            ("other", side, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "reworked", demo.at(8, 8), demo.bays[3])
    _work(demo, "reworked", demo.at(8, 9), demo.at(8, 14), by="petra")
    _work(demo, "reworked", demo.at(8, 14, 10), demo.at(7, 14, 15), by="petra")
    _sign_off(demo, "reworked", demo.at(7, 15), note="Hollow patch at the rear edge. Bond it again.", redo_hours=24.0)
    _work(demo, "reworked", demo.at(5, 13), demo.at(4, 13, 5), by="petra")
    _sign_off(demo, "reworked", demo.at(3, 8), note="Solid everywhere.")


def _ready(demo: Demo) -> None:
    """Outside: finished, signed off, waiting to be collected."""
    coach = _coach(demo, "Cobbleskate 19", 2019, Coach.Body.TRAVEL_TRAILER, (19, 7.5, 8), "Priya Vanterpool")
    roof = _place(Face.ROOF, 8, 2, 3, 3)
    _book(
        demo,
        "ready",
        coach,
        "Drip at the roof vent.",
        booked=demo.at(13, 14),
        arrives_on=demo.at(7, 8).date(),
        promise_days=3,
        works=[
            ("failed_seal", roof, "Vent flange seal is cracked.", "Renew the edge seal"),
            ("other", roof, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "ready", demo.at(7, 8))
    _work(demo, "ready", demo.at(6, 8), demo.at(6, 11), by="lou")
    _work(demo, "ready", demo.at(6, 11, 10), demo.at(5, 11, 30), by="lou")
    _sign_off(demo, "ready", demo.at(5, 13), note="Hose for 20 minutes, dry inside.")
    _find(
        demo,
        "ready",
        demo.at(5, 13, 30),
        "corrosion",
        _place(Face.ROOF, 8, 2, 1.5, 0.5),
        "White bloom on the vent frame, only on the surface.",
        findings.OwnRemedy("Polish and wax the vent frame", 1.0, demo.shop.skills.get(name="sealing")),
        by="lou",
        photos=1,
    )
    _answer(demo, "ready", demo.at(4, 9), is_approved=False)
    _work(demo, "ready", demo.at(3, 8), demo.at(3, 11), by="tobias")
    _sign_off(demo, "ready", demo.at(2, 9), note="Clean and complete.")


def _collected(demo: Demo) -> None:
    """Gone home: a whole job from booking to collection."""
    coach = _coach(demo, "Oatenfield Wren", 2013, Coach.Body.TRUCK_CAMPER, (12, 7, 7), "Silas Emberwood")
    floor = _place(Face.FLOOR, 2, 2, 4, 3)
    _book(
        demo,
        "collected",
        coach,
        "Floor is soft by the door.",
        booked=demo.at(20, 9),
        arrives_on=demo.at(15, 8).date(),
        promise_days=2,
        works=[
            ("loose_decking", floor, "Floor gives by the door.", "Replace decking"),
            ("other", floor, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "collected", demo.at(15, 8), demo.bays[3])
    _work(demo, "collected", demo.at(15, 9), demo.at(15, 11))
    _work(demo, "collected", demo.at(14, 8), demo.at(14, 12))
    _work(demo, "collected", demo.at(13, 8), demo.at(13, 11))
    _sign_off(demo, "collected", demo.at(13, 12), note="Firm underfoot.")

    def collect(now: datetime) -> None:
        booking.collect_coach(job_id=demo.jobs["collected"].pk, by=demo.people["wren"], now=now)

    demo.plan_event(demo.at(12, 10), collect)


def _fresh(demo: Demo) -> None:
    """Parked outside: arrived this morning, nothing opened yet. The one to post a finding on."""
    coach = _coach(demo, "Skylarrow 28", 2012, Coach.Body.TRAVEL_TRAILER, (28, 8, 8), "Hannelore Brightwater")
    edge = _place(Face.ROOF, 20, 0, 8, 2)
    _book(
        demo,
        "fresh",
        coach,
        "Brown stain on the ceiling at the rear, road side.",
        booked=demo.at(6, 15),
        arrives_on=demo.at(0, 8).date(),
        promise_days=7,
        works=[
            ("failed_seal", edge, "Stain on the ceiling, roof edge looks open.", "Open up and inspect"),
            ("failed_seal", edge, "Edge to be sealed new.", "Renew the edge seal"),
            ("other", edge, "Final check.", "Final check and hand-over"),
        ],
    )
    _arrive(demo, "fresh", demo.at(0, 8))


def _booked_soon(demo: Demo) -> None:
    coach = _coach(demo, "Tresselby Drift", 2016, Coach.Body.VAN_CONVERSION, (21, 7, 9), "Mateo Kirkbride")
    side = _place(Face.CURB_SIDE, 9, 1, 5, 3)
    _book(
        demo,
        "booked_soon",
        coach,
        "Leak at the side window after heavy rain.",
        booked=demo.at(3, 11),
        arrives_on=demo.shop.local_date(demo.now) + timedelta(days=3),
        promise_days=3,
        works=[
            ("failed_seal", side, "Window seal is open at the top.", "Renew the edge seal"),
            ("wet_insulation", side, "Wall feels cold and damp.", "Renew wet insulation"),
            ("other", side, "Final check.", "Final check and hand-over"),
        ],
    )


def _booked_later(demo: Demo) -> None:
    coach = _coach(demo, "Havenquill Estate", 2005, Coach.Body.MOTORHOME, (34, 8, 10), "Beatrix Oduya-Lane")
    roof = _place(Face.ROOF, 0, 0, 20, 8)
    _book(
        demo,
        "booked_later",
        coach,
        "Roof is soft in several places, old repairs everywhere.",
        booked=demo.at(2, 10),
        arrives_on=demo.shop.local_date(demo.now) + timedelta(days=8),
        promise_days=5,
        priority=6,
        works=[
            ("loose_decking", roof, "Deck moves underfoot.", "Open up and inspect"),
            ("loose_decking", _place(Face.ROOF, 0, 0, 12, 8), "Front half of the deck.", "Replace decking"),
            ("failed_seal", roof, "Edges all round.", "Renew the edge seal"),
            ("other", roof, "Final check.", "Final check and hand-over"),
        ],
    )


def open_finding(demo: Demo) -> Finding:
    """The finding whose owner has not answered yet: its link is printed for whoever walks the demo."""
    return Finding.objects.filter(job=demo.jobs["waiting"], requests__closed_at__isnull=True).latest("pk")
