"""Findings, their photos and the remedies proposed for them."""

import uuid
from pathlib import PurePath
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from jobs.calc.faces import FACE_NAMES, Face, Place
from jobs.calc.moisture.evidence import MEMBERS
from jobs.calc.moisture.verdict import VERDICT_WORDS, Verdict
from jobs.models.job import Job
from jobs.models.shop import Person, Shop, Skill

if TYPE_CHECKING:
    from jobs.models.approval import ApprovalRequest


class FindingKind(models.TextChoices):
    WET_INSULATION = "wet_insulation", "wet insulation"
    STAINED_FRAMING = "stained_framing", "stained framing"
    ROTTEN_FRAMING = "rotten_framing", "rotten framing"
    LOOSE_DECKING = "loose_decking", "loose decking"
    LOOSE_SKIN = "loose_skin", "loose skin"
    FAILED_SEAL = "failed_seal", "failed seal"
    EXPOSED_WIRE = "exposed_wire", "exposed wire"
    MOULD = "mould", "mould"
    CORROSION = "corrosion", "corrosion"
    OTHER = "other", "something else"


VERDICT_CHOICES = [(verdict.value, words) for verdict, words in VERDICT_WORDS.items()]
FACE_CHOICES = [(face.value, FACE_NAMES[face]) for face in Face]


class StandardRemedy(models.Model):
    """A remedy the shop knows by name. What it takes and costs is the estimate's business."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="standard_remedies")
    name = models.CharField(max_length=80)
    words = models.CharField(max_length=300, help_text="What is done, in words for the owner.")
    caution = models.CharField(max_length=300, blank=True, help_text="Shown to whoever does the work.")
    keeps = models.CharField(max_length=200, blank=True, help_text="What stays original, in words for the owner.")
    warranty = models.CharField(max_length=200, blank=True, help_text="What the shop's warranty covers after it.")
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="standard_remedy_once")]

    def __str__(self) -> str:
        return self.name


class RemedyMatch(models.Model):
    """Where a standard remedy fits: a kind of finding and a verdict, at a part or a face; empty fits any."""

    standard = models.ForeignKey(StandardRemedy, on_delete=models.CASCADE, related_name="matches")
    kind = models.CharField(max_length=20, choices=FindingKind, blank=True)
    verdict = models.CharField(max_length=16, choices=VERDICT_CHOICES, blank=True)
    member = models.CharField(max_length=20, choices=list(MEMBERS), blank=True)
    face = models.CharField(max_length=10, choices=FACE_CHOICES, blank=True)

    class Meta:
        verbose_name_plural = "remedy matches"
        constraints = [
            models.UniqueConstraint(fields=["standard", "kind", "verdict", "member", "face"], name="remedy_match_once"),
            models.CheckConstraint(
                condition=~Q(kind="", verdict="", member="", face=""), name="remedy_match_says_something"
            ),
        ]

    def __str__(self) -> str:
        said = (self.get_kind_display(), self.get_verdict_display(), self.get_member_display(), self.get_face_display())
        return ", ".join(str(each) for each in said if each)


class FindingQuerySet(models.QuerySet["Finding"]):
    def visible_to(self, person: Person) -> "FindingQuerySet":
        return self.filter(job__shop=person.shop)

    def from_teardown(self) -> "FindingQuerySet":
        return self.filter(is_booked=False)

    def undecided(self) -> "FindingQuerySet":
        """Found at teardown and not settled: not put to the owner as it now stands, or not answered."""
        asked = Remedy.objects.standing().filter(finding=OuterRef("pk"), requests__isnull=False)
        open_ones = Remedy.objects.filter(
            finding=OuterRef("pk"), requests__isnull=False, requests__closed_at__isnull=True
        )
        return self.from_teardown().filter(~Exists(asked) | Exists(open_ones))

    def for_page(self) -> "FindingQuerySet":
        return self.select_related("posted_by", "job__shop", "job__coach").prefetch_related(
            "photos", "remedies__standard", "remedies__materials", "requests__decision"
        )


class Finding(models.Model):
    """Damage at a place: brought in at booking, or revealed when the coach was opened."""

    class TapSound(models.TextChoices):
        SOLID = "solid", "solid"
        DULL = "dull", "dull"
        HOLLOW = "hollow", "hollow"
        CRUNCHY = "crunchy", "crunchy"

    class Look(models.TextChoices):
        CLEAN = "clean", "clean"
        STAINED = "stained", "stained"
        MOULD = "mould", "mould"
        INSECTS = "insects", "frass or insects"
        DELAMINATED = "delaminated", "delaminated"
        CORRODED = "corroded", "corroded"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="findings")
    number = models.PositiveSmallIntegerField()
    # Made by the phone before sending, so that a finding sent twice is stored once.
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    is_booked = models.BooleanField(default=False, help_text="Known and agreed when the job was booked.")
    kind = models.CharField(max_length=20, choices=FindingKind)
    face = models.CharField(max_length=10, choices=FACE_CHOICES)
    left_mm = models.FloatField()
    top_mm = models.FloatField()
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    seen = models.CharField(max_length=500)
    moisture_pct = models.FloatField(null=True, blank=True)
    probe_depth_mm = models.FloatField(null=True, blank=True)
    tap_sound = models.CharField(max_length=10, choices=TapSound, blank=True)
    look = models.CharField(max_length=12, choices=Look, blank=True)
    is_wet = models.BooleanField(null=True, blank=True)
    member = models.CharField(max_length=20, choices=list(MEMBERS), blank=True)
    member_thickness_mm = models.FloatField(null=True, blank=True)
    is_near_mains = models.BooleanField(default=False)
    is_near_gas = models.BooleanField(default=False)
    # When the evidence above was last looked at; None: when the finding was posted.
    evidence_at = models.DateTimeField(null=True, blank=True)
    # Computed from the evidence and the stations at the place (jobs.services.verdicts).
    verdict = models.CharField(max_length=16, choices=VERDICT_CHOICES, default=Verdict.OPEN.value)
    # A person's own, with a reason; it stands before the computed one.
    own_verdict = models.CharField(max_length=16, choices=VERDICT_CHOICES, blank=True)
    own_verdict_reason = models.CharField(max_length=300, blank=True)
    own_verdict_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    own_verdict_at = models.DateTimeField(null=True, blank=True)
    is_unsafe_to_leave = models.BooleanField(default=False)
    posted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    posted_at = models.DateTimeField()

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="finding_number_once"),
            models.CheckConstraint(condition=Q(kind__in=FindingKind.values), name="finding_kind_known"),
            models.CheckConstraint(condition=Q(face__in=[face.value for face in Face]), name="finding_face_known"),
            models.CheckConstraint(
                condition=Q(left_mm__gte=0, top_mm__gte=0, width_mm__gt=0, height_mm__gt=0), name="finding_place_real"
            ),
            models.CheckConstraint(
                condition=Q(moisture_pct__isnull=True) | Q(moisture_pct__gte=0, moisture_pct__lte=200),
                name="finding_moisture_real",
            ),
            models.CheckConstraint(
                condition=Q(probe_depth_mm__isnull=True) | Q(probe_depth_mm__gte=0, probe_depth_mm__lte=500),
                name="finding_probe_depth_real",
            ),
            models.CheckConstraint(
                condition=Q(member_thickness_mm__isnull=True)
                | Q(member_thickness_mm__gt=0, member_thickness_mm__lte=500),
                name="finding_member_thickness_real",
            ),
            models.CheckConstraint(
                condition=Q(probe_depth_mm__isnull=True)
                | Q(member_thickness_mm__isnull=True)
                | Q(probe_depth_mm__lte=F("member_thickness_mm")),
                name="finding_probe_within_member",
            ),
            models.CheckConstraint(condition=Q(verdict__in=list(Verdict)), name="finding_verdict_known"),
            models.CheckConstraint(
                condition=Q(own_verdict="", own_verdict_by__isnull=True)
                | (Q(own_verdict__in=list(Verdict), own_verdict_by__isnull=False) & ~Q(own_verdict_reason="")),
                name="finding_own_verdict_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"Finding {self.number}: {self.get_kind_display()}"

    @property
    def label(self) -> str:
        """What it is called beside its number: what the owner brought in was not found by anybody here."""
        return f"{'booked work' if self.is_booked else 'finding'} {self.number}"

    @property
    def standing_verdict(self) -> Verdict:
        """A person's verdict if there is one, else the computed one."""
        return Verdict(self.own_verdict or self.verdict)

    @property
    def verdict_words(self) -> str:
        return VERDICT_WORDS[self.standing_verdict]

    @property
    def standing_remedies(self) -> "list[Remedy]":
        """The remedies that hold now, the recommended one first. Uses prefetched remedies when there are any."""
        standing = (remedy for remedy in self.remedies.all() if remedy.dropped_at is None)
        return sorted(standing, key=lambda remedy: remedy.position)

    @property
    def current_request(self) -> "ApprovalRequest | None":
        """The latest question about the remedies that hold now; None while these are still to be put to the owner."""
        requests = sorted(self.requests.all(), key=lambda request: request.pk)
        standing = {remedy.pk for remedy in self.standing_remedies}
        return requests[-1] if requests and requests[-1].remedy_id in standing else None

    @property
    def place(self) -> Place:
        return Place(Face(self.face), self.left_mm, self.top_mm, self.width_mm, self.height_mm)


def photo_path(photo: "Photo", filename: str) -> str:
    """A private folder a job, a random name: nothing of the phone's file name survives."""
    return str(PurePath("photos") / str(photo.finding.job_id) / f"{uuid.uuid4().hex}{PurePath(filename).suffix}")


class Photo(models.Model):
    """One photo of a finding. The original stays private; the worker makes the two that are shown."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="photos")
    position = models.PositiveSmallIntegerField()
    sha256 = models.CharField(max_length=64)
    original = models.FileField(upload_to=photo_path)
    large = models.FileField(upload_to=photo_path, blank=True)
    small = models.FileField(upload_to=photo_path, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["finding", "position"], name="photo_position_once"),
            models.UniqueConstraint(fields=["finding", "sha256"], name="photo_stored_once"),
            models.CheckConstraint(
                condition=Q(large="", small="") | (~Q(large="") & ~Q(small="")), name="photo_renditions_together"
            ),
        ]

    def __str__(self) -> str:
        return f"Photo {self.position} of {self.finding}"

    @property
    def is_ready(self) -> bool:
        return bool(self.small)


class RemedyQuerySet(models.QuerySet["Remedy"]):
    def standing(self) -> "RemedyQuerySet":
        """Those that hold now; the others were replaced and are kept for what was offered with them."""
        return self.filter(dropped_at__isnull=True)


class Remedy(models.Model):
    """One way to put a finding right: from the catalogue, or in a person's own words and hours.

    A finding's remedies are never changed once written: whoever adjusts them drops them all and writes new ones, so
    that every offer keeps naming what was offered.
    """

    finding = models.ForeignKey(Finding, on_delete=models.CASCADE, related_name="remedies")
    # The first is the one the shop recommends; the others stand beside it.
    position = models.PositiveSmallIntegerField(default=1)
    standard = models.ForeignKey(StandardRemedy, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    own_words = models.CharField(max_length=300, blank=True)
    own_hours = models.FloatField(null=True, blank=True)
    own_skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    own_wait_hours = models.FloatField(default=0, help_text="Drying or curing that needs no hands.")
    dropped_at = models.DateTimeField(null=True, blank=True, help_text="When other remedies took its place.")

    objects = RemedyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "remedies"
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["finding", "position"], condition=Q(dropped_at__isnull=True), name="remedy_position_once"
            ),
            models.UniqueConstraint(
                fields=["finding", "standard"],
                condition=Q(standard__isnull=False, dropped_at__isnull=True),
                name="remedy_standard_once",
            ),
            models.CheckConstraint(
                condition=Q(standard__isnull=False, own_words="", own_hours__isnull=True, own_skill__isnull=True)
                | (Q(standard__isnull=True, own_hours__gt=0, own_skill__isnull=False) & ~Q(own_words="")),
                name="remedy_standard_or_own",
            ),
            models.CheckConstraint(
                condition=Q(own_wait_hours__gte=0, own_wait_hours__lte=24 * 60), name="remedy_wait_real"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        return self.standard.name if self.standard else self.own_words

    @property
    def words(self) -> str:
        """What is done, in words for the owner."""
        return self.standard.words if self.standard else self.own_words

    @property
    def keeps(self) -> str:
        """What stays original, in words for the owner; empty where nobody said."""
        return self.standard.keeps if self.standard else ""

    @property
    def warranty(self) -> str:
        """What the shop's warranty covers after it; empty where nobody said."""
        return self.standard.warranty if self.standard else ""


class RemedyMaterial(models.Model):
    """Material of a remedy in the technician's own words."""

    remedy = models.ForeignKey(Remedy, on_delete=models.CASCADE, related_name="materials")
    name = models.CharField(max_length=80)
    quantity = models.DecimalField(max_digits=8, decimal_places=2)
    unit_cost_usd = models.DecimalField(max_digits=10, decimal_places=2)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="remedy_material_quantity_above_zero"),
            models.CheckConstraint(condition=Q(unit_cost_usd__gte=0), name="remedy_material_cost_real"),
        ]

    def __str__(self) -> str:
        return self.name
