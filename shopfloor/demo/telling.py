"""How the demo is told: a clock that goes through past days, and what can happen on them."""

import itertools
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from estimates.balances import read_paid
from estimates.inputs import read_shop
from estimates.models import JobForecast, ShopPlan
from estimates.services import payments
from estimates.services.odds import work_out_odds
from estimates.services.planning import replan_for_time, work_out_plan
from jobs import journal
from jobs.calc.faces import Face, Place
from jobs.models import (
    ApprovalRequest,
    Bay,
    Coach,
    CoachOwner,
    Decision,
    HoldPoint,
    Job,
    Owner,
    Person,
    Shop,
    StandardRemedy,
)
from jobs.services import approvals, booking, findings, moisture, work
from jobs.services.remedies import OwnRemedy
from jobs.services.verdicts import Evidence
from shopfloor.demo.drawing import draw_photo
from shopfloor.demo.spots import Spot

ZONE = "America/Chicago"
FOOT = 304.8
# How often beat plans anew.
BEAT = timedelta(minutes=15)
# For dates long past; fewer than the product takes, so that the demo starts soon.
SAMPLES = 100
# Where the demo's meter stops.
METER_END_PCT = 40.0
# Kind, place, what the owner says of it, and the remedy by name.
Work = tuple[str, Place, str, str]


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
    odds_on: date | None = None  # the day that odds were last worked out on

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
            if not ShopPlan.objects.filter(shop=self.shop, made_at__gt=moment - BEAT).exists():
                replan_for_time(work_out_plan(read_shop(self.shop, moment)), now=moment)
            self._keep_odds_of_day(moment)
            act(moment)
            drain(moment)

    def _keep_odds_of_day(self, moment: datetime) -> None:
        """What is said of the coaches as a day begins, for the record of how dates held."""
        today = self.shop.local_date(moment)
        if today != self.odds_on:
            self.odds_on = today
            work_out_odds(self.shop, now=moment, samples=SAMPLES)


def drain(now: datetime) -> None:
    """Run the reactions that are due, as the worker would."""
    while claimed := journal.claim_next(now):
        journal.run_claimed(claimed, now)


def make_coach(demo: Demo, make: str, year: int, body: str, feet: tuple[float, float, float], owner: str) -> Coach:
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


def open_and_seal(place: Place, opened: str, sealed: str) -> list[Work]:
    """What most leaks are booked as: the place is opened up, and its edge sealed new. In the owner's words."""
    return [
        ("failed_seal", place, opened, "Open up and inspect"),
        ("failed_seal", place, sealed, "Renew the edge seal"),
    ]


def book(
    demo: Demo,
    key: str,
    coach: Coach,
    complaint: str,
    *,
    booked: datetime,
    arrives_on: date,
    promise_days: int,
    works: list[Work],
    bay: Bay | None = None,
    priority: int = 5,
) -> None:
    """Book a coach and, once it is planned, promise the planned date plus some days, or the next that the shop is open.

    works: all but the final check, which every coach gets, noted at the place of the first.
    """
    works = [*works, ("other", works[0][1], "Final check.", "Final check and hand-over")]

    def book_now(now: datetime) -> None:
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
        work_out_odds(demo.shop, now=now, samples=SAMPLES)
        forecast = JobForecast.objects.get(job=demo.jobs[key])
        booking.promise_date(
            job=demo.jobs[key],
            ready_on=demo.shop.calendar().workday_from(forecast.expected_on + timedelta(days=promise_days)),
            expected_on=forecast.expected_on,
            reason="Given at booking",
            by=demo.people["wren"],
            now=now,
        )

    demo.plan_event(booked, book_now)
    demo.plan_event(booked + timedelta(minutes=20), promise)


def arrive(demo: Demo, key: str, moment: datetime, bay: Bay | None = None) -> None:
    def arrive_now(now: datetime) -> None:
        booking.check_in(job_id=demo.jobs[key].pk, by=demo.people["tobias"], now=now)
        if bay:
            booking.move_to_bay(job_id=demo.jobs[key].pk, bay=bay, by=demo.people["tobias"], now=now)

    demo.plan_event(moment, arrive_now)


def find(
    demo: Demo,
    key: str,
    moment: datetime,
    kind: str,
    place: Place,
    seen: str,
    remedy: str | OwnRemedy,
    *,
    evidence: Evidence | None = None,
    by: str = "imani",
    photos: int = 2,
    is_unsafe_to_leave: bool = False,
) -> None:
    seeds = [next(demo.seeds) for _ in range(photos)]

    def find_now(now: datetime) -> None:
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
            evidence=evidence or Evidence(),
            remedy=demo.remedies[remedy] if isinstance(remedy, str) else remedy,
            uploads=uploads,
            is_unsafe_to_leave=is_unsafe_to_leave,
            by=demo.people[by],
            now=now,
        )

    demo.plan_event(moment, find_now)


def answer(demo: Demo, key: str, moment: datetime, *, is_approved: bool, choice: int = 1) -> None:
    """The owner answers the oldest open question by the link; a yes goes to the choice of that number."""

    def answer_now(now: datetime) -> None:
        job = demo.jobs[key]
        request = ApprovalRequest.objects.open().filter(finding__job=job).order_by("pk")[0]
        owner = job.deciders()[0]
        remedy = request.choices.get(position=choice) if is_approved else None
        approvals.record_decision(
            request_id=request.pk,
            seen_sha256=request.offer_sha256,
            answer=approvals.Answer(remedy, owner.name, owner, Decision.Channel.LINK, "192.0.2.44", "Demo browser"),
            by=None,
            now=now,
        )

    demo.plan_event(moment, answer_now)


def sign_off(demo: Demo, key: str, moment: datetime, *, note: str = "", redo_hours: float = 0.0) -> None:
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


def mark(demo: Demo, key: str, moment: datetime, spots: Sequence[Spot], *, by: str = "petra") -> None:
    """Mark stations, in the order given."""

    def mark_now(now: datetime) -> None:
        for spot in spots:
            moisture.mark_station(
                job_id=demo.jobs[key].pk,
                key=uuid.uuid4(),
                face=spot.face,
                left_mm=spot.left_ft * FOOT,
                top_mm=spot.top_ft * FOOT,
                layer=spot.layer,
                material=spot.material,
                note=spot.note,
                by=demo.people[by],
                now=now,
            )

    demo.plan_event(moment, mark_now)


def read(
    demo: Demo,
    key: str,
    moments: Sequence[datetime],
    spots: Sequence[Spot],
    *,
    air_c_rh: Sequence[tuple[float, float]],
    by: str = "petra",
) -> None:
    """Walk a round at each of these moments; what the meter shows follows from each spot's own drying."""
    begin = moments[0]
    air = itertools.cycle(air_c_rh)

    def read_at(moment: datetime, temp_c: float, rh_pct: float) -> None:
        def read_now(now: datetime) -> None:
            stations = demo.jobs[key].stations.in_use().order_by("number")
            shown = [spot.shows((now - begin) / timedelta(hours=1)) for spot in spots]
            moisture.take_round(
                job_id=demo.jobs[key].pk,
                key=uuid.uuid4(),
                taken_at=now,
                air=moisture.Air(temp_c, rh_pct),
                cavity_air=moisture.Air(temp_c - 2.0, min(rh_pct + 9.0, 98.0)),
                readings=[
                    moisture.NewReading(station.pk, "high")
                    if value > METER_END_PCT
                    else moisture.NewReading(station.pk, "value", value)
                    for station, value in zip(stations, shown, strict=True)
                ],
                by=demo.people[by],
                now=now,
            )

        demo.plan_event(moment, read_now)

    last: datetime | None = None
    for moment in moments:
        # On a closed day "today" is the last workday, so a round of this morning would come before yesterday's.
        if last is None or moment > last:
            read_at(moment, *next(air))
            last = moment


def pay(demo: Demo, key: str, moment: datetime, share: str, way: str, note: str = "") -> None:
    """The owner pays a share of what is still left, in whole dollars unless it is all of it."""

    def pay_now(now: datetime) -> None:
        job = demo.jobs[key]
        due_usd = read_paid(job, job.revisions.order_by("number").last()).owner.due_usd
        amount_usd = due_usd if share == "1" else (due_usd * Decimal(share)).quantize(Decimal(1))
        payments.take_payment(
            job_id=job.pk,
            new=payments.NewPayment(uuid.uuid4(), "owner", amount_usd, way, demo.shop.local_date(now), note),
            by=demo.people["wren"],
            now=now,
        )

    demo.plan_event(moment, pay_now)


def set_up(demo: Demo, key: str, moment: datetime, kind: str, count: int, face: Face, note: str) -> None:
    """Place equipment."""

    def place_now(now: datetime) -> None:
        moisture.place_equipment(
            job_id=demo.jobs[key].pk,
            key=uuid.uuid4(),
            kind=kind,
            count=count,
            face=face,
            note=note,
            by=demo.people["petra"],
            now=now,
        )

    demo.plan_event(moment, place_now)


def place(face: Face, left_ft: float, top_ft: float, width_ft: float, height_ft: float) -> Place:
    return Place(face, left_ft * FOOT, top_ft * FOOT, width_ft * FOOT, height_ft * FOOT)
