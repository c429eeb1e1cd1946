"""The demo's front cap, from the first look to the way home.

Three finds with several remedies each; two are agreed, one is declined; a panel is bonded a second time at the
shop's cost.
"""

from datetime import datetime

from jobs.calc.faces import Face
from jobs.models import Coach
from jobs.services import booking
from jobs.services.verdicts import Evidence
from shopfloor.demo.stints import do_work, take_material
from shopfloor.demo.telling import Demo, answer, arrive, book, find, make_coach, open_and_seal, pay, place, sign_off

KEY = "front_cap"


def tell_front_cap(demo: Demo) -> None:
    """Bay 2, some weeks ago: booked for a drip over the bunk, collected with a new front panel."""
    coach = make_coach(demo, "Thistlecombe 22", 2009, Coach.Body.TRAVEL_TRAILER, (22, 8, 8), "Marguerite Solberg-Ames")
    cap = place(Face.FRONT, 0.5, 0, 7, 4)
    book(
        demo,
        KEY,
        coach,
        "Water drips on the front bunk, and the front wall sounds loose.",
        booked=demo.at(34, 10),
        arrives_on=demo.at(28, 8).date(),
        promise_days=11,
        works=open_and_seal(cap, "The seam at the top of the cap is open.", "The seam to be sealed new."),
    )
    arrive(demo, KEY, demo.at(28, 8), demo.bays[1])
    do_work(demo, KEY, demo.at(28, 9), demo.at(28, 13))
    pay(demo, KEY, demo.at(28, 15), "0.3", "transfer", "Deposit")
    _find_it(demo)
    _mend_it(demo)

    def collect(now: datetime) -> None:
        booking.collect_coach(job_id=demo.jobs[KEY].pk, by=demo.people["wren"], now=now)

    pay(demo, KEY, demo.at(19, 16), "1", "card")
    demo.plan_event(demo.at(19, 16), collect)


def _find_it(demo: Demo) -> None:
    """The splice of the header and a new panel are agreed; the bare wires are declined and left as they are."""
    find(
        demo,
        KEY,
        demo.at(28, 14),
        "rotten_framing",
        place(Face.FRONT, 1, 0, 6, 0.5),
        "The header is soft right through where the seam was open.",
        "Cut out and splice framing",
        evidence=Evidence(is_wet=False, moisture_pct=15.0, probe_depth_mm=26.0, tap_sound="dull", look="stained"),
        by="tobias",
        is_unsafe_to_leave=True,
    )
    find(
        demo,
        KEY,
        demo.at(28, 14, 20),
        "loose_skin",
        place(Face.FRONT, 0.5, 0.5, 7, 3.5),
        "The skin stands off over the whole cap and is creased along the bottom.",
        "Replace skin panel",
        evidence=Evidence(is_wet=False, tap_sound="hollow"),
        by="tobias",
    )
    find(
        demo,
        KEY,
        demo.at(28, 14, 40),
        "exposed_wire",
        place(Face.FRONT, 1, 2, 2, 0.5),
        "The marker light's wires lie bare across an edge. They are dead and stay dead.",
        "Protect wires",
        evidence=Evidence(is_wet=False),
        by="tobias",
        photos=1,
    )
    answer(demo, KEY, demo.at(27, 9), is_approved=True)
    answer(demo, KEY, demo.at(27, 9, 10), is_approved=True)
    answer(demo, KEY, demo.at(27, 9, 20), is_approved=False)


def _mend_it(demo: Demo) -> None:
    do_work(demo, KEY, demo.at(27, 10), demo.at(27, 12), by="imani")
    do_work(demo, KEY, demo.at(27, 13), demo.at(27, 14), by="imani")
    do_work(demo, KEY, demo.at(27, 14, 5), demo.at(27, 16), by="imani")
    take_material(demo, KEY, demo.at(27, 16, 10), [("Framing timber, planed", 2)])
    sign_off(demo, KEY, demo.at(26, 8), note="Tight, in line.")
    do_work(demo, KEY, demo.at(26, 9), demo.at(26, 11, 30), by="lou")
    do_work(demo, KEY, demo.at(26, 13), demo.at(26, 16), by="lou")
    sign_off(demo, KEY, demo.at(25, 8), note="A ripple across the middle shows in low light.", redo_hours=6.0)
    do_work(demo, KEY, demo.at(25, 9), demo.at(25, 15), by="lou")
    sign_off(demo, KEY, demo.at(24, 8), note="Flat from every side.")
    do_work(demo, KEY, demo.at(24, 9), demo.at(23, 9, 30), by="lou")
    do_work(demo, KEY, demo.at(23, 10), demo.at(23, 13), by="petra")
    do_work(demo, KEY, demo.at(23, 14), demo.at(22, 14, 30), by="petra")
    sign_off(demo, KEY, demo.at(22, 15), note="Hose for half an hour, dry inside.")
    do_work(demo, KEY, demo.at(21, 8), demo.at(21, 12))
    sign_off(demo, KEY, demo.at(21, 13), note="Clean and complete.")
