"""What work takes and costs at this shop."""

from django.db import models
from django.db.models import Q

from estimates.calc.money import UNTAXED
from jobs.models import Person, Shop, Skill, StandardRemedy
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
    pack_quantity = models.FloatField(help_text="How much one sold unit holds, in the recipe's unit; ml for sealants.")
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
        ]

    def __str__(self) -> str:
        return self.name


class RecipeOperation(models.Model):
    """One operation that a standard remedy takes, by the size of the place."""

    standard_remedy = models.ForeignKey(StandardRemedy, on_delete=models.CASCADE, related_name="recipe_operations")
    position = models.PositiveSmallIntegerField()
    phase = models.PositiveSmallIntegerField(choices=Phase)
    words = models.CharField(max_length=120)
    kind = models.CharField(max_length=6, choices=OperationKind)
    basis = models.CharField(max_length=9, choices=Basis, default=Basis.EACH)
    setup_hours = models.FloatField(default=0, help_text="Hours whatever the size; for a wait, all its hours.")
    hours_per_unit = models.FloatField(default=0)
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    crew = models.PositiveSmallIntegerField(default=1)
    is_in_one_shift = models.BooleanField(default=False)
    needs_bay = models.BooleanField(default=True)
    is_drying = models.BooleanField(default=False, help_text="A wait that ends when the wood is dry.")
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
            # By its words finished work finds its step again.
            models.UniqueConstraint(fields=["standard_remedy", "words"], name="recipe_operation_words_once"),
            models.CheckConstraint(condition=Q(phase__in=Phase.values), name="recipe_operation_phase_known"),
            models.CheckConstraint(condition=Q(crew__gte=1), name="recipe_operation_has_crew"),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def key(self) -> str:
        """What operations remember of the step they were worked out from; changing any part starts a new record."""
        return f"{self.standard_remedy.name} / {self.words} / {self.basis}"


class RecipeMaterial(models.Model):
    """Material that a standard remedy takes. With a bead section, the basis is a length of sealant bead."""

    standard_remedy = models.ForeignKey(StandardRemedy, on_delete=models.CASCADE, related_name="recipe_materials")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    basis = models.CharField(max_length=9, choices=Basis)
    per_unit = models.FloatField(default=1)
    waste = models.FloatField(default=0, help_text="Share of what is bought that is lost, 0 to 0.5.")
    bead_width_in = models.FloatField(null=True, blank=True)
    bead_depth_in = models.FloatField(null=True, blank=True)
    is_planning_value = planning_value_field()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["standard_remedy", "material"], name="recipe_material_once"),
            models.CheckConstraint(condition=Q(per_unit__gt=0), name="recipe_material_per_unit_above_zero"),
            models.CheckConstraint(condition=Q(waste__gte=0, waste__lte=0.5), name="recipe_material_waste_real"),
            models.CheckConstraint(
                condition=Q(bead_width_in__isnull=True, bead_depth_in__isnull=True)
                | Q(bead_width_in__gt=0, bead_depth_in__gt=0, basis__in=["edge_ft", "length_ft"]),
                name="recipe_material_bead_whole",
            ),
        ]

    def __str__(self) -> str:
        return str(self.material)


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
