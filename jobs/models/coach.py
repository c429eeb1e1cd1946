"""Coaches and the people who own them."""

from django.db import models
from django.db.models import Q

from jobs.calc.faces import FaceSize, faces_of
from jobs.calc.framing import CLOSEST_MM, WIDEST_MM, FaceGroup, Framing, MemberRun, framing, group_of
from jobs.models.shop import Person, Shop


class Owner(models.Model):
    class Locale(models.TextChoices):
        EN_US = "en_US", "English, United States"
        EN_CA = "en_CA", "English, Canada"
        EN_GB = "en_GB", "English, United Kingdom"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="owners")
    name = models.CharField(max_length=80)
    email = models.EmailField()
    phone = models.CharField(max_length=30, blank=True)
    locale = models.CharField(max_length=5, choices=Locale, default=Locale.EN_US)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(email=""), name="owner_can_be_written_to")]

    def __str__(self) -> str:
        return self.name


def run_field() -> "models.CharField[str, str]":
    """Which way the members of a group of faces run, as jobs.calc.framing.MemberRun says it."""
    choices = [(run.value, run.value) for run in MemberRun]
    return models.CharField(max_length=6, choices=choices, default=MemberRun.ACROSS.value)


class CoachQuerySet(models.QuerySet["Coach"]):
    def visible_to(self, person: Person) -> "CoachQuerySet":
        return self.filter(shop=person.shop)


class Coach(models.Model):
    class Body(models.TextChoices):
        TRAVEL_TRAILER = "travel_trailer", "travel trailer"
        FIFTH_WHEEL = "fifth_wheel", "fifth-wheel trailer"
        MOTORHOME = "motorhome", "motorhome"
        VAN_CONVERSION = "van_conversion", "van conversion"
        TRUCK_CAMPER = "truck_camper", "truck camper"

    class WallBuild(models.TextChoices):
        """How walls and roof are built up: it decides how fast they dry."""

        FRAMED = "framed", "framed, with insulation between"
        BONDED = "bonded", "bonded panels"
        SHELL = "shell", "moulded shell"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="coaches")
    make = models.CharField(max_length=40)
    model = models.CharField(max_length=40, blank=True)
    year = models.PositiveSmallIntegerField()
    body = models.CharField(max_length=20, choices=Body)
    length_mm = models.FloatField()
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    wall_build = models.CharField(max_length=10, choices=WallBuild, default=WallBuild.FRAMED)
    # Members on centre; None: nobody has measured, so the planning assumption holds (jobs.calc.framing).
    roof_spacing_mm = models.FloatField(null=True, blank=True)
    roof_run = run_field()
    wall_spacing_mm = models.FloatField(null=True, blank=True)
    wall_run = run_field()
    floor_spacing_mm = models.FloatField(null=True, blank=True)
    floor_run = run_field()
    owners = models.ManyToManyField(Owner, through="CoachOwner", related_name="coaches")

    objects = CoachQuerySet.as_manager()

    class Meta:
        constraints = [
            # Anything outside is a slip of the unit: the longest road coach is under 25 m.
            models.CheckConstraint(condition=Q(length_mm__gte=1000, length_mm__lte=25000), name="coach_length_real"),
            models.CheckConstraint(condition=Q(width_mm__gte=1000, width_mm__lte=4000), name="coach_width_real"),
            models.CheckConstraint(condition=Q(height_mm__gte=500, height_mm__lte=5000), name="coach_height_real"),
            models.CheckConstraint(
                condition=Q(wall_build__in=["framed", "bonded", "shell"]), name="coach_wall_build_known"
            ),
            models.CheckConstraint(condition=Q(year__gte=1920, year__lte=2100), name="coach_year_real"),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{group}_spacing_mm__isnull": True})
                    | Q(**{f"{group}_spacing_mm__gte": CLOSEST_MM, f"{group}_spacing_mm__lte": WIDEST_MM}),
                    name=f"coach_{group}_spacing_real",
                )
                for group in FaceGroup
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{group}_run__in": [run.value for run in MemberRun]}),
                    name=f"coach_{group}_run_known",
                )
                for group in FaceGroup
            ),
        ]

    def __str__(self) -> str:
        return " ".join(part for part in [str(self.year), self.make, self.model] if part)

    def faces(self) -> tuple[FaceSize, ...]:
        """The six faces of the body, from its dimensions."""
        return faces_of(length_mm=self.length_mm, width_mm=self.width_mm, height_mm=self.height_mm)

    def framing_of(self, group: FaceGroup) -> Framing:
        """How the members of a group of faces stand, as far as it is known."""
        return framing(getattr(self, f"{group}_spacing_mm"), getattr(self, f"{group}_run"))

    def framing_behind(self, face: str) -> Framing:
        return self.framing_of(group_of(face))


class CoachOwner(models.Model):
    """Who owns a coach, and whether that person may say yes to work."""

    coach = models.ForeignKey(Coach, on_delete=models.CASCADE, related_name="ownerships")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="ownerships")
    may_decide = models.BooleanField(default=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["coach", "owner"], name="coach_owner_once")]

    def __str__(self) -> str:
        return f"{self.owner} of {self.coach}"
