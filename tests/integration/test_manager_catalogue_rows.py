"""One remedy, one material of the catalogue on a page of its own: by the rules of the files, with the same record."""

import pytest
import time_machine
from django.urls import reverse

from estimates.calc.csv_table import Column, text
from estimates.catalogue_row_forms import RowForm
from estimates.catalogue_tables import TABLES
from estimates.models import CatalogueChange, Offer, RecipeMaterial, Revision
from estimates.services.catalogue import export_catalogue, import_catalogue
from estimates.services.catalogue_rows import catalogue_version, read_cells_of
from jobs.models import Skill
from shopfloor.demo.catalogue import write_catalogue
from shopfloor.demo.telling import drain
from tests.factories import NOON, PersonFactory, ShopFactory
from tests.scenes import find_rot, opened_coach

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(client):
    shop = ShopFactory()
    write_catalogue(shop)
    client.force_login(PersonFactory(shop=shop, manager=True))
    return shop


def remedy_of(shop, name="Cut out and splice framing"):
    return shop.standard_remedies.get(name=name)


def page_of(row):
    kind = "material" if hasattr(row, "pack_cost_usd") else "remedy"
    return reverse(f"estimates:{kind}-edit", args=[row.pk])


def fields_of(row, shop=None):
    """The page's fields as they stand, as a browser would send them back."""
    head = "materials" if hasattr(row, "pack_cost_usd") else "remedies"
    cells = read_cells_of(row.shop, head, row.name, pk=row.pk)
    form = RowForm(None, head=head, shop=row.shop, cells=cells)
    lines = [form.head, *(line for part in form.parts for line in part.lines)]
    fields = {line[name].html_name: line[name].value() for line in lines for name in line.columns}
    return {name: value or "" for name, value in fields.items()} | {"seen": catalogue_version(row.shop)}


def save(client, row, **changes):
    return client.post(page_of(row), fields_of(row) | changes)


def as_bytes(files):
    return {name: text.encode() for name, text in files.items()}


def changes_of(shop):
    return list(CatalogueChange.objects.filter(shop=shop).order_by("pk").values_list("words", flat=True))


def test_every_column_of_the_files_has_its_field(client, shop):
    remedy, material = remedy_of(shop), shop.materials.first()

    page = client.get(page_of(remedy)).text + client.get(page_of(material)).text

    for table in ("materials", "stock_lengths", "remedies", "matches", "operations", "recipe_materials"):
        for column in TABLES[table]:
            is_known = column.name in {"remedy"} or (table, column.name) == ("stock_lengths", "material")
            prefix = table if table in {"materials", "remedies"} else f"{table}-1"
            assert is_known or f'name="{prefix}-{column.name}"' in page, (table, column.name)


def test_a_new_column_gets_its_field_by_itself(shop, monkeypatch):
    columns = (*TABLES["materials"], Column("shelf", text(20, is_optional=True)))
    monkeypatch.setitem(TABLES, "materials", columns)

    form = RowForm(None, head="materials", shop=shop, cells=None)

    assert form.head.fields["shelf"].label == "Shelf"


def test_saved_as_it_stands_nothing_changes(client, shop):
    before = export_catalogue(shop)

    for row in [*shop.standard_remedies.all(), *shop.materials.all()]:
        response = save(client, row)
        assert response.status_code == 302, (row, response.context and response.context["form"].mistakes)

    assert export_catalogue(shop) == before
    assert all(words.endswith(": Nothing changed") for words in changes_of(shop)[1:])


def test_a_price_is_changed_with_the_record_the_files_make(client, shop):
    material = shop.materials.first()

    response = save(client, material, **{"materials-pack_cost_usd": "123.45", "materials-origin": "our own"})

    material.refresh_from_db()
    assert response["Location"] == reverse("estimates:catalogue-list")
    assert (str(material.pack_cost_usd), material.is_planning_value) == ("123.45", False)
    assert changes_of(shop)[-1] == f"Material “{material.name}”: 0 new, 1 changed, 0 taken out"


def test_a_step_is_added_changed_and_taken_out(client, shop):
    remedy = remedy_of(shop)
    steps = list(remedy.recipe_operations.all())
    count = len(steps)
    new = {
        f"operations-{count + 1}-{name}": value
        for name, value in {
            "position": "90",
            "phase": "final check",
            "words": "Look at it once more",
            "kind": "labour",
            "setup_hours": "0.5",
            "skill": Skill.objects.filter(shop=shop).first().name,
            "hold_point": "Straight and flush",
        }.items()
    }

    response = save(client, remedy, **new, **{"operations-1-words": "Open it up", "operations-2-drop": "on"})

    words = list(remedy.recipe_operations.values_list("words", flat=True))
    assert response.status_code == 302, response.context["form"].mistakes
    assert words[0] == "Open it up"
    assert words[-1] == "Look at it once more"
    assert steps[1].words not in words
    assert len(words) == count
    last = remedy.recipe_operations.last()
    assert (last.setup_hours, last.crew, last.needs_bay, last.is_planning_value) == (0.5, 1, True, False)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"operations-1-setup_hours": "soon"}, "must be a number written like 1.5"),
        ({"operations-1-skill": ""}, "labour needs a skill"),
        ({"operations-1-crew": "0"}, "must be a whole number from 1"),
        ({"operations-1-setup_hours": "0", "operations-1-hours_per_unit": "0"}, "takes no time"),
        ({"operations-2-position": "same"}, "says the same remedy and position as line 1"),
        ({"operations-1-phase": "some day"}, "must be one of open up"),
        ({"remedies-words": ""}, "must not be empty"),
        ({"matches-1-kind": "", "matches-1-verdict": "", "matches-1-member": "", "matches-1-face": ""}, "says nothing"),
        ({"recipe_materials-1-waste": "0.9"}, "must be at least 0 and at most 0.5"),
        ({"operations-drop": "all"}, "has no operation"),
    ],
)
def test_the_rules_of_the_files_hold_and_what_was_typed_is_kept(client, shop, changes, words):
    remedy = remedy_of(shop)
    before = export_catalogue(shop)
    if changes == {"operations-drop": "all"}:
        changes = {f"operations-{number}-drop": "on" for number in range(1, remedy.recipe_operations.count() + 1)}
    same = fields_of(remedy)["operations-1-position"]
    given = {name: same if value == "same" else value for name, value in changes.items()}

    response = save(client, remedy, **given, **{"remedies-keeps": "A word I typed."})

    assert response.status_code == 422
    assert words in response.text
    assert "A word I typed." in response.text
    assert export_catalogue(shop) == before
    assert len(changes_of(shop)) == 1


def test_a_mistake_stands_beside_its_field_and_at_the_head_with_a_way_to_it(client, shop):
    response = save(client, remedy_of(shop), **{"operations-1-crew": "many"})

    assert 'href="#id_operations-1-crew"' in response.text
    assert 'aria-invalid="true"' in response.text
    assert '<details id="line-operations-1" open>' in response.text


def test_a_new_remedy_with_its_step_and_where_it_fits(client, shop):
    new = {
        "seen": catalogue_version(shop),
        "remedies-name": "Brace a cracked bow",
        "remedies-words": "We brace the cracked bow on both sides.",
        "operations-1-position": "1",
        "operations-1-phase": "framing",
        "operations-1-words": "Brace the bow",
        "operations-1-kind": "labour",
        "operations-1-setup_hours": "1.5",
        "operations-1-skill": Skill.objects.filter(shop=shop).first().name,
        "matches-1-kind": "rotten_framing",
    }
    blank = RowForm(None, head="remedies", shop=shop, cells=None)
    defaults = {
        line[name].html_name: line[name].value() or ""
        for part in blank.parts
        for line in part.lines
        for name in line.columns
    }

    response = client.post(reverse("estimates:remedy-add"), defaults | new)

    assert response.status_code == 302, response.context["form"].mistakes
    made = remedy_of(shop, "Brace a cracked bow")
    assert made.recipe_operations.get().words == "Brace the bow"
    assert str(made.matches.get()) == "rotten framing"


def test_a_new_one_of_a_name_that_is_there_is_refused(client, shop):
    name = remedy_of(shop).name

    response = client.post(
        reverse("estimates:remedy-add"), {"seen": catalogue_version(shop), "remedies-name": name, "remedies-words": "x"}
    )

    assert response.status_code == 422
    assert "there is one of this name already" in response.text
    assert remedy_of(shop).words != "x"


def test_a_new_material(client, shop):
    blank = RowForm(None, head="materials", shop=shop, cells=None)
    defaults = {blank.head[name].html_name: blank.head[name].value() or "" for name in blank.head.columns}
    new = {"name": "Cedar shims", "sold_unit": "bundle", "pack_quantity": "40", "pack_cost_usd": "7.5"}

    response = client.post(
        reverse("estimates:material-add"),
        defaults | {f"materials-{name}": value for name, value in new.items()} | {"seen": catalogue_version(shop)},
    )

    assert response.status_code == 302, response.context["form"].mistakes
    assert shop.materials.get(name="Cedar shims").pack_quantity == 40


def test_a_remedy_that_is_renamed_keeps_its_row_and_all_that_hangs_on_it(client, shop):
    remedy = remedy_of(shop)
    hanging = ("recipe_operations", "recipe_materials", "matches")
    before = {name: set(getattr(remedy, name).values_list("pk", flat=True)) for name in hanging}

    response = save(client, remedy, **{"remedies-name": "Splice in new framing"})

    assert response.status_code == 302
    remedy.refresh_from_db()
    assert (remedy.name, remedy.is_active) == ("Splice in new framing", True)
    assert {name: set(getattr(remedy, name).values_list("pk", flat=True)) for name in hanging} == before
    assert changes_of(shop)[-1].startswith("Remedy “Cut out and splice framing” is “Splice in new framing” now: ")


def test_a_material_that_is_renamed_is_followed_by_the_recipes(client, shop):
    material = shop.materials.get(name="Framing timber, planed")
    users = set(RecipeMaterial.objects.filter(material=material).values_list("pk", flat=True))

    response = save(client, material, **{"materials-name": "Framing timber, dressed"})

    assert response.status_code == 302
    material.refresh_from_db()
    assert material.name == "Framing timber, dressed"
    assert set(RecipeMaterial.objects.filter(material=material).values_list("pk", flat=True)) == users != set()
    files = export_catalogue(shop)
    assert "Framing timber, planed" not in "".join(files.values())
    assert import_catalogue(shop=shop, files=as_bytes(files), by=None, now=NOON).words == "Nothing changed"


def test_the_page_says_what_renaming_means_for_files(client, shop):
    assert "Files know it by its name." in client.get(page_of(remedy_of(shop))).text
    assert "Files know it by its name." not in client.get(reverse("estimates:remedy-add")).text


@pytest.mark.parametrize("is_active", [True, False])
def test_a_name_that_another_has_is_refused_and_nothing_is_stored(client, shop, is_active):
    remedy, other = remedy_of(shop), remedy_of(shop, "Renew the edge seal")
    type(other).objects.filter(pk=other.pk).update(is_active=is_active)
    before, changes = export_catalogue(shop), changes_of(shop)

    response = save(client, remedy, **{"remedies-name": other.name, "remedies-keeps": "All of it."})

    assert response.status_code == 422
    assert "there is one of this name already" in response.text
    assert f'value="{other.name}"' in response.text
    assert (export_catalogue(shop), changes_of(shop)) == (before, changes)


def test_a_new_name_beside_a_mistake_is_not_stored(client, shop):
    remedy = remedy_of(shop)

    response = save(client, remedy, **{"remedies-name": "Another name", "operations-1-crew": "many"})

    assert response.status_code == 422
    remedy.refresh_from_db()
    assert remedy.name == "Cut out and splice framing"


def test_who_saves_on_an_old_page_is_shown_how_it_stands_now(client, shop):
    remedy = remedy_of(shop)
    seen = catalogue_version(shop)
    save(client, remedy, **{"remedies-keeps": "First."})

    response = save(client, remedy, seen=seen, **{"remedies-keeps": "Second."})

    remedy.refresh_from_db()
    assert response.status_code == 409
    assert "The catalogue changed after you opened this page." in response.text
    assert "First." in response.text
    assert remedy.keeps == "First."
    assert save(client, remedy, seen="old").status_code == 409


def test_out_of_use_and_back_again_with_its_recipe(client, shop):
    remedy = remedy_of(shop)
    steps = remedy.recipe_operations.count()

    client.post(page_of(remedy), {"seen": catalogue_version(shop), "retire": "1"})

    remedy.refresh_from_db()
    assert not remedy.is_active
    assert changes_of(shop)[-1] == f"Remedy “{remedy.name}” out of use: 0 new, 0 changed, 1 taken out"
    assert "Saving it brings it back." in client.get(page_of(remedy)).text

    assert save(client, remedy).status_code == 302
    remedy.refresh_from_db()
    assert remedy.is_active
    assert remedy.recipe_operations.count() == steps


def test_material_that_a_remedy_takes_stays_in_use(client, shop):
    material = remedy_of(shop).recipe_materials.first().material

    response = client.post(page_of(material), {"seen": catalogue_version(shop), "retire": "1"})

    material.refresh_from_db()
    assert response.status_code == 422
    assert "which would be out of use" in response.text
    assert material.is_active


def test_offers_and_revisions_do_not_move_with_a_price_or_a_name(client):
    with time_machine.travel(NOON, tick=False):
        scene = opened_coach(NOON)
        find_rot(scene)
        drain(NOON)
        client.force_login(scene.manager)
        kept = [*Offer.objects.values_list("content", "sha256"), *Revision.objects.values_list("content", "sha256")]

        for material in scene.shop.materials.all():
            changes = {"materials-pack_cost_usd": "999.00", "materials-name": f"{material.name}, new"}
            assert save(client, material, **changes).status_code == 302
        assert save(client, remedy_of(scene.shop), **{"remedies-name": "Splice in new framing"}).status_code == 302

        drain(NOON)
        now = [*Offer.objects.values_list("content", "sha256"), *Revision.objects.values_list("content", "sha256")]
        assert now == kept


def test_a_technician_may_not_another_shop_finds_nothing_a_stranger_signs_in(client, shop):
    url = page_of(remedy_of(shop))
    client.force_login(PersonFactory(shop=shop))
    assert {client.get(url).status_code, client.post(url).status_code} == {403}

    client.force_login(PersonFactory(manager=True))
    assert {client.get(url).status_code, client.post(url).status_code} == {404}

    client.logout()
    assert client.get(url)["Location"].startswith(reverse("jobs:sign-in"))
    assert client.put(url).status_code in {302, 405}
