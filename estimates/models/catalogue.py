"""What work takes and costs at this shop."""

from dataclasses import fields

from django.db import models
from django.db.models import Q

from estimates.calc.money import UNTAXED
from estimates.calc.recipe import Laid as LaidWays
from estimates.calc.recipe import Stuff, Use
from estimates.calc.recipe import TakeOff as TakeOffKinds
from estimates.calc.site import Extent as Extents
from estimates.calc.takeoff import Coverage
from jobs.calc.equipment import FIELDS as EQUIPMENT
from jobs.calc.equipment import LARGEST_AREA_M2, SMALLEST_AREA_M2, count_for
from jobs.models import Person, Shop, Skill, StandardRemedy
from jobs.models.equipment import needed_field, needs_are_real
from jobs.models.work import OperationKind, Phase


class Basis(models.TextChoices):
    """What a quantity is counted by, from the place of the finding."""

    EACH = "each", "each"
    AREA_FT2 = "area_ft2", "square foot"
    AREA_M2 = "area_m2", "square metre"
    EDGE_FT = "edge_ft", "foot round the edge"
    EDGE_M = "edge_m", "metre round the edge"
    LENGTH_FT = "length_ft", "foot along the longer side"
    LENGTH_M = "length_m", "metre along the longer side"
    MEMBER = "member", "member crossed"
    MEMBER_FT = "member_ft", "foot of member worked on"
    MEMBER_M = "member_m", "metre of member worked on"
    JOINT = "joint", "joint between sticks"


class TakeOff(models.TextChoices):
    """How the quantity of a material comes about (estimates/calc/needs.py)."""

    COUNT = TakeOffKinds.COUNT.value, "counted"
    SHEET = TakeOffKinds.SHEET.value, "laid in sheets"
    STICK = TakeOffKinds.STICK.value, "cut from sticks"
    ROLL = TakeOffKinds.ROLL.value, "in strips off a roll"
    ADHESIVE = TakeOffKinds.ADHESIVE.value, "spread by coverage"
    SEALANT = TakeOffKinds.SEALANT.value, "run in beads"
    FASTENER = TakeOffKinds.FASTENER.value, "in rows by spacing"


class Extent(models.TextChoices):
    """How far work and material reach (estimates/calc/site.py)."""

    PLACE = Extents.PLACE.value, "the place as found"
    MEMBERS = Extents.MEMBERS.value, "cut back to the nearest members"
    WHOLE = Extents.WHOLE.value, "the whole length of the members"


class Laid(models.TextChoices):
    """Which way the length of a sheet or strip lies, and with it its grain."""

    EITHER = LaidWays.EITHER.value, "either way"
    ACROSS = LaidWays.ACROSS.value, "across the members"
    ALONG = LaidWays.ALONG.value, "along the members"


# What a bead of sealant can run along.
BEAD_BASES = ("edge_ft", "edge_m", "length_ft", "length_m")
# As labels print them; "finished area" counts all coated faces, "coated face" one of them.
COVERAGE_UNITS = ("ft2/gal", "m2/l", "g/m2")
COVERAGE_BASES = ("finished area", "coated face")


class TaxCategory(models.TextChoices):
    """What a bought thing is taxed as; the names estimates/calc/money.py knows rates by."""

    PARTS = "parts", "as parts"
    LABOUR = "labour", "as labour"
    SUBLET = "sublet", "as bought-in work"
    NONE = UNTAXED, "not taxed"


def planning_value_field() -> "models.BooleanField[bool, bool]":
    """Whether a row's figures are still the ones that came with the program, and not the shop's own."""
    return models.BooleanField("planning value", default=False, help_text="Planning value, replace with yours.")


class Rates(models.Model):
    class TaxBasis(models.TextChoices):
        INVOICE = "invoice", "on the total"
        ITEM = "item", "on each line"

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="rates")
    labour_usd_per_hour = models.DecimalField(max_digits=8, decimal_places=2)
    # What an hour costs the shop itself, wages and all that hangs on them; None while nobody has said.
    labour_cost_usd_per_hour = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    material_markup_pct = models.DecimalField(max_digits=5, decimal_places=2)
    tax_rate_pct = models.DecimalField(max_digits=6, decimal_places=4)
    is_labour_taxed = models.BooleanField(default=False)
    tax_basis = models.CharField(max_length=7, choices=TaxBasis, default=TaxBasis.INVOICE)
    is_planning_value = planning_value_field()

    class Meta:
        verbose_name_plural = "rates"
        constraints = [
            models.CheckConstraint(condition=Q(labour_usd_per_hour__gte=0), name="rates_labour_real"),
            models.CheckConstraint(
                condition=Q(labour_cost_usd_per_hour__isnull=True) | Q(labour_cost_usd_per_hour__gte=0),
                name="rates_labour_cost_real",
            ),
            models.CheckConstraint(condition=Q(material_markup_pct__gte=0), name="rates_markup_real"),
            models.CheckConstraint(condition=Q(tax_rate_pct__gte=0, tax_rate_pct__lt=100), name="rates_tax_real"),
            models.CheckConstraint(condition=Q(tax_basis__in=["invoice", "item"]), name="rates_tax_basis_known"),
        ]

    def __str__(self) -> str:
        return f"Rates of {self.shop}"


class Material(models.Model):
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="materials")
    name = models.CharField(max_length=80)
    sold_unit = models.CharField(max_length=20, help_text="What is bought: sheet, cartridge, roll.")
    takeoff = models.CharField(max_length=8, choices=TakeOff, default=TakeOff.COUNT)
    pack_quantity = models.FloatField(
        help_text="How much one sold unit holds: in the recipe's unit, sheets, fasteners, ml of sealant, or adhesive."
    )
    # Of a sheet, stick or roll as it is sold; the length is with the grain.
    width_mm = models.FloatField(null=True, blank=True)
    length_mm = models.FloatField(null=True, blank=True)
    kerf_mm = models.FloatField(null=True, blank=True, help_text="Width of the saw cut; empty: 1/8 in.")
    is_cut_to_length = models.BooleanField(default=False, help_text="A roll of which any number of lengths is sold.")
    coverage_rate = models.FloatField(null=True, blank=True)
    coverage_unit = models.CharField(max_length=7, choices=[(unit, unit) for unit in COVERAGE_UNITS], blank=True)
    coverage_basis = models.CharField(max_length=13, choices=[(way, way) for way in COVERAGE_BASES], blank=True)
    pack_cost_usd = models.DecimalField(max_digits=10, decimal_places=2)
    tax_category = models.CharField(max_length=6, choices=TaxCategory, default=TaxCategory.PARTS)
    markup_pct = models.DecimalField(
        "own markup [%]",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        help_text="Instead of the shop's markup on material.",
    )
    coverage_note = models.CharField(max_length=200, blank=True, help_text="How far it goes, and by whose word.")
    is_planning_value = planning_value_field()
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "name"], name="material_name_once"),
            models.CheckConstraint(condition=Q(pack_quantity__gt=0), name="material_pack_above_zero"),
            models.CheckConstraint(condition=Q(pack_cost_usd__gte=0), name="material_cost_real"),
            models.CheckConstraint(
                condition=Q(markup_pct__isnull=True) | Q(markup_pct__gte=0), name="material_markup_real"
            ),
            models.CheckConstraint(condition=Q(tax_category__in=TaxCategory.values), name="material_tax_known"),
            models.CheckConstraint(condition=Q(takeoff__in=TakeOff.values), name="material_takeoff_known"),
            models.CheckConstraint(
                condition=~Q(takeoff__in=[TakeOff.SHEET, TakeOff.ROLL])
                | Q(width_mm__isnull=False, width_mm__gt=0, length_mm__isnull=False, length_mm__gt=0),
                name="material_sheet_has_size",
            ),
            models.CheckConstraint(
                condition=~Q(takeoff=TakeOff.STICK) | Q(length_mm__isnull=False, length_mm__gt=0),
                name="material_stick_long",
            ),
            models.CheckConstraint(
                condition=~Q(takeoff=TakeOff.ADHESIVE)
                | Q(
                    coverage_rate__isnull=False,
                    coverage_rate__gt=0,
                    coverage_unit__in=COVERAGE_UNITS,
                    coverage_basis__in=COVERAGE_BASES,
                ),
                name="material_adhesive_covers",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def as_stuff(self) -> Stuff:
        """The material as the take-off takes it; of a stick every length that is sold."""
        coverage = None
        if self.coverage_rate:
            coverage = Coverage(self.coverage_rate, self.coverage_unit, self.coverage_basis)
        stock: tuple[tuple[float, float], ...] = ()
        if self.takeoff == TakeOff.STICK and self.length_mm:
            lengths = {each.length_mm: float(each.cost_usd) for each in self.stock_lengths.all()}
            stock = tuple((lengths | {self.length_mm: float(self.pack_cost_usd)}).items())
        return Stuff(
            kind=self.takeoff,
            pack=self.sold_unit,
            pack_quantity=self.pack_quantity,
            width_mm=self.width_mm,
            length_mm=self.length_mm,
            kerf_mm=self.kerf_mm,
            is_cut_to_length=self.is_cut_to_length,
            coverage=coverage,
            stock=stock,
        )


class StockLength(models.Model):
    """A further length that a material in sticks is sold in, beside its own, at its own price."""

    material = models.ForeignKey(Material, on_delete=models.CASCADE, related_name="stock_lengths")
    length_mm = models.FloatField()
    cost_usd = models.DecimalField(max_digits=10, decimal_places=2)
    is_planning_value = planning_value_field()

    class Meta:
        ordering = ["length_mm"]
        constraints = [
            models.UniqueConstraint(fields=["material", "length_mm"], name="stock_length_once"),
            models.CheckConstraint(condition=Q(length_mm__gt=0), name="stock_length_above_zero"),
            models.CheckConstraint(condition=Q(cost_usd__gte=0), name="stock_length_cost_real"),
        ]

    def __str__(self) -> str:
        return f"{self.material}, {self.length_mm:g} mm"


def one_for_each_field() -> "models.FloatField[float | None, float | None]":
    """Of how much area one of a kind of equipment is held for each; empty: the number does not grow."""
    return models.FloatField(null=True, blank=True)


class RecipeOperation(models.Model):
    """One operation that a standard remedy takes, by the size of the place."""

    standard_remedy = models.ForeignKey(StandardRemedy, on_delete=models.CASCADE, related_name="recipe_operations")
    position = models.PositiveSmallIntegerField()
    phase = models.PositiveSmallIntegerField(choices=Phase)
    words = models.CharField(max_length=120)
    kind = models.CharField(max_length=6, choices=OperationKind)
    basis = models.CharField(max_length=9, choices=Basis, default=Basis.EACH)
    extent = models.CharField(max_length=7, choices=Extent, default=Extent.PLACE)
    setup_hours = models.FloatField(default=0, help_text="Hours whatever the size; for a wait, all its hours.")
    hours_per_unit = models.FloatField(default=0)
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    crew = models.PositiveSmallIntegerField(default=1)
    is_in_one_shift = models.BooleanField(default=False)
    needs_bay = models.BooleanField(default=True)
    is_drying = models.BooleanField(default=False, help_text="A wait that ends when the wood is dry.")
    # Held from its start to its end, nights included: so many at least, and one for each so much of what it reaches to.
    blowers = needed_field()
    dehumidifiers = needed_field()
    heaters = needed_field()
    blower_area_m2 = one_for_each_field()
    dehumidifier_area_m2 = one_for_each_field()
    heater_area_m2 = one_for_each_field()
    hold_point = models.CharField(max_length=160, blank=True)
    is_planning_value = planning_value_field()

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["standard_remedy", "position"], name="recipe_operation_once"),
            models.CheckConstraint(
                condition=Q(setup_hours__gte=0, hours_per_unit__gte=0)
                & (Q(setup_hours__gt=0) | Q(hours_per_unit__gt=0)),
                name="recipe_operation_takes_time",
            ),
            models.CheckConstraint(
                condition=Q(kind="labour", skill__isnull=False) | Q(kind="wait", skill__isnull=True),
                name="recipe_labour_names_skill",
            ),
            models.CheckConstraint(condition=Q(is_drying=False) | Q(kind="wait"), name="recipe_only_waits_dry"),
            models.CheckConstraint(condition=Q(basis__in=Basis.values), name="recipe_operation_basis_known"),
            models.CheckConstraint(condition=Q(extent__in=Extent.values), name="recipe_operation_extent_known"),
            # By its words finished work finds its step again.
            models.UniqueConstraint(fields=["standard_remedy", "words"], name="recipe_operation_words_once"),
            models.CheckConstraint(condition=Q(phase__in=Phase.values), name="recipe_operation_phase_known"),
            models.CheckConstraint(condition=Q(crew__gte=1), name="recipe_operation_has_crew"),
            needs_are_real("recipe_equipment_real"),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{kind}_area_m2__isnull": True})
                    | Q(**{f"{kind}_area_m2__gte": SMALLEST_AREA_M2, f"{kind}_area_m2__lte": LARGEST_AREA_M2}),
                    name=f"recipe_{kind}_area_real",
                )
                for kind in EQUIPMENT
            ),
        ]

    def __str__(self) -> str:
        return self.words

    def equipment_over(self, area_m2: float) -> dict[str, int]:
        """How many of each kind it holds over an area, by the fields of an operation."""
        return {
            field: count_for(area_m2, at_least=getattr(self, field), one_for_each_m2=getattr(self, f"{kind}_area_m2"))
            for kind, field in EQUIPMENT.items()
        }

    @property
    def grows(self) -> bool:
        """Whether it holds more over a larger place."""
        return any(getattr(self, f"{kind}_area_m2") is not None for kind in EQUIPMENT)

    @property
    def key(self) -> str:
        """What operations remember of the step they were worked out from; changing any part starts a new record."""
        parts = [self.standard_remedy.name, self.words, self.basis]
        # Hours a square foot as found say nothing about hours a square foot cut out.
        return " / ".join(parts if self.extent == Extent.PLACE else [*parts, self.extent])


class RecipeMaterial(models.Model):
    """Material that a standard remedy takes, by the way the material is taken off (estimates/calc/recipe.py: Use)."""

    standard_remedy = models.ForeignKey(StandardRemedy, on_delete=models.CASCADE, related_name="recipe_materials")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    basis = models.CharField(max_length=9, choices=Basis)
    extent = models.CharField(max_length=7, choices=Extent, default=Extent.PLACE)
    per_unit = models.FloatField(default=1)
    waste = models.FloatField(default=0, help_text="Share of what is bought that is lost, 0 to 0.5.")
    bead_width_in = models.FloatField(null=True, blank=True)
    bead_depth_in = models.FloatField(null=True, blank=True)
    laid = models.CharField(max_length=6, choices=Laid, blank=True)
    wrap_mm = models.FloatField(null=True, blank=True, help_text="Of a roll: over an edge of the face.")
    lap_mm = models.FloatField(
        null=True, blank=True, help_text="Of a roll: onto what is beside it. Of a stick: longer for its splices."
    )
    faces = models.PositiveSmallIntegerField(null=True, blank=True, help_text="How many are coated, 1 or 2.")
    spacing_mm = models.FloatField(null=True, blank=True, help_text="Of fasteners, on centre.")
    member_spacing_mm = models.FloatField(null=True, blank=True, help_text="Of fasteners on members inside the place.")
    is_planning_value = planning_value_field()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["standard_remedy", "material"], name="recipe_material_once"),
            models.CheckConstraint(condition=Q(per_unit__gt=0), name="recipe_material_per_unit_above_zero"),
            models.CheckConstraint(condition=Q(waste__gte=0, waste__lte=0.5), name="recipe_material_waste_real"),
            models.CheckConstraint(
                condition=Q(bead_width_in__isnull=True, bead_depth_in__isnull=True)
                | Q(bead_width_in__gt=0, bead_depth_in__gt=0, basis__in=BEAD_BASES),
                name="recipe_material_bead_whole",
            ),
            models.CheckConstraint(condition=Q(basis__in=Basis.values), name="recipe_material_basis_known"),
            models.CheckConstraint(condition=Q(extent__in=Extent.values), name="recipe_material_extent_known"),
            models.CheckConstraint(condition=Q(laid__in=Laid.values), name="recipe_material_laid_known"),
            models.CheckConstraint(
                condition=Q(faces__isnull=True) | Q(faces__in=[1, 2]), name="recipe_material_faces_real"
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{name}_mm__isnull": True}) | Q(**{f"{name}_mm__gte": 0}),
                    name=f"recipe_material_{name}_real",
                )
                for name in ("wrap", "lap", "spacing", "member_spacing")
            ),
        ]

    def __str__(self) -> str:
        return str(self.material)

    def as_use(self) -> Use:
        """The line as the take-off takes it."""
        return Use(**{each.name: getattr(self, each.name) for each in fields(Use)})


class CatalogueChange(models.Model):
    """Who changed the shop's catalogue, when, and how much of it. Never changed afterwards."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="catalogue_changes")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    at = models.DateTimeField()
    words = models.CharField(max_length=300)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.words
