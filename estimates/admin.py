"""Catalogue and rates for whoever sets a shop up. Offers and revisions are read only: they never change.

The register of the shop is the one of jobs; what is changed there is planned at once.
"""

from typing import Any

from django.contrib import admin, messages
from django.contrib.admin.utils import unquote
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from estimates.inputs import read_shop
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
from estimates.reasons import Cause, Reason
from estimates.services.planning import replan_after
from jobs.admin import PersonAdmin, ShopAdmin
from jobs.models import Person, Shop


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


class _Replanning(admin.ModelAdmin):
    """Bays, hours, people and what they can do are read by every plan, and stand in no journal."""

    def changeform_view(
        self,
        request: HttpRequest,
        object_id: str | None = None,
        form_url: str = "",
        extra_context: dict[str, Any] | None = None,
    ) -> HttpResponse:
        found = self.get_object(request, unquote(object_id)) if request.method == "POST" and object_id else None
        shop = found.shop if isinstance(found, Person) else found
        now = timezone.now()
        before = read_shop(shop, now) if isinstance(shop, Shop) else None
        response: HttpResponse = super().changeform_view(request, object_id, form_url, extra_context)
        if before and response.status_code == 302:
            try:
                for words in replan_after(before, reason=_register_reason(found), now=now):
                    messages.error(request, f"Not all coaches can be planned with that: {words}")
            except ValueError as error:
                messages.error(request, f"No plan can be made with that: {error}")
        return response


def _register_reason(changed: object) -> Reason:
    if isinstance(changed, Person):
        return Reason(Cause.WORK, f"What {changed.get_full_name() or changed.username} can do or works changed")
    return Reason(Cause.WORK, "The shop’s bays or hours changed")


admin.site.unregister([Shop, Person])


@admin.register(Shop)
class PlannedShopAdmin(_Replanning, ShopAdmin):
    pass


@admin.register(Person)
class PlannedPersonAdmin(_Replanning, PersonAdmin):
    pass
