"""One remedy or one material of the catalogue on a page of its own."""

from collections.abc import Mapping, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from estimates.catalogue_row_forms import RowForm
from estimates.catalogue_tables import PLANNING_VALUE
from estimates.models import Material
from estimates.services.catalogue import CatalogueRefused
from estimates.services.catalogue_rows import HEADS, catalogue_version, read_cells_of, retire_row, save_row
from estimates.views.catalogue import shop_of
from jobs.errors import JobError, Stale
from jobs.models import Shop, StandardRemedy
from jobs.views.access import manager_required, person_of

Cells = Mapping[str, Sequence[Mapping[str, str]]]


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def remedy_edit(request: HttpRequest, remedy_id: int) -> HttpResponse:
    """A remedy with its steps, materials and where it fits; one out of use comes back when it is saved."""
    shop = shop_of(request)
    remedy = get_object_or_404(StandardRemedy, pk=remedy_id, shop=shop)
    cells = read_cells_of(shop, "remedies", remedy.name, pk=remedy.pk)
    return _edit(request, shop, "remedies", remedy.name, cells, is_active=remedy.is_active)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def material_edit(request: HttpRequest, material_id: int) -> HttpResponse:
    shop = shop_of(request)
    material = get_object_or_404(Material, pk=material_id, shop=shop, is_active=True)
    cells = read_cells_of(shop, "materials", material.name, pk=material.pk)
    return _edit(request, shop, "materials", material.name, cells)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def remedy_add(request: HttpRequest) -> HttpResponse:
    return _edit(request, shop_of(request), "remedies", "", None)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def material_add(request: HttpRequest) -> HttpResponse:
    return _edit(request, shop_of(request), "materials", "", None)


def _edit(
    request: HttpRequest, shop: Shop, head: str, name: str, cells: Cells | None, *, is_active: bool = True
) -> HttpResponse:
    """The page, or what was typed taken over by the rules of the files."""
    if request.method == "POST" and name and "retire" in request.POST:
        return _retire(request, shop, head, name, cells)
    form = RowForm(request.POST if request.method == "POST" else None, head=head, shop=shop, cells=cells)
    if request.method != "POST":
        return _draw(request, shop, head, name, form, is_active=is_active)
    typed = form.cells()
    try:
        changes = save_row(
            shop=shop, head=head, name=name, cells=typed, seen=_seen(request), by=person_of(request), now=timezone.now()
        )
    except CatalogueRefused as refusal:
        form.add_problems(refusal.problems)
        return _draw(request, shop, head, name, form, status=422, is_active=is_active)
    except Stale as refusal:
        form = RowForm(None, head=head, shop=shop, cells=cells)
        return _draw(request, shop, head, name, form, status=409, refusal=str(refusal), is_active=is_active)
    messages.success(request, f"Saved: {changes.words}. Prices offered or agreed before stay as they are.")
    return redirect("estimates:catalogue-list")


def _retire(request: HttpRequest, shop: Shop, head: str, name: str, cells: Cells | None) -> HttpResponse:
    try:
        retire_row(shop=shop, head=head, name=name, seen=_seen(request), by=person_of(request), now=timezone.now())
    except JobError as refusal:
        form = RowForm(None, head=head, shop=shop, cells=cells)
        status = 409 if isinstance(refusal, Stale) else 422
        return _draw(request, shop, head, name, form, status=status, refusal=str(refusal))
    messages.success(request, f"“{name}” is out of use. Work agreed with it stays.")
    return redirect("estimates:catalogue-list")


def _seen(request: HttpRequest) -> int:
    text = request.POST.get("seen", "")
    return int(text) if text.isdecimal() and len(text) < 19 else -1


def _draw(
    request: HttpRequest,
    shop: Shop,
    head: str,
    name: str,
    form: RowForm,
    *,
    status: int = 200,
    refusal: str = "",
    is_active: bool = True,
) -> HttpResponse:
    context = {
        "shop": shop,
        "form": form,
        "name": name,
        "what": HEADS[head][1].lower(),
        "seen": catalogue_version(shop) if status != 422 else _seen(request),
        "refusal": refusal,
        "is_active": is_active,
        "planning_value": PLANNING_VALUE,
    }
    return render(request, "estimates/catalogue_row_edit.html", context, status=status)
