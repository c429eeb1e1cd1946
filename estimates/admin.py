"""Catalogue and rates for whoever sets a shop up. Offers and revisions are read only: they never change."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from estimates.models import (
    HoursAccepted,
    Material,
    Offer,
    Rates,
    RecipeMaterial,
    RecipeOperation,
    Revision,
    StockLength,
)


@admin.register(Rates)
class RatesAdmin(admin.ModelAdmin):
    list_display = ["shop", "labour_usd_per_hour", "material_markup_pct", "tax_rate_pct", "tax_basis"]


class StockLengthInline(admin.TabularInline):
    model = StockLength
    extra = 0


@admin.register(Material)
class MaterialAdmin(admin.ModelAdmin):
    list_display = ["name", "shop", "sold_unit", "takeoff", "pack_quantity", "pack_cost_usd"]
    inlines = [StockLengthInline]
    list_filter = ["shop"]
    search_fields = ["name"]


@admin.register(RecipeOperation)
class RecipeOperationAdmin(admin.ModelAdmin):
    list_display = ["words", "standard_remedy", "position", "phase", "kind", "setup_hours", "hours_per_unit", "basis"]
    list_filter = ["standard_remedy__shop", "phase"]
    list_select_related = ["standard_remedy"]


@admin.register(RecipeMaterial)
class RecipeMaterialAdmin(admin.ModelAdmin):
    list_display = ["material", "standard_remedy", "basis", "per_unit", "waste"]
    list_filter = ["standard_remedy__shop"]
    list_select_related = ["material", "standard_remedy"]


class _ReadOnly(admin.ModelAdmin):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Offer)
class OfferAdmin(_ReadOnly):
    list_display = ["finding", "total_usd", "ready_with_on", "ready_without_on", "made_at"]
    list_select_related = ["finding"]


@admin.register(Revision)
class RevisionAdmin(_ReadOnly):
    list_display = ["job", "number", "total_usd", "agreed_by", "issued_at"]
    list_select_related = ["job__coach"]


@admin.register(HoursAccepted)
class HoursAcceptedAdmin(_ReadOnly):
    list_display = ["recipe_key", "setup_hours", "hours_per_unit", "n", "by", "at"]
    list_select_related = ["by"]
