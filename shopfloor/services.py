"""What the manager does that takes more than one app."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from jobs.calc.faces import FaceSize, check_place, faces_of
from jobs.calc.framing import FaceGroup
from jobs.calc.lengths import print_length
from jobs.errors import JobError, NotNow
from jobs.models import Bay, Coach, CoachOwner, Job, Owner, Person, Shop
from jobs.services.booking import NO_LIMIT, BookedWork, book_job, promise_date
from jobs.services.framing import GroupFraming, set_framing

FIRST_PROMISE = "Given at booking."


@dataclass(frozen=True)
class NewOwner:
    name: str
    email: str
    phone: str
    locale: str
    may_decide: bool


@dataclass(frozen=True)
class NewCoach:
    """A coach the shop has not seen before, with its owner."""

    make: str
    model: str
    year: int
    body: str
    wall_build: str
    length_mm: float
    width_mm: float
    height_mm: float
    owner: NewOwner
    framing: Mapping[FaceGroup, GroupFraming] = field(default_factory=dict)

    def faces(self) -> tuple[FaceSize, ...]:
        return faces_of(length_mm=self.length_mm, width_mm=self.width_mm, height_mm=self.height_mm)


@transaction.atomic
def book_in(
    *,
    coach: Coach | NewCoach,
    complaint: str,
    arrives_on: date,
    work: Sequence[BookedWork],
    bay: Bay | None,
    priority: int,
    go_ahead_usd: Decimal = NO_LIMIT,
    go_ahead_days: int = 0,
    leak: str = "unknown",
    promised_on: date | None,
    by: Person,
    now: datetime,
) -> Job:
    """Book a coach in, with its owner if both are new, and promise a ready date if one is given.

    Raises JobError if a place lies off the coach, NotNow if the coach is in work already, the bay or every bay is too
    short or the promised day has passed; then nothing is stored, the new coach and owner neither.
    After commit: the worker writes the first revision, plans the job and tells the owner.
    """
    if by.shop is None:
        raise NotNow("Only a person of a shop can book a coach in.")
    for item in work:
        try:
            check_place(item.place, coach.faces())
        except ValueError as error:
            raise JobError(str(error)) from None
    if refusal := too_long_for_all(by.shop, coach.length_mm):
        raise NotNow(refusal)
    if bay and coach.length_mm > bay.longest_coach_mm:
        raise NotNow(f"This coach is too long for {bay}.")
    known = coach if isinstance(coach, Coach) else _store_coach(coach, by.shop)
    job = book_job(
        coach=known,
        complaint=complaint,
        arrives_on=arrives_on,
        work=work,
        bay=bay,
        priority=priority,
        go_ahead_usd=go_ahead_usd,
        go_ahead_days=go_ahead_days,
        leak=leak,
        by=by,
        now=now,
    )
    if promised_on:
        promise_date(job=job, ready_on=promised_on, expected_on=None, reason=FIRST_PROMISE, by=by, now=now)
    return job


def too_long_for_all(shop: Shop, length_mm: float) -> str:
    """Why a coach of this length fits none of the shop's bays, in words; empty if one is long enough."""
    longest_mm = shop.bays.aggregate(longest=Max("longest_coach_mm"))["longest"]
    if longest_mm is None:
        return "The shop has no bay yet. Add one in the register first."
    if length_mm <= longest_mm:
        return ""
    longest = print_length(longest_mm, units=shop.units)
    return f"This coach is too long for every bay of the shop; the longest takes {longest}."


def _store_coach(new: NewCoach, shop: Shop) -> Coach:
    coach = Coach(
        shop=shop,
        make=new.make,
        model=new.model,
        year=new.year,
        body=new.body,
        wall_build=new.wall_build,
        length_mm=new.length_mm,
        width_mm=new.width_mm,
        height_mm=new.height_mm,
    )
    for group, known in new.framing.items():
        set_framing(coach, group, known)
    coach.save()
    CoachOwner.objects.create(coach=coach, owner=_owner(new.owner, shop), may_decide=new.owner.may_decide)
    return coach


def _owner(new: NewOwner, shop: Shop) -> Owner:
    """The owner on file under this name and address, or a new one: somebody may own two coaches."""
    on_file = Owner.objects.filter(shop=shop, name__iexact=new.name, email__iexact=new.email).order_by("pk").first()
    if on_file:
        return on_file
    return Owner.objects.create(shop=shop, name=new.name, email=new.email, phone=new.phone, locale=new.locale)
