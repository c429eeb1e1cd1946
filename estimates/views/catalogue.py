"""The shop's catalogue: what is in it, in and out as files, and the rates."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from estimates.catalogue_files import MARK, pack, unpack
from estimates.catalogue_forms import CatalogueFilesForm, RatesForm
from estimates.catalogue_page import materials_in_use, remedy_rows, trimmed
from estimates.catalogue_tables import FILES, PLANNING_VALUE
from estimates.models import Rates
from estimates.services import catalogue
from jobs.errors import JobError
from jobs.models import Shop
from jobs.views.access import manager_required, person_of

# A page of more mistakes than this would help nobody; how many there are in all is said.
MOST_SHOWN = 200
RATES_FIELDS = (
    "labour_usd_per_hour",
    "labour_cost_usd_per_hour",
    "material_markup_pct",
    "tax_rate_pct",
    "is_labour_taxed",
    "tax_basis",
)


@require_safe
@manager_required
def catalogue_list(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    rates = Rates.objects.filter(shop=shop).first()
    context = {
        "shop": shop,
        "rates": rates,
        "tax_rate_pct": trimmed(rates.tax_rate_pct) if rates else "",
        "remedies": remedy_rows(shop),
        "materials": materials_in_use(shop),
        "out_of_use": list(shop.standard_remedies.filter(is_active=False)),
        "last_change": shop.catalogue_changes.select_related("person").first(),
        "planning_value": PLANNING_VALUE,
    }
    return render(request, "estimates/catalogue_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def catalogue_load(request: HttpRequest) -> HttpResponse:
    """Files in: all of them, or a list of every mistake and nothing stored."""
    shop = shop_of(request)
    is_sent = request.method == "POST"
    form = CatalogueFilesForm(request.POST, request.FILES) if is_sent else CatalogueFilesForm()
    context: dict[str, Any] = {"form": form, "files": FILES, "shop": shop}
    if is_sent and form.is_valid():
        try:
            changes = _take_over(request, shop, form)
        except catalogue.CatalogueRefused as refusal:
            context |= {"problems": refusal.problems[:MOST_SHOWN], "count": len(refusal.problems)}
        else:
            messages.success(request, f"The catalogue is taken over: {changes.words}.")
            return redirect("estimates:catalogue-list")
    status = 422 if form.errors or "problems" in context else 200
    return render(request, "estimates/catalogue_load.html", context, status=status)


@require_POST
@manager_required
def starting_load(request: HttpRequest) -> HttpResponse:
    """The catalogue that comes with the program, into a shop that has none."""
    try:
        changes = catalogue.load_starting(shop=shop_of(request), by=person_of(request), now=timezone.now())
    except JobError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"The starting catalogue is loaded: {changes.words}. Replace its figures with yours.")
    return redirect("estimates:catalogue-list")


@require_safe
@manager_required
def catalogue_download(request: HttpRequest) -> HttpResponse:
    """All files as one ZIP."""
    content = pack(catalogue.export_catalogue(shop_of(request)))
    return _attachment(content, "application/zip", "catalogue.zip")


@require_safe
@manager_required
def catalogue_file(request: HttpRequest, table: str) -> HttpResponse:
    """One of the files."""
    files = catalogue.export_catalogue(shop_of(request))
    name = f"{table}.csv"
    if name not in files:
        raise Http404
    return _attachment(files[name].encode(MARK), "text/csv; charset=utf-8", name)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_required
def rates_edit(request: HttpRequest) -> HttpResponse:
    shop = shop_of(request)
    rates = Rates.objects.filter(shop=shop).first()
    initial = {name: trimmed(getattr(rates, name)) for name in RATES_FIELDS} if rates else {}
    form = RatesForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        catalogue.set_rates(shop=shop, values=form.cleaned_data, by=person_of(request), now=timezone.now())
        messages.success(request, "The rates are set. Prices offered or agreed before stay as they are.")
        return redirect("estimates:catalogue-list")
    context = {"form": form, "rates": rates, "planning_value": PLANNING_VALUE}
    return render(request, "estimates/rates_edit.html", context, status=422 if form.errors else 200)


def shop_of(request: HttpRequest) -> Shop:
    """The person's own shop. Raises Http404 for somebody who belongs to none."""
    shop = person_of(request).shop
    if shop is None:
        raise Http404
    return shop


def _take_over(request: HttpRequest, shop: Shop, form: CatalogueFilesForm) -> catalogue.Changes:
    files, problems = unpack(form.uploads())
    if problems:
        raise catalogue.CatalogueRefused(problems)
    return catalogue.import_catalogue(shop=shop, files=files, by=person_of(request), now=timezone.now())


def _attachment(content: bytes, content_type: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=content_type)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
