"""Rows for tests: one factory a model, with the least that makes a valid row."""

import hashlib
import uuid
from datetime import UTC, datetime, time, timedelta

import factory
from django.contrib.auth.hashers import make_password
from factory.django import DjangoModelFactory

from estimates.models import Offer, Rates
from jobs.models import (
    ApprovalRequest,
    Bay,
    Coach,
    CoachOwner,
    Decision,
    Finding,
    HoldPoint,
    Job,
    Operation,
    Owner,
    Person,
    Photo,
    Placement,
    Reading,
    ReadingRound,
    Remedy,
    Shop,
    ShopHours,
    Skill,
    StandardRemedy,
    Station,
    WorkSpan,
)

# A Wednesday morning at the shop (Chicago).
NOON = datetime(2026, 3, 4, 18, 0, tzinfo=UTC)
PASSWORD = "copper-rivet-larch"
# Hashing is slow on purpose; once is enough.
PASSWORD_HASH = make_password(PASSWORD)


class ShopFactory(DjangoModelFactory):
    class Meta:
        model = Shop
        skip_postgeneration_save = True

    name = factory.Sequence(lambda n: f"Harrowbend Coach Works {n}")
    time_zone = "America/Chicago"
    units = "us"
    phone = "+1 555 0142"
    email = "desk@harrowbend.example"
    address = "18 Kiln Lane, Millbrace"

    @factory.post_generation
    def hours(self, create, extracted, **kwargs):
        """Monday to Friday, 7:00 to 16:00, unless hours=False."""
        if create and extracted is not False:
            for weekday in range(5):
                ShopHours.objects.create(shop=self, weekday=weekday, opens=time(7), closes=time(16))


class RatesFactory(DjangoModelFactory):
    class Meta:
        model = Rates

    shop = factory.SubFactory(ShopFactory)
    labour_usd_per_hour = "110.00"
    material_markup_pct = "25.00"
    tax_rate_pct = "8.2500"


class BayFactory(DjangoModelFactory):
    class Meta:
        model = Bay

    shop = factory.SubFactory(ShopFactory)
    name = factory.Sequence(lambda n: f"Bay {n}")
    position = factory.Sequence(lambda n: n + 1)
    longest_coach_mm = 13000.0


class SkillFactory(DjangoModelFactory):
    class Meta:
        model = Skill

    shop = factory.SubFactory(ShopFactory)
    name = factory.Sequence(lambda n: f"framing {n}")


class PersonFactory(DjangoModelFactory):
    """A technician; `manager=True` makes a manager. The password is PASSWORD."""

    class Meta:
        model = Person

    class Params:
        manager = factory.Trait(role="manager", first_name="Wren", last_name="Ashdown")

    shop = factory.SubFactory(ShopFactory)
    username = factory.Sequence(lambda n: f"person{n}")
    first_name = "Imani"
    last_name = "Feld"
    password = PASSWORD_HASH
    role = "technician"


class OwnerFactory(DjangoModelFactory):
    class Meta:
        model = Owner

    shop = factory.SubFactory(ShopFactory)
    name = "Delia Marchbanks"
    email = factory.Sequence(lambda n: f"owner{n}@post.example")
    phone = "+1 555 0177"


class CoachFactory(DjangoModelFactory):
    """A travel trailer of 8 by 2.5 by 2.5 m with one owner who may decide (owner=False: nobody)."""

    class Meta:
        model = Coach
        skip_postgeneration_save = True

    shop = factory.SubFactory(ShopFactory)
    make = "Larkmoor Finch"
    year = 2011
    body = "travel_trailer"
    length_mm = 8000.0
    width_mm = 2500.0
    height_mm = 2500.0

    @factory.post_generation
    def owner(self, create, extracted, **kwargs):
        if create and extracted is not False:
            CoachOwner.objects.create(coach=self, owner=extracted or OwnerFactory(shop=self.shop))


class JobFactory(DjangoModelFactory):
    """A booked job; `arrived=True` puts it at the shop, `in_bay=True` in its own bay."""

    class Meta:
        model = Job

    class Params:
        arrived = factory.Trait(arrived_at=NOON - timedelta(days=2))
        in_bay = factory.Trait(
            arrived_at=NOON - timedelta(days=2),
            entered_bay_at=NOON - timedelta(days=2),
            bay=factory.SubFactory(BayFactory, shop=factory.SelfAttribute("..shop")),
        )

    shop = factory.SubFactory(ShopFactory)
    coach = factory.SubFactory(CoachFactory, shop=factory.SelfAttribute("..shop"))
    number = factory.Sequence(lambda n: 101 + n)
    complaint = "Water runs in over the front bunk when it rains."
    booked_at = NOON - timedelta(days=9)
    arrives_on = (NOON - timedelta(days=2)).date()


class StandardRemedyFactory(DjangoModelFactory):
    class Meta:
        model = StandardRemedy

    shop = factory.SubFactory(ShopFactory)
    name = factory.Sequence(lambda n: f"Renew wet insulation {n}")
    words = "We take the wet insulation out, dry the frame and fit new insulation."
    caution = "Wear a fitted respirator and gloves."


class FindingFactory(DjangoModelFactory):
    """A finding from teardown on the front part of the roof."""

    class Meta:
        model = Finding

    job = factory.SubFactory(JobFactory, arrived=True)
    number = factory.LazyAttribute(lambda finding: finding.job.findings.count() + 1)
    kind = "wet_insulation"
    face = "roof"
    left_mm = 300.0
    top_mm = 200.0
    width_mm = 1200.0
    height_mm = 600.0
    seen = "Batt is soaked right across."
    posted_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..job.shop"))
    posted_at = NOON


class StationFactory(DjangoModelFactory):
    """A station in the framing behind the finding that FindingFactory makes."""

    class Meta:
        model = Station

    job = factory.SubFactory(JobFactory, arrived=True)
    number = factory.LazyAttribute(lambda station: station.job.stations.count() + 1)
    face = "roof"
    left_mm = 900.0
    top_mm = 500.0
    layer = "framing"
    material = "spruce_sitka"
    marked_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..job.shop"))
    marked_at = NOON - timedelta(days=2)


class ReadingRoundFactory(DjangoModelFactory):
    class Meta:
        model = ReadingRound

    job = factory.SubFactory(JobFactory, arrived=True)
    taken_at = factory.LazyAttribute(
        lambda taken: NOON - timedelta(hours=6) + timedelta(hours=taken.job.rounds.count())
    )
    taken_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..job.shop"))
    air_temp_c = 21.0
    rh_pct = 45.0


class ReadingFactory(DjangoModelFactory):
    class Meta:
        model = Reading

    station = factory.SubFactory(StationFactory)
    round = factory.SubFactory(ReadingRoundFactory, job=factory.SelfAttribute("..station.job"))
    meter_pct = 27.0


class PlacementFactory(DjangoModelFactory):
    class Meta:
        model = Placement

    job = factory.SubFactory(JobFactory, arrived=True)
    kind = "blower"
    count = 2
    placed_at = NOON - timedelta(hours=5)
    placed_by = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..job.shop"))


class PhotoFactory(DjangoModelFactory):
    class Meta:
        model = Photo

    finding = factory.SubFactory(FindingFactory)
    position = factory.LazyAttribute(lambda photo: photo.finding.photos.count() + 1)
    sha256 = factory.Sequence(lambda n: hashlib.sha256(str(n).encode()).hexdigest())
    original = factory.django.ImageField(filename="original.jpg", width=40, height=30)


class RemedyFactory(DjangoModelFactory):
    class Meta:
        model = Remedy

    finding = factory.SubFactory(FindingFactory)
    position = factory.LazyAttribute(lambda remedy: remedy.finding.remedies.count() + 1)
    standard = factory.SubFactory(StandardRemedyFactory, shop=factory.SelfAttribute("..finding.job.shop"))


class OperationFactory(DjangoModelFactory):
    """Labour of two hours; `running=True` and `finished=True` say how far it is."""

    class Meta:
        model = Operation

    class Params:
        running = factory.Trait(started_at=NOON - timedelta(hours=3))
        finished = factory.Trait(started_at=NOON - timedelta(hours=3), finished_at=NOON - timedelta(hours=1))
        wait = factory.Trait(kind="wait", skill=None)

    remedy = factory.SubFactory(RemedyFactory)
    job = factory.SelfAttribute("remedy.finding.job")
    position = factory.LazyAttribute(lambda operation: operation.remedy.operations.count() + 1)
    phase = 1
    words = factory.Sequence(lambda n: f"Take off the roof edge trim {n}")
    kind = "labour"
    hours = 2.0
    skill = factory.SubFactory(SkillFactory, shop=factory.SelfAttribute("..job.shop"))


class HoldPointFactory(DjangoModelFactory):
    class Meta:
        model = HoldPoint

    operation = factory.SubFactory(OperationFactory, finished=True)
    words = "Frame dry and sound before it is closed"


class WorkSpanFactory(DjangoModelFactory):
    """Two hours of one person on a finished operation."""

    class Meta:
        model = WorkSpan

    operation = factory.SubFactory(OperationFactory, finished=True)
    person = factory.SubFactory(PersonFactory, shop=factory.SelfAttribute("..operation.job.shop"))
    started_at = NOON - timedelta(hours=3)
    ended_at = NOON - timedelta(hours=1)


class OfferFactory(DjangoModelFactory):
    class Meta:
        model = Offer

    remedy = factory.SubFactory(RemedyFactory)
    finding = factory.SelfAttribute("remedy.finding")
    content = factory.LazyAttribute(
        lambda offer: {
            "choices": [
                {
                    "remedy": offer.remedy.pk,
                    "name": offer.remedy.name,
                    "words": offer.remedy.words,
                    "keeps": "",
                    "warranty": "",
                    "lines": [],
                    "operations": [],
                    "totals": {"total_usd": str(offer.total_usd)},
                    "ready_with_on": offer.ready_with_on.isoformat(),
                }
            ]
        }
    )
    sha256 = factory.LazyFunction(lambda: hashlib.sha256(uuid.uuid4().bytes).hexdigest())
    total_usd = "1234.50"
    ready_with_on = (NOON + timedelta(days=9)).date()
    ready_without_on = (NOON + timedelta(days=6)).date()
    made_at = NOON


class ApprovalRequestFactory(DjangoModelFactory):
    class Meta:
        model = ApprovalRequest
        skip_postgeneration_save = True

    remedy = factory.SubFactory(RemedyFactory)
    finding = factory.SelfAttribute("remedy.finding")
    offer_sha256 = factory.LazyFunction(lambda: hashlib.sha256(uuid.uuid4().bytes).hexdigest())
    asked_at = NOON
    answer_by_at = NOON + timedelta(hours=24)

    @factory.post_generation
    def choices(self, create, extracted, **kwargs):
        """The recommended remedy alone, unless others are given."""
        if create:
            self.choices.set(extracted or [self.remedy])


class DecisionFactory(DjangoModelFactory):
    class Meta:
        model = Decision

    request = factory.SubFactory(ApprovalRequestFactory, closed_at=NOON + timedelta(hours=2))
    is_approved = True
    remedy = factory.LazyAttribute(lambda decision: decision.request.remedy if decision.is_approved else None)
    owner = factory.LazyAttribute(lambda decision: decision.request.finding.job.deciders()[0])
    typed_name = "Delia Marchbanks"
    channel = "link"
    offer_sha256 = factory.SelfAttribute("request.offer_sha256")
    decided_at = NOON + timedelta(hours=2)
