"""What a material of the catalogue costs the owner: by its own markup and tax category."""

from decimal import Decimal

import pytest

from estimates.models import Rates
from estimates.pricing import work_out
from jobs.models import Remedy
from shopfloor.demo.catalogue import write_catalogue
from tests.factories import FindingFactory, JobFactory, ShopFactory

pytestmark = pytest.mark.django_db


def sleeve_line(**fields):
    """The price line of the sleeve set at 100 USD in a shop with 30 % markup and taxed or untaxed labour."""
    shop = ShopFactory()
    write_catalogue(shop)
    Rates.objects.filter(shop=shop).update(is_labour_taxed=fields.pop("is_labour_taxed", False))
    shop.materials.filter(name="Cable sleeve and grommets").update(pack_cost_usd=Decimal(100), **fields)
    finding = FindingFactory(job=JobFactory(shop=shop), kind="exposed_wire")
    remedy = Remedy.objects.create(finding=finding, standard=shop.standard_remedies.get(name="Protect wires"))
    worked_out = work_out(remedy, Rates.objects.get(shop=shop))
    return next(line for line in worked_out.lines if line.kind == "material")


@pytest.mark.parametrize(("markup", "price"), [(None, "130.00"), ("0", "100.00"), ("12.5", "112.50")])
def test_a_materials_own_markup_stands_before_the_shops(markup, price):
    line = sleeve_line(markup_pct=markup and Decimal(markup))

    assert (line.unit_price_usd, line.amount_usd) == (Decimal(price), Decimal(price))


@pytest.mark.parametrize(
    ("category", "is_labour_taxed", "is_taxed"),
    [
        ("parts", False, True),
        ("none", True, False),
        ("labour", False, False),
        ("labour", True, True),
        ("sublet", False, True),
    ],
)
def test_a_material_is_taxed_by_its_category(category, is_labour_taxed, is_taxed):
    line = sleeve_line(tax_category=category, is_labour_taxed=is_labour_taxed)

    assert line.is_taxed is is_taxed
