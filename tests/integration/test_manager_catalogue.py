"""The manager's catalogue: on screen, out as files, in as files with every mistake listed, and the rates."""

import io
import zipfile
from decimal import Decimal

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils.html import escape

from estimates.calc.csv_table import MOST_BYTES
from estimates.catalogue_files import MOST_ENTRIES, pack, unpack
from estimates.catalogue_tables import FILES, PLANNING_VALUE
from estimates.models import CatalogueChange, Material, Offer, Rates, RecipeOperation, Revision
from estimates.services.catalogue import export_catalogue, starting_files
from jobs.models import StandardRemedy
from shopfloor.demo.catalogue import write_catalogue
from shopfloor.demo.telling import drain
from tests.factories import NOON, PersonFactory, StandardRemedyFactory
from tests.scenes import find_rot, opened_coach

pytestmark = pytest.mark.django_db

LIST = reverse("estimates:catalogue-list")
LOAD = reverse("estimates:catalogue-load")
START = reverse("estimates:starting-load")
ZIP = reverse("estimates:catalogue-download")
RATES = reverse("estimates:rates-edit")
ONE_FILE = reverse("estimates:catalogue-file", args=["materials"])
GOOD_RATES = {
    "labour_usd_per_hour": "$131.50",
    "material_markup_pct": "25",
    "tax_rate_pct": "7.125",
    "is_labour_taxed": "on",
    "tax_basis": "item",
}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def manager(client):
    person = PersonFactory(manager=True)
    client.force_login(person)
    return person


@pytest.fixture
def shop(manager):
    write_catalogue(manager.shop)
    return manager.shop


def send(client, *uploads):
    return client.post(LOAD, {"sent": [SimpleUploadedFile(name, data) for name, data in uploads]})


def zipped(files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


def said(response, client):
    return [str(message) for message in client.get(response.url).context["messages"]]


class TestPage:
    def test_it_shows_remedies_operations_materials_fits_cautions_and_whose_figures(self, client, shop):
        page = client.get(LIST)

        for remedy in shop.standard_remedies.all():
            for words in (remedy.name, remedy.words, remedy.caution, remedy.keeps, remedy.warranty):
                assert escape(words) in page.text
        for step in RecipeOperation.objects.filter(standard_remedy__shop=shop):
            assert escape(step.words) in page.text
            assert escape(step.hold_point) in page.text
        for material in shop.materials.all():
            assert escape(material.name) in page.text
        assert "1 h and 0.09 h per foot round the edge" in page.text
        assert "2 pieces to each member crossed, 16 in more for splices" in page.text
        assert "1 bead round the edge, 0.375 × 0.375 in bead, 10 % lost" in page.text
        assert "1 gal, 100 ft²/gal of finished area" in page.text
        assert "8 ft, 12 ft at $11.60, 16 ft at $16.40" in page.text
        assert "1 layer over the area, laid across the members; cut back to the nearest members" in page.text
        assert "rotten framing, rotted" in page.text
        assert "framing, 2 people" in page.text
        assert "nobody, until it is dry" in page.text
        rows = 1 + 26 + RecipeOperation.objects.count() + 20 + 58
        assert page.text.count(PLANNING_VALUE) == rows

    def test_a_figure_of_the_shops_own_is_labelled_so(self, client, shop):
        remedy = shop.standard_remedies.get(name="Protect wires")
        remedy.recipe_operations.update(is_planning_value=False)
        remedy.recipe_materials.update(is_planning_value=False)
        Rates.objects.update(is_planning_value=False)

        page = client.get(LIST)

        row = next(row for row in page.context["remedies"] if row.remedy == remedy)
        assert not row.is_planning_value
        assert page.text.count(PLANNING_VALUE) == 1 + 26 + RecipeOperation.objects.count() + 20 + 58 - 4
        assert page.text.count("our own") == 2

    def test_it_takes_a_fixed_number_of_queries(self, client, shop, django_assert_max_num_queries):
        client.get(LIST)

        with django_assert_max_num_queries(14):
            client.get(LIST)

    def test_what_is_out_of_use_is_named_and_no_more_than_that(self, client, shop):
        gone = StandardRemedyFactory(shop=shop, name="Given up", words="Long ago.", is_active=False)
        shop.materials.filter(name="Butyl tape").update(is_active=False)

        page = client.get(LIST)

        assert f"{gone.name}</a>." in page.text
        assert gone.words not in page.text
        assert [row.material.name for row in page.context["materials"]].count("Butyl tape") == 0

    def test_another_shops_rows_are_not_there(self, client, shop):
        StandardRemedyFactory(name="Foreign remedy")
        other = PersonFactory(manager=True).shop
        Material.objects.create(shop=other, name="Foreign stuff", sold_unit="box", pack_quantity=1, pack_cost_usd=1)

        page = client.get(LIST)

        assert "Foreign" not in page.text
        assert "Foreign" not in client.get(ONE_FILE).content.decode()

    def test_the_way_there_stands_in_a_managers_navigation_alone(self, client, shop):
        assert f'href="{LIST}" aria-current="page"' in client.get(LIST).text

        client.force_login(PersonFactory(shop=shop))
        assert LIST not in client.get(reverse("jobs:start")).text

    @pytest.mark.parametrize("url", [LIST, LOAD, START, ZIP, RATES, ONE_FILE])
    def test_a_technician_is_refused(self, client, shop, url):
        client.force_login(PersonFactory(shop=shop))
        before = CatalogueChange.objects.count()

        statuses = {client.get(url).status_code, client.post(url, GOOD_RATES).status_code}

        assert statuses <= {403, 405}
        assert 403 in statuses
        assert CatalogueChange.objects.count() == before

    @pytest.mark.parametrize("url", [LIST, LOAD, ZIP, RATES, ONE_FILE])
    def test_a_manager_without_a_shop_has_none(self, client, url):
        client.force_login(PersonFactory(manager=True, shop=None, is_superuser=True))

        assert client.get(url).status_code == 404

    @pytest.mark.parametrize(
        ("url", "method"),
        [(LIST, "post"), (ZIP, "post"), (ONE_FILE, "post"), (START, "get"), (LOAD, "put"), (RATES, "delete")],
    )
    def test_other_methods_are_refused(self, client, shop, url, method):
        assert getattr(client, method)(url).status_code == 405


class TestStart:
    def test_a_shop_without_remedies_is_offered_the_starting_catalogue_and_gets_it(self, client, manager):
        assert START in client.get(LIST).text

        response = client.post(START)

        assert manager.shop.standard_remedies.count() == 26
        assert "The starting catalogue is loaded" in said(response, client)[0]
        assert START not in client.get(LIST).text

    def test_a_shop_with_remedies_keeps_its_own(self, client, shop):
        shop.materials.filter(name="Butyl tape").update(pack_cost_usd=Decimal("12.00"))

        response = client.post(START)

        assert said(response, client) == ["This shop has remedies already. Load files to change them."]
        assert shop.materials.get(name="Butyl tape").pack_cost_usd == Decimal("12.00")


class TestOut:
    def test_the_zip_holds_every_file_and_loads_again_unchanged(self, client, shop):
        response = client.get(ZIP)

        assert response["Content-Type"] == "application/zip"
        assert response["Content-Disposition"] == 'attachment; filename="catalogue.zip"'
        with zipfile.ZipFile(io.BytesIO(response.content)) as archive:
            assert archive.namelist() == list(FILES)
        back = send(client, ("catalogue.zip", response.content))
        assert said(back, client) == ["The catalogue is taken over: Nothing changed."]

    def test_one_file_is_utf_8_with_its_mark_as_spreadsheets_need_it(self, client, shop):
        response = client.get(ONE_FILE)

        assert response["Content-Disposition"] == 'attachment; filename="materials.csv"'
        assert response.content.startswith(b"\xef\xbb\xbfname,sold_unit,")
        assert "sheet of 4 × 8 ft" in response.content.decode("utf-8-sig")

    def test_there_is_no_other_file(self, client, shop):
        assert client.get(reverse("estimates:catalogue-file", args=["people"])).status_code == 404


class TestIn:
    def test_one_file_alone_is_taken_over_and_the_change_is_kept(self, client, shop, manager):
        content = export_catalogue(shop)["materials.csv"].replace("9.60", "10.20")

        response = send(client, ("Materials.CSV", content.encode()))

        assert (response.status_code, response.url) == (302, LIST)
        assert said(response, client) == ["The catalogue is taken over: 0 new, 1 changed, 0 taken out."]
        assert shop.materials.get(name="Butyl tape").pack_cost_usd == Decimal("10.20")
        change = shop.catalogue_changes.first()
        assert (change.person, change.at) == (manager, NOON)
        assert change.words == "0 new, 1 changed, 0 taken out, from materials.csv"
        assert escape(change.words) in client.get(LIST).text

    def test_every_mistake_is_listed_with_its_place_and_nothing_is_stored(self, client, shop):
        files = starting_files()
        materials = files["materials.csv"].decode().replace("9.60", "-9.60").replace("11.80", "a lot")
        rates = files["rates.csv"].decode().replace("6.2500", "112")
        before = Rates.objects.values().get(), list(Material.objects.values())

        response = send(client, ("materials.csv", materials.encode()), ("rates.csv", rates.encode()))

        assert response.status_code == 422
        assert [(each.file, each.line, each.column) for each in response.context["problems"]] == [
            ("rates.csv", 2, "tax_rate_pct"),
            ("materials.csv", 8, "pack_cost_usd"),
            ("materials.csv", 9, "pack_cost_usd"),
        ]
        for problem in response.context["problems"]:
            assert escape(problem.reason) in response.text
        assert "3 things to mend" in response.text
        assert (Rates.objects.values().get(), list(Material.objects.values())) == before

    def test_of_very_many_mistakes_the_first_are_shown_and_all_are_counted(self, client, shop):
        head, *_ = starting_files()["skills.csv"].decode().splitlines()

        response = send(client, ("skills.csv", "\n".join([head, *["body"] * 301]).encode()))

        assert response.context["count"] == 300
        assert "What to mend, the first 200 of 300" in response.text
        assert response.text.count("says the same name as line 2") == 200

    @pytest.mark.parametrize(
        ("uploads", "words"),
        [
            ([], "Choose the ZIP or the CSV files first."),
            ([("skills.csv", b"")], "The file is empty."),
            ([("skills.csv", b"n" * (MOST_BYTES + 1))], "At most 500 kB a file, please: skills.csv."),
        ],
    )
    def test_what_is_no_file_at_all_is_refused_beside_the_field(self, client, shop, uploads, words):
        response = send(client, *uploads)

        assert response.status_code == 422
        assert words in response.context["form"].errors["sent"][0]
        assert escape(words) in response.text

    @pytest.mark.parametrize(
        ("uploads", "file", "reason"),
        [
            ([("prices.csv", b"name\n")], "prices.csv", "not a file of the catalogue"),
            ([("skills.csv", b"name\nbody\n"), ("skills.csv", b"name\n")], "skills.csv", "came twice"),
            ([("all.zip", b"no zip")], "all.zip", "the ZIP cannot be opened"),
            ([("all.zip", pack({"skills.csv": "name\n"})[:-30])], "all.zip", "the ZIP cannot be opened"),
            ([("skills.csv", pack({"skills.csv": "name\n"}))], "skills.csv", "save it as “CSV UTF-8”"),
            ([("all.zip", pack({"big/skills.csv": "a" * (MOST_BYTES + 9)}))], "skills.csv", "too big"),
            (
                [("all.zip", zipped({f"{number}.csv": b"a" for number in range(MOST_ENTRIES + 1)}))],
                "all.zip",
                f"{MOST_ENTRIES + 1} files in it",
            ),
        ],
    )
    def test_files_that_are_not_what_they_should_be_are_refused_in_words(self, client, shop, uploads, file, reason):
        response = send(client, *uploads)

        assert response.status_code == 422
        assert response.context["problems"][0].file == file
        assert reason in response.context["problems"][0].reason
        assert CatalogueChange.objects.count() == 1

    def test_a_zip_that_grows_without_end_is_read_no_further_than_one_file_may_be_long(self):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("skills.csv", b"a" * 50_000_000)

        files, problems = unpack([("all.zip", out.getvalue())])

        assert problems == []
        assert len(out.getvalue()) < MOST_BYTES
        assert len(files["skills.csv"]) == MOST_BYTES + 1

    def test_a_zip_packed_in_a_folder_by_another_system_is_read(self, client, shop):
        entries = {"shop/skills.csv": b"name\nbody\nwelding\n", "__MACOSX/shop/._skills.csv": b"x", "shop/.store": b"x"}

        response = send(client, ("shop.zip", zipped(entries)))

        assert response.status_code == 302
        assert shop.skills.filter(name="welding").exists()

    def test_offers_and_revisions_do_not_change_when_the_catalogue_does(self, client):
        scene = opened_coach(NOON)
        find_rot(scene)
        drain(NOON)
        client.force_login(scene.manager)
        before = list(Offer.objects.values()), list(Revision.objects.values())
        files = export_catalogue(scene.shop)
        dearer = files["materials.csv"].replace("7.40", "99.00")
        kept = [line for line in files["remedies.csv"].splitlines() if not line.startswith("Cut out and splice")]

        gone = ("Cut out and splice framing,",)
        steps = [line for line in files["operations.csv"].splitlines() if not line.startswith(gone)]
        stuff = [line for line in files["recipe_materials.csv"].splitlines() if not line.startswith(gone)]
        fits = [line for line in files["matches.csv"].splitlines() if not line.startswith(gone)]
        response = send(
            client,
            ("materials.csv", dearer.encode()),
            ("remedies.csv", "\n".join(kept).encode()),
            ("operations.csv", "\n".join(steps).encode()),
            ("recipe_materials.csv", "\n".join(stuff).encode()),
            ("matches.csv", "\n".join(fits).encode()),
        )
        drain(NOON)

        assert response.status_code == 302
        assert not StandardRemedy.objects.get(shop=scene.shop, name="Cut out and splice framing").is_active
        assert len(before[0]) == 1
        assert (list(Offer.objects.values()), list(Revision.objects.values())) == before


class TestRates:
    def test_it_shows_what_is_set_and_that_it_is_not_the_shops_own_yet(self, client, shop):
        page = client.get(RATES)

        assert PLANNING_VALUE in page.text
        assert 'value="118.00"' in page.text
        assert 'value="6.25"' in page.text

    def test_set_they_are_the_shops_own(self, client, shop, manager):
        response = client.post(RATES, GOOD_RATES)

        rates = Rates.objects.get(shop=shop)
        assert said(response, client) == ["The rates are set. Prices offered or agreed before stay as they are."]
        assert (rates.labour_usd_per_hour, rates.material_markup_pct) == (Decimal("131.50"), Decimal(25))
        assert (rates.tax_rate_pct, rates.tax_basis) == (Decimal("7.125"), "item")
        assert (rates.is_labour_taxed, rates.is_planning_value) == (True, False)
        change = shop.catalogue_changes.first()
        assert (change.person, change.words.startswith("Rates set: 131.50 USD an hour")) == (manager, True)

    def test_a_shop_without_rates_gets_its_first(self, client, manager):
        assert "nothing can be priced" in client.get(LIST).text

        client.post(RATES, GOOD_RATES)

        assert Rates.objects.get().shop == manager.shop

    @pytest.mark.parametrize(
        ("field", "typed", "words"),
        [
            ("labour_usd_per_hour", "-1", "At least 0, please."),
            ("labour_usd_per_hour", "", "Write a number, such as 12.5."),
            ("labour_usd_per_hour", "1000000", "At most 6 digits before the point, please."),
            ("labour_usd_per_hour", "12.345", "At most 2 digits after the point, please."),
            ("material_markup_pct", "lots", "Write a number, such as 12.5."),
            ("tax_rate_pct", "100", "At most 99.9999, please."),
            ("tax_rate_pct", "7.12345", "At most 4 digits after the point, please."),
            ("tax_rate_pct", "nan", "Write a number, such as 12.5."),
            ("tax_basis", "year", "Select a valid choice. year is not one of the available choices."),
        ],
    )
    def test_a_bad_rate_is_refused_beside_it_with_all_that_was_typed(self, client, shop, field, typed, words):
        given = GOOD_RATES | {field: typed}
        before = Rates.objects.values().get()

        response = client.post(RATES, given)

        assert response.status_code == 422
        assert response.context["form"].errors == {field: [words]}
        assert {name: response.context["form"][name].value() for name in given if name != "is_labour_taxed"} == {
            name: value for name, value in given.items() if name != "is_labour_taxed"
        }
        assert Rates.objects.values().get() == before
