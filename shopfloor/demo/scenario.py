"""The demo: an invented shop, lived through day by day with the same services that people use.

Every event runs at its own past moment, then the worker's reactions run as of that moment, so journals,
plans and dates come out as they would have. Everything is relative to the day it is loaded.
"""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from estimates.services.odds import work_out_odds
from jobs.calc.faces import Face
from jobs.models import (
    Absence,
    Bay,
    Closure,
    Coach,
    Overtime,
    Person,
    Shop,
    ShopHours,
)
from jobs.services import booking
from jobs.services.equipment import set_equipment
from jobs.services.remedies import OwnRemedy
from jobs.services.verdicts import Evidence
from shopfloor.demo.catalogue import write_catalogue
from shopfloor.demo.front_cap import tell_front_cap
from shopfloor.demo.spots import HEADER_SPOTS, WALL_SPOTS
from shopfloor.demo.stints import do_work, take_material
from shopfloor.demo.telling import (
    FOOT,
    ZONE,
    Demo,
    answer,
    arrive,
    book,
    find,
    make_coach,
    mark,
    open_and_seal,
    place,
    read,
    set_up,
    sign_off,
)

PASSWORD = "copper-rivet-larch"  # noqa: S105 - the demo's own, printed when it starts


def load(now: datetime) -> Demo:
    """Load the whole demo into an empty database."""
    demo = open_shop(now)
    tellings = (_waiting, _drying, _overrun, _reworked, _ready, _collected, _fresh, _booked_soon, _booked_later)
    for tell in (*tellings, tell_front_cap):
        tell(demo)
    demo.run()
    work_out_odds(demo.shop, now=now)
    return demo


def open_shop(now: datetime) -> Demo:
    """The shop itself, before anything has happened in it."""
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
    set_equipment(shop=shop, counts={"blower": 4, "dehumidifier": 2, "heater": None})
    people = dict(_people(shop))
    away = today + timedelta(days=9)
    Absence.objects.create(person=people["petra"], first_on=away, last_on=away + timedelta(days=1))
    saturday = today + timedelta(days=(5 - today.weekday()) % 7 + 7)
    begins_at = datetime.combine(saturday, time(8), tzinfo=ZoneInfo(ZONE))
    Overtime.objects.create(person=people["lou"], begins_at=begins_at, ends_at=begins_at + timedelta(hours=4))
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


def _waiting(demo: Demo) -> None:
    """Bay 1: a front cap opened up, a rotten header found, the owner has not answered yet."""
    coach = make_coach(demo, "Larkmoor Finch", 2011, Coach.Body.TRAVEL_TRAILER, (26, 8, 8), "Delia Marchbanks")
    front = place(Face.ROOF, 0, 0.5, 3, 7)
    book(
        demo,
        "waiting",
        coach,
        "Water runs in over the front bunk when it rains.",
        booked=demo.at(9, 9),
        arrives_on=demo.at(2, 8).date(),
        promise_days=9,
        works=open_and_seal(
            front, "Seal cracked along the whole front roof edge.", "Edge to be sealed new once the wood is dry."
        ),
    )
    arrive(demo, "waiting", demo.at(2, 8), demo.bays[0])
    do_work(demo, "waiting", demo.at(2, 9), demo.at(2, 13))
    find(
        demo,
        "waiting",
        demo.at(1, 13, 30),
        "wet_insulation",
        place(Face.FRONT, 1, 0, 6, 3),
        "Batt is soaked right across, water runs out when pressed.",
        "Renew wet insulation",
        evidence=Evidence(is_wet=True, moisture_pct=31.0, look="stained"),
    )
    mark(demo, "waiting", demo.at(1, 13, 40), HEADER_SPOTS, by="imani")
    read(
        demo,
        "waiting",
        [demo.at(1, 13, 50), demo.at(1, 16, 10), demo.at(0, 7, 30), demo.at(0, 9)],
        HEADER_SPOTS,
        air_c_rh=[(19.0, 58.0), (20.0, 55.0), (18.0, 60.0)],
        by="imani",
    )
    answer(demo, "waiting", demo.at(1, 15, 30), is_approved=True)
    find(
        demo,
        "waiting",
        demo.at(1, 16),
        "rotten_framing",
        place(Face.FRONT, 0.5, 0, 7, 0.5),
        "Header is gone from the road side to the middle. Screwdriver goes in to the handle.",
        "Cut out and splice framing",
        evidence=Evidence(
            is_wet=True,
            moisture_pct=34.0,
            probe_depth_mm=28.0,
            tap_sound="crunchy",
            member="wall_framing",
            member_thickness_mm=38.1,
            is_near_mains=True,
        ),
        photos=3,
        is_unsafe_to_leave=True,
    )
    find(
        demo,
        "waiting",
        demo.at(1, 16, 15),
        "exposed_wire",
        place(Face.FRONT, 6, 0.5, 1, 1.5),
        "Marker light wire runs bare over the edge of the cap.",
        "Protect wires",
        evidence=Evidence(is_wet=False, is_near_mains=False),
        photos=1,
    )


def _drying(demo: Demo) -> None:
    """Bay 2: a side wall drying out over the weekend."""
    coach = make_coach(demo, "Fenwarrick 30", 2015, Coach.Body.FIFTH_WHEEL, (32, 8, 9), "Osei and Ruth Tillinghast")
    wall = place(Face.CURB_SIDE, 14, 3, 8, 5)
    book(
        demo,
        "drying",
        coach,
        "Soft wall below the window at the dinette.",
        booked=demo.at(12, 10),
        arrives_on=demo.at(4, 8).date(),
        promise_days=10,
        works=[
            ("wet_insulation", wall, "Wall gives under the window.", "Open up and inspect"),
            ("failed_seal", place(Face.CURB_SIDE, 15, 2, 4, 3), "Window flange leaks.", "Renew the edge seal"),
        ],
    )
    arrive(demo, "drying", demo.at(4, 8), demo.bays[1])
    do_work(demo, "drying", demo.at(4, 9), demo.at(4, 14), by="petra")
    opens = demo.shop.calendar().next_open
    today = demo.now.astimezone(ZoneInfo(ZONE))
    begin = demo.at(1, 15)
    weekend_end = today + timedelta(days=(7 - today.weekday()) % 7 or 7)
    if today.weekday() == 0:  # on a Monday the weekend that is just over
        weekend_end = today + timedelta(days=1)
    until = opens(weekend_end.replace(hour=7, minute=0, second=0, microsecond=0))
    hours = max(24.0, round((until - begin) / timedelta(hours=1)))
    skill = demo.shop.skills.get(name="body")
    find(
        demo,
        "drying",
        demo.at(3, 10),
        "stained_framing",
        wall,
        "Studs are stained and wet but sound hard. Dry them slowly over the weekend, then look again.",
        OwnRemedy("Set blowers and dry the open wall over the weekend", 1.0, skill, wait_hours=hours),
        evidence=Evidence(is_wet=True, moisture_pct=27.0, probe_depth_mm=3.0, tap_sound="solid", look="stained"),
        by="petra",
    )
    mark(demo, "drying", demo.at(3, 10, 20), WALL_SPOTS)
    set_up(demo, "drying", demo.at(3, 11), "blower", 2, Face.CURB_SIDE, "along the sill, blowing to the rear")
    set_up(demo, "drying", demo.at(3, 11, 5), "dehumidifier", 1, Face.CURB_SIDE, "in the dinette, drained outside")
    read(
        demo,
        "drying",
        [
            demo.at(3, 10, 40),
            demo.at(3, 16),
            demo.at(2, 7, 40),
            demo.at(2, 16),
            demo.at(1, 7, 45),
            demo.at(1, 15, 40),
            demo.at(0, 7, 40),
        ],
        WALL_SPOTS,
        air_c_rh=[(22.0, 46.0), (24.0, 41.0), (20.0, 44.0), (24.5, 38.0)],
    )
    answer(demo, "drying", demo.at(2, 12), is_approved=True)
    do_work(demo, "drying", begin - timedelta(minutes=70), begin - timedelta(minutes=10), by="petra")
    do_work(demo, "drying", begin, None, by="petra")


def _overrun(demo: Demo) -> None:
    """Bay 3: late for three causes: a finding, a late answer, work done again."""
    coach = make_coach(demo, "Murrowdale Heron", 2008, Coach.Body.TRAVEL_TRAILER, (24, 8, 8), "Jonah Petrakis-Lund")
    rear = place(Face.REAR, 0.5, 1, 7, 6)
    book(
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
        ],
    )
    arrive(demo, "overrun", demo.at(10, 8), demo.bays[2])
    do_work(demo, "overrun", demo.at(10, 9), demo.at(10, 14))
    find(
        demo,
        "overrun",
        demo.at(9, 10),
        "rotten_framing",
        place(Face.REAR, 0, 5.5, 8, 1.5),
        "Bottom rail crumbles along its whole length.",
        "Cut out and splice framing",
        evidence=Evidence(probe_depth_mm=22.0, tap_sound="dull", look="stained", is_wet=False, member="sill"),
        by="tobias",
    )
    answer(demo, "overrun", demo.at(6, 9), is_approved=True)
    do_work(demo, "overrun", demo.at(6, 10), demo.at(6, 13), by="imani")
    do_work(demo, "overrun", demo.at(6, 14), demo.at(6, 15), by="imani")
    do_work(demo, "overrun", demo.at(6, 15, 5), demo.at(5, 10), by="imani")
    take_material(demo, "overrun", demo.at(5, 10, 15), [("Framing timber, planed", 3)])
    sign_off(demo, "overrun", demo.at(5, 11), note="Tight, in line.")
    do_work(demo, "overrun", demo.at(5, 12, 45), demo.at(5, 15), by="lou")
    do_work(demo, "overrun", demo.at(4, 8), demo.at(4, 12), by="lou")
    sign_off(demo, "overrun", demo.at(3, 9), note="Two ripples at the lower edge. Not good enough.", redo_hours=5.0)
    do_work(demo, "overrun", demo.at(2, 13), None, by="lou", forgets=True)


def _reworked(demo: Demo) -> None:
    """Outside: a panel was bonded a second time at the shop's cost; now it cures and is sealed."""
    coach = make_coach(demo, "Pellworth Coaster", 2017, Coach.Body.MOTORHOME, (23, 8, 9), "Agnes Thorsby")
    side = place(Face.ROAD_SIDE, 6, 2, 9, 5)
    book(
        demo,
        "reworked",
        coach,
        "Skin bubbles on the road side behind the door.",
        booked=demo.at(14, 11),
        arrives_on=demo.at(8, 8).date(),
        promise_days=10,
        works=[
            ("loose_skin", side, "Skin bubbles, backing sounds solid.", "Bond loose skin again"),
        ],
    )
    arrive(demo, "reworked", demo.at(8, 8), demo.bays[3])
    do_work(demo, "reworked", demo.at(8, 9), demo.at(8, 14), by="petra")
    do_work(demo, "reworked", demo.at(8, 14, 10), demo.at(7, 14, 15), by="petra")
    sign_off(demo, "reworked", demo.at(7, 15), note="Hollow patch at the rear edge. Bond it again.", redo_hours=24.0)
    do_work(demo, "reworked", demo.at(5, 13), demo.at(4, 13, 5), by="petra")
    sign_off(demo, "reworked", demo.at(3, 8), note="Solid everywhere.")


def _ready(demo: Demo) -> None:
    """Outside: finished, signed off, waiting to be collected."""
    coach = make_coach(demo, "Cobbleskate 19", 2019, Coach.Body.TRAVEL_TRAILER, (19, 7.5, 8), "Priya Vanterpool")
    roof = place(Face.ROOF, 8, 2, 3, 3)
    book(
        demo,
        "ready",
        coach,
        "Drip at the roof vent.",
        booked=demo.at(13, 14),
        arrives_on=demo.at(7, 8).date(),
        promise_days=3,
        works=[
            ("failed_seal", roof, "Vent flange seal is cracked.", "Renew the edge seal"),
        ],
    )
    arrive(demo, "ready", demo.at(7, 8))
    do_work(demo, "ready", demo.at(6, 8), demo.at(6, 11), by="lou")
    do_work(demo, "ready", demo.at(6, 11, 10), demo.at(5, 11, 30), by="lou")
    sign_off(demo, "ready", demo.at(5, 13), note="Hose for 20 minutes, dry inside.")
    find(
        demo,
        "ready",
        demo.at(5, 13, 30),
        "corrosion",
        place(Face.ROOF, 8, 2, 1.5, 0.5),
        "White bloom on the vent frame, only on the surface.",
        OwnRemedy("Polish and wax the vent frame", 1.0, demo.shop.skills.get(name="sealing")),
        by="lou",
        photos=1,
    )
    answer(demo, "ready", demo.at(4, 9), is_approved=False)
    do_work(demo, "ready", demo.at(3, 8), demo.at(3, 11), by="tobias")
    sign_off(demo, "ready", demo.at(2, 9), note="Clean and complete.")


def _collected(demo: Demo) -> None:
    """Gone home: a whole job from booking to collection."""
    coach = make_coach(demo, "Oatenfield Wren", 2013, Coach.Body.TRUCK_CAMPER, (12, 7, 7), "Silas Emberwood")
    floor = place(Face.FLOOR, 2, 2, 4, 3)
    book(
        demo,
        "collected",
        coach,
        "Floor is soft by the door.",
        booked=demo.at(20, 9),
        arrives_on=demo.at(15, 8).date(),
        promise_days=2,
        works=[
            ("loose_decking", floor, "Floor gives by the door.", "Replace decking"),
        ],
    )
    arrive(demo, "collected", demo.at(15, 8), demo.bays[3])
    do_work(demo, "collected", demo.at(15, 9), demo.at(15, 11))
    do_work(demo, "collected", demo.at(14, 8), demo.at(14, 12))
    take_material(demo, "collected", demo.at(14, 13), [("Plywood decking", 1), ("Screws, coated", 1)])
    do_work(demo, "collected", demo.at(13, 8), demo.at(13, 11))
    sign_off(demo, "collected", demo.at(13, 12), note="Firm underfoot.")

    def collect(now: datetime) -> None:
        booking.collect_coach(job_id=demo.jobs["collected"].pk, by=demo.people["wren"], now=now)

    demo.plan_event(demo.at(12, 10), collect)


def _fresh(demo: Demo) -> None:
    """Parked outside: arrived this morning, nothing opened yet. The one to post a finding on."""
    coach = make_coach(demo, "Skylarrow 28", 2012, Coach.Body.TRAVEL_TRAILER, (28, 8, 8), "Hannelore Brightwater")
    edge = place(Face.ROOF, 20, 0, 8, 2)
    book(
        demo,
        "fresh",
        coach,
        "Brown stain on the ceiling at the rear, road side.",
        booked=demo.at(6, 15),
        arrives_on=demo.at(0, 8).date(),
        promise_days=7,
        works=open_and_seal(edge, "Stain on the ceiling, roof edge looks open.", "Edge to be sealed new."),
    )
    arrive(demo, "fresh", demo.at(0, 8))


def _booked_soon(demo: Demo) -> None:
    coach = make_coach(demo, "Tresselby Drift", 2016, Coach.Body.VAN_CONVERSION, (21, 7, 9), "Mateo Kirkbride")
    side = place(Face.CURB_SIDE, 9, 1, 5, 3)
    book(
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
        ],
    )


def _booked_later(demo: Demo) -> None:
    coach = make_coach(demo, "Havenquill Estate", 2005, Coach.Body.MOTORHOME, (34, 8, 10), "Beatrix Oduya-Lane")
    roof = place(Face.ROOF, 0, 0, 20, 8)
    book(
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
            ("loose_decking", place(Face.ROOF, 0, 0, 12, 8), "Front half of the deck.", "Replace decking"),
            ("failed_seal", roof, "Edges all round.", "Renew the edge seal"),
        ],
    )
