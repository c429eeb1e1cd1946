"""The catalogue as CSV: cells read and written the same, every mistake named, files in whole or not at all."""

import csv
import io
import string
from decimal import Decimal

import pytest
import textstat
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimates.calc.catalogue_rules import KEYS, Standing, find_problems
from estimates.calc.csv_table import (
    MOST_BYTES,
    MOST_LINES,
    Column,
    Line,
    decode,
    guarded,
    parse_table,
    text,
    unguarded,
    write_table,
)
from estimates.catalogue_tables import FILES, LONGEST_MM, PLANNING_VALUE, TABLES, area, size, write_area, write_size
from estimates.models import CatalogueChange, Material, Rates, RecipeMaterial, RecipeOperation, StockLength
from estimates.models.catalogue import COVERAGE_BASES, COVERAGE_UNITS, TakeOff
from estimates.services.catalogue import (
    CatalogueRefused,
    export_catalogue,
    import_catalogue,
    read_catalogue,
    starting_files,
)
from jobs.models import RemedyMatch, Skill, StandardRemedy
from jobs.models.finding import FindingKind
from jobs.services.remedies import fitting_remedies
from tests.factories import NOON, FindingFactory, JobFactory, PersonFactory, RemedyFactory, ShopFactory

MODELS = {
    "skills": Skill,
    "rates": Rates,
    "materials": Material,
    "stock_lengths": StockLength,
    "remedies": StandardRemedy,
    "matches": RemedyMatch,
    "operations": RecipeOperation,
    "recipe_materials": RecipeMaterial,
}


def starting_lines():
    lines, problems = read_catalogue(starting_files(), Standing())
    assert problems == []
    return {table: [line.values for line in lines[table]] for table in lines}


STARTING_LINES = starting_lines()


def as_file(table, rows):
    return write_table(TABLES[table], rows).encode()


def load(shop, **changed):
    """The starting catalogue, with some tables as given in rows or bytes."""
    files = starting_files()
    for table, rows in changed.items():
        files[f"{table}.csv"] = rows if isinstance(rows, bytes) else as_file(table, rows)
    return import_catalogue(shop=shop, files=files, by=None, now=NOON)


def alone(shop, table, rows):
    """One file by itself."""
    data = rows if isinstance(rows, bytes) else as_file(table, rows)
    return import_catalogue(shop=shop, files={f"{table}.csv": data}, by=None, now=NOON)


def everything(shop):
    """Every row of the shop's catalogue, its key included."""
    of_shop = {"matches": "standard__shop", "operations": "standard_remedy__shop"}
    of_shop["recipe_materials"] = "standard_remedy__shop"
    of_shop["stock_lengths"] = "material__shop"
    return {
        table: list(model.objects.filter(**{of_shop.get(table, "shop"): shop}).order_by("pk").values())
        for table, model in MODELS.items()
    }


def changed(table, number, **values):
    """The starting rows of a table with one of them changed."""
    rows = [dict(row) for row in STARTING_LINES[table]]
    rows[number] |= values
    return rows


EQUIPMENT_COLUMNS = (
    "blowers",
    "dehumidifiers",
    "heaters",
    "blower_area",
    "dehumidifier_area",
    "heater_area",
)


def without_columns(data, *names):
    """A file as one from before these columns were."""
    rows = list(csv.DictReader(io.StringIO(data.decode())))
    out = io.StringIO()
    writer = csv.DictWriter(out, [name for name in rows[0] if name not in names], extrasaction="ignore")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def line_of(table, column, name):
    return next(number for number, row in enumerate(STARTING_LINES[table]) if row[column] == name)


def use_of(name, **values):
    """The recipes' lines with the first that uses a material changed."""
    return changed("recipe_materials", line_of("recipe_materials", "material", name), **values)


def material(name, **values):
    return changed("materials", line_of("materials", "name", name), **values)


def raw(table, *lines):
    """A file's header, and lines as they are typed."""
    return ("\n".join([",".join(column.name for column in TABLES[table]), *lines]) + "\n").encode()


PRINTABLE = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=40).map(str.strip)
WORDS = PRINTABLE.filter(bool) | st.builds(
    lambda start, rest: start + rest.strip(), st.sampled_from("=+-@'＝"), PRINTABLE
)
MONEY = st.decimals(0, Decimal("99999999.99"), places=2)
HOURS = st.floats(0, 1440).map(abs)
SIXTEENTHS_MM = st.integers(7, 62_000).map(lambda number: number * 25.4 / 16)
SIZES_MM = st.none() | st.floats(10, 1e5) | SIXTEENTHS_MM.filter(lambda size_mm: size_mm >= 10)
AREAS_M2 = st.none() | st.floats(0.1, 1000) | st.integers(2, 900_000).map(lambda number: number * 0.0929 / 100)
AREAS_M2 = AREAS_M2.filter(lambda area_m2: area_m2 is None or 0.1 <= area_m2 <= 1000)
SHARES = st.floats(0, 0.5).map(abs)


class TestCells:
    @given(WORDS)
    def test_a_guarded_text_is_never_a_formula_and_reads_back_as_itself(self, words):
        assert not guarded(words).startswith(tuple("=+-@＝＋－＠"))
        assert unguarded(guarded(words)) == words

    @pytest.mark.parametrize("words", ["=1+1", "+49", "-2", "@SUM(A1)", "＝A1", "'=1", "''"])
    def test_what_a_spreadsheet_would_run_is_written_with_an_apostrophe(self, words):
        row = {column.name: "" for column in TABLES["remedies"]} | {"name": words, "words": "Done."}

        written = list(csv.reader(io.StringIO(write_table(TABLES["remedies"], [row]))))

        assert written[1][0] == f"'{words}"

    def test_a_text_that_merely_begins_with_an_apostrophe_is_read_as_it_is(self):
        assert unguarded("'tis done") == "'tis done"

    @given(
        st.lists(
            st.fixed_dictionaries(
                {
                    "name": WORDS,
                    "sold_unit": st.text(string.ascii_letters, min_size=1, max_size=20),
                    "takeoff": st.sampled_from(TakeOff.values),
                    "pack_quantity": st.floats(0, 1e6, exclude_min=True),
                    "pack_cost_usd": MONEY,
                    "tax_category": st.sampled_from(["parts", "labour", "sublet", "none"]),
                    "markup_pct": st.none() | st.decimals(0, Decimal("999.99"), places=2),
                    "width": SIZES_MM,
                    "length": SIZES_MM,
                    "kerf": st.none() | st.floats(0, 25).map(abs),
                    "is_cut_to_length": st.booleans(),
                    "coverage_rate": st.none() | st.floats(0, 1e6, exclude_min=True),
                    "coverage_unit": st.sampled_from(["", *COVERAGE_UNITS]),
                    "coverage_basis": st.sampled_from(["", *COVERAGE_BASES]),
                    "coverage_note": st.just("") | WORDS,
                    "origin": st.booleans(),
                }
            ),
            max_size=6,
        )
    )
    def test_any_materials_written_are_read_back_the_same(self, rows):
        lines, problems = parse_table("m", write_table(TABLES["materials"], rows), TABLES["materials"])

        assert problems == []
        assert [line.values for line in lines] == rows

    @given(st.sampled_from(sorted(TABLES)), st.data())
    def test_whatever_stands_in_a_file_is_read_or_refused_in_words(self, table, data):
        cell = st.text(max_size=12) | st.sampled_from(["1", "0.5", "yes", "labour", "each", "nan", "1e999", "-1", "١"])
        rows = data.draw(st.lists(st.lists(cell, max_size=len(TABLES[table])), max_size=4))
        out = io.StringIO()
        csv.writer(out).writerows([[column.name for column in TABLES[table]], *rows])

        lines, problems = parse_table(f"{table}.csv", out.getvalue(), TABLES[table])

        assert len(lines) <= len(rows)
        assert all(problem.reason and problem.line <= len(out.getvalue()) for problem in problems)

    @pytest.mark.parametrize(
        ("column", "cell", "reason"),
        [
            ("pack_quantity", "0", "above 0"),
            ("pack_quantity", "-3", "above 0"),
            ("pack_quantity", "many", "a number written like 1.5, got “many”"),
            ("pack_quantity", "1,5", "a number written like 1.5"),
            ("pack_quantity", "nan", "a number written like"),
            ("pack_quantity", "1e999", "must be above 0 and at most 1000000, got “1e999”"),
            ("pack_cost_usd", "-0.01", "at least 0"),
            ("pack_cost_usd", "1.234", "at most 2 decimal places"),
            ("pack_cost_usd", "1e3", "a number written like 12.50"),
            ("pack_cost_usd", "100000000", "at most 99999999.99"),
            ("width", "48", "needs its unit, such as 8 ft"),
            ("width", "-4 ft", "below zero"),
            ("width", "wide ft", "does not read as a length"),
            ("length", "1 mm", "must be 10 mm to 100000 mm"),
            ("length", "2,440 mm", "can be read two ways"),
            ("kerf", "2 in", "must be 0 in to 25 mm"),
            ("takeoff", "guess", "one of count, sheet, stick, roll, adhesive, sealant, fastener"),
            ("coverage_unit", "oz", "one of ft2/gal, m2/l, g/m2"),
            ("tax_category", "food", "one of parts, labour, sublet, none; got “food”"),
            ("markup_pct", "-1", "at least 0"),
            ("name", "", "must not be empty"),
            ("name", "x" * 81, "has 81 characters; at most 80 fit"),
            ("name", "two\nlines", "line break"),
            ("origin", "guessed", f"one of {PLANNING_VALUE}, our own"),
        ],
    )
    def test_a_bad_cell_is_named_by_file_line_and_column(self, column, cell, reason):
        good = dict(
            zip(
                [each.name for each in TABLES["materials"]],
                ["a", "b", "count", "1", "2.5", "parts", "", "", "", "", "no", "", "", "", "", "our own"],
                strict=True,
            )
        )
        out = io.StringIO()
        csv.writer(out).writerows([list(good), list(good.values()), list((good | {column: cell}).values())])

        lines, problems = parse_table("materials.csv", out.getvalue(), TABLES["materials"])

        assert [(each.file, each.line, each.column) for each in problems] == [("materials.csv", 3, column)]
        assert reason in problems[0].reason
        assert str(problems[0]).startswith(f"materials.csv, line 3, column {column}: ")
        assert column not in lines[1].values


class TestSizes:
    @pytest.mark.parametrize(
        ("cell", "size_mm", "written"),
        [
            ("8 ft", 2438.4, "8 ft"),
            ("8'", 2438.4, "8 ft"),
            ("48 in", 1219.2, "4 ft"),
            ("3 1/2 in", 88.9, "3 1/2 in"),
            ("1/8 in", 3.175, "1/8 in"),
            ("0 mm", 0.0, "0 in"),
            ("100 ft", 30480.0, "100 ft"),
            ("1220mm", 1220.0, "1220 mm"),
            ("1.22 m", 1220.0, "1220 mm"),
            ("6' 3\"", 1905.0, "75 in"),
            ("", None, ""),
        ],
    )
    def test_a_size_is_read_with_its_unit_and_written_the_way_a_shop_says_it(self, cell, size_mm, written):
        read = size(0, LONGEST_MM)

        assert read(cell) == size_mm
        assert write_size(size_mm) == written

    @given(st.floats(0.5, 1e5) | st.integers(1, 60_000).map(lambda number: number * 25.4 / 16))
    def test_any_size_written_is_read_back_to_the_last_bit(self, size_mm):
        assert size(0, 2e5)(write_size(size_mm)) == size_mm


class TestAreas:
    @pytest.mark.parametrize(
        ("cell", "area_m2", "written"),
        [
            ("50 ft2", 4.645152, "50 ft2"),
            ("50 sq ft", 4.645152, "50 ft2"),
            ("12.5 ft²", 1.161288, "12.5 ft2"),
            ("4.5 m2", 4.5, "4.5 m2"),
            ("1000m²", 1000.0, "1000 m2"),
            ("", None, ""),
        ],
    )
    def test_an_area_is_read_with_its_unit_and_written_the_way_a_shop_says_it(self, cell, area_m2, written):
        assert area(cell) == area_m2
        assert write_area(area_m2) == written

    @given(AREAS_M2)
    def test_any_area_written_is_read_back_to_the_last_bit(self, area_m2):
        assert area(write_area(area_m2)) == area_m2

    @pytest.mark.parametrize("cell", ["50", "ft2", "0 ft2", "-5 ft2", "0.5 ft2", "1001 m2", "1e3 m2", "50 in", "٥ m2"])
    def test_what_is_no_area_is_refused_in_words(self, cell):
        with pytest.raises(ValueError, match=r"such as 50 ft2 or 4\.5 m2|must be 1 ft2 to 1000 m2"):
            area(cell)


class TestFiles:
    COLUMNS = (Column("name", text(40)), Column("words", text(40)))

    def test_blank_lines_are_passed_over_and_lines_keep_their_numbers(self):
        lines, problems = parse_table("t", 'name,words\n\na,"x"\n,,\n b , y \n', self.COLUMNS)

        assert problems == []
        assert [(line.number, line.values["name"]) for line in lines] == [(3, "a"), (5, "b")]

    def test_a_cell_over_two_lines_is_refused_and_does_not_shift_the_numbers_behind_it(self):
        _, problems = parse_table("t", 'name,words\n"a\nb",x\nc,\n', self.COLUMNS)

        assert [(each.line, each.column) for each in problems] == [(2, "name"), (4, "words")]

    def test_columns_may_stand_in_any_order(self):
        lines, _ = parse_table("t", "words,name\nx,a\n", self.COLUMNS)

        assert lines[0].values == {"name": "a", "words": "x"}

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            ("", "the file is empty"),
            ("name\na\n", "column words: this column is missing"),
            ("name,words,price\n", "column price: there is no such column"),
            ("name,words,name\n", "column name: this column is there more than once"),
            ("name;words\na;b\n", "parted by commas"),
            ("name,words\na\n", "line 2: has 1 cells where the header has 2"),
            ('name,words\n"a,b\n', "does not read as CSV"),
            ("name,words\n" + "a,b\n" * (MOST_LINES + 1), f"at most {MOST_LINES}"),
            (f"name,words\n{'x' * 140_000},b\n", "does not read as CSV"),
        ],
    )
    def test_a_file_of_the_wrong_shape_is_refused_in_words(self, content, said):
        _, problems = parse_table("t", content, self.COLUMNS)

        assert len(problems) == 1
        assert said in str(problems[0])

    @pytest.mark.parametrize(
        ("data", "said"),
        [
            ("name\nÄste\n".encode("latin-1"), "not UTF-8 text (first at line 2)"),
            ("name\n".encode("utf-16"), "not UTF-8 text"),
            (b"name\0\n", "not a text file"),
            (b"x" * (MOST_BYTES + 1), "too big"),
        ],
    )
    def test_bytes_that_are_no_small_utf_8_text_are_refused(self, data, said):
        with pytest.raises(ValueError, match=r"UTF-8|text file|too big") as refusal:
            decode(data)

        assert said in str(refusal.value)

    def test_a_mark_of_utf_8_at_the_start_is_no_part_of_the_first_column(self):
        assert decode(b"\xef\xbb\xbfname\n") == "name\n"


BROKEN = [
    ("skills", changed("skills", 1, name="body"), 3, "name", "says the same name as line 2"),
    ("rates", STARTING_LINES["rates"] * 2, 3, "", "one line of rates"),
    ("materials", changed("materials", 1, name="Framing timber, planed"), 3, "name", "the same name as line 2"),
    ("operations", changed("operations", 1, skill="welding"), 3, "skill", "there is no skill “welding”"),
    ("operations", changed("operations", 0, skill=""), 2, "skill", "labour needs a skill"),
    ("operations", changed("operations", 2, skill="body"), 4, "skill", "names no skill"),
    ("operations", changed("operations", 0, is_drying=True), 2, "is_drying", "only a wait"),
    ("operations", changed("operations", 2, setup_hours=0.0), 4, "setup_hours", "takes no time"),
    (
        "operations",
        changed("operations", 0, remedy="Pray"),
        2,
        "remedy",
        "no remedy “Pray”, not in remedies.csv",
    ),
    (
        "operations",
        changed("operations", 0, basis="joint", extent="whole"),
        2,
        "extent",
        "joints are counted where the sticks are cut",
    ),
    (
        "recipe_materials",
        changed("recipe_materials", 0, basis="joint", extent="members"),
        2,
        "extent",
        "joints are counted where the sticks are cut",
    ),
    ("operations", changed("operations", 4, position=1), 6, "", "says the same remedy and position as line 5"),
    (
        "operations",
        changed("operations", 4, words="Take out wet insulation"),
        6,
        "",
        "the same remedy and words as line 5",
    ),
    ("matches", changed("matches", 0, kind=""), 2, "", "says nothing"),
    ("matches", changed("matches", 0, remedy="Pray"), 2, "remedy", "there is no remedy “Pray”"),
    ("recipe_materials", changed("recipe_materials", 0, material="Gold"), 2, "material", "there is no material “Gold”"),
    ("recipe_materials", changed("recipe_materials", 1, bead_depth_in=None), 3, "bead_depth_in", "one is missing"),
    (
        "recipe_materials",
        changed("recipe_materials", 1, basis="each"),
        3,
        "basis",
        "what is run in beads is counted by",
    ),
    (
        "recipe_materials",
        changed("recipe_materials", 0, lap=100.0),
        2,
        "lap",
        "what is counted has none; leave it empty",
    ),
    (
        "recipe_materials",
        use_of("Panel adhesive", faces=None),
        "Panel adhesive",
        "faces",
        "spread by coverage needs it",
    ),
    ("recipe_materials", use_of("Panel adhesive", basis="edge_ft"), "Panel adhesive", "basis", "counted by area_ft2"),
    ("recipe_materials", use_of("Screws, coated", spacing=None), "Screws, coated", "spacing", "by spacing needs it"),
    ("recipe_materials", use_of("Roof membrane", lap=50.0), "Roof membrane", "lap", "at least 3 in, the least weld"),
    ("recipe_materials", use_of("Skin sheet", per_unit=1.5), "Skin sheet", "per_unit", "whole times over, got 1.5"),
    ("recipe_materials", use_of("Roof edge trim", waste=0.1), "Roof edge trim", "waste", "counts its own offcuts"),
    ("materials", material("Plywood decking", width=None), "Plywood decking", "width", "laid in sheets needs it"),
    ("materials", material("Skin sheet", coverage_rate=9.0), "Skin sheet", "coverage_rate", "has none; leave it empty"),
    ("materials", material("Butyl tape", is_cut_to_length=True), "Butyl tape", "is_cut_to_length", "leave it no"),
    ("materials", material("Roof edge trim", pack_quantity=8.0), "Roof edge trim", "pack_quantity", "so this is 1"),
    ("materials", material("Panel adhesive", coverage_basis=""), "Panel adhesive", "coverage_basis", "needs it"),
    ("recipe_materials", use_of("Edge sealant", per_unit=11.0), "Edge sealant", "per_unit", "1 to 10 whole times over"),
    ("recipe_materials", use_of("Roof membrane", lap=400.0), "Roof membrane", "lap", "at most 300 mm"),
    ("materials", material("Roof edge trim", length=40_000.0), "Roof edge trim", "length", "at most 30 m long"),
    ("stock_lengths", changed("stock_lengths", 0, material="Butyl tape"), 2, "material", "only a stick is sold in"),
    ("stock_lengths", changed("stock_lengths", 1, length=3657.6), 3, "", "says the same material and length as line 2"),
    ("stock_lengths", changed("stock_lengths", 0, material="Gold"), 2, "material", "there is no material “Gold”"),
]


@pytest.mark.django_db
class TestImport:
    @pytest.mark.parametrize(("table", "rows", "line", "column", "reason"), BROKEN)
    def test_lines_that_do_not_fit_together_are_refused_and_nothing_is_stored(self, table, rows, line, column, reason):
        shop = ShopFactory()

        with pytest.raises(CatalogueRefused) as refusal:
            load(shop, **{table: rows})

        if isinstance(line, str):
            line = line_of(table, "name" if table == "materials" else "material", line) + 2
        found = [each for each in refusal.value.problems if each.file == f"{table}.csv"]
        assert (found[0].line, found[0].column) == (line, column)
        assert reason in found[0].reason
        assert not any(everything(shop).values())
        assert not CatalogueChange.objects.exists()

    def test_all_mistakes_of_all_files_are_named_at_once_in_the_files_order(self):
        with pytest.raises(CatalogueRefused) as refusal:
            load(
                ShopFactory(),
                operations=raw(
                    "operations", "Protect wires,1,sleep,x,labour,each,place,-1,0,body,1,no,yes,no,0,0,0,,,,,our own"
                ),
                rates=raw("rates", "118,52,30,100,no,invoice,our own"),
                skills="name\nKöche\n".encode("latin-1"),
            )

        said = [str(each) for each in refusal.value.problems]
        assert said[0].startswith("skills.csv: not UTF-8")
        assert said[1].startswith("rates.csv, line 2, column tax_rate_pct: must be at least 0 and below 100")
        assert any(each.startswith("operations.csv, line 2, column phase: must be one of open up") for each in said)
        assert any(each.startswith("operations.csv, line 2, column setup_hours: must be at least 0") for each in said)
        # Its file could not be read, so nobody is told that a skill is missing.
        assert not any("there is no skill" in each for each in said)

    def test_a_file_of_another_name_and_no_file_at_all_are_refused(self):
        shop = ShopFactory()

        for files in ({}, {"prices.csv": b"name\n"}):
            with pytest.raises(CatalogueRefused):
                import_catalogue(shop=shop, files=files, by=None, now=NOON)

    def test_exported_and_imported_again_nothing_changes(self):
        shop = ShopFactory()
        load(shop)
        before = everything(shop)

        files = {name: content.encode() for name, content in export_catalogue(shop).items()}
        changes = import_catalogue(shop=shop, files=files, by=None, now=NOON)

        assert (changes.new, changes.changed, changes.gone) == (0, 0, 0)
        assert changes.words == "Nothing changed"
        assert everything(shop) == before
        assert sum(map(len, before.values())) > 150

    @settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(st.data())
    def test_whatever_a_shop_sets_comes_back_unchanged_from_its_own_export(self, data):
        with transaction.atomic():
            shop = ShopFactory()
            load(shop)
            for material in shop.materials.all()[:3]:
                material.name = data.draw(WORDS)[:70] + f" {material.pk}"
                material.pack_quantity = data.draw(st.floats(0, 1e6, exclude_min=True))
                material.pack_cost_usd = data.draw(MONEY)
                material.markup_pct = data.draw(st.none() | st.decimals(0, Decimal("999.99"), places=2))
                material.is_planning_value = data.draw(st.booleans())
                material.save()
            for step in RecipeOperation.objects.filter(standard_remedy__shop=shop)[:3]:
                step.words = data.draw(WORDS)[:100] + f" {step.pk}"
                step.setup_hours = data.draw(st.floats(0.25, 1440))
                step.hours_per_unit = data.draw(HOURS)
                step.blowers, step.dehumidifiers, step.heaters = data.draw(st.tuples(*[st.integers(0, 40)] * 3))
                step.blower_area_m2, step.heater_area_m2 = data.draw(AREAS_M2), data.draw(AREAS_M2)
                step.save()
            item = RecipeMaterial.objects.filter(standard_remedy__shop=shop).first()
            item.waste = data.draw(SHARES)
            item.save()
            deck = shop.materials.get(name="Plywood decking")
            deck.width_mm, deck.length_mm = data.draw(SIZES_MM.filter(bool)), data.draw(SIZES_MM.filter(bool))
            deck.save()
            further = StockLength.objects.filter(material__shop=shop).first()
            further.length_mm, further.cost_usd = data.draw(st.floats(10, 3e4)), data.draw(MONEY)
            further.save()
            StandardRemedy.objects.filter(shop=shop, name="Protect wires").update(is_active=False)
            before = everything(shop)

            files = {name: content.encode() for name, content in export_catalogue(shop).items()}
            changes = import_catalogue(shop=shop, files=files, by=None, now=NOON)

            assert (changes.new, changes.changed, changes.gone) == (0, 0, 0)
            assert everything(shop) == before
            transaction.set_rollback(True)

    def test_a_file_from_before_equipment_was_kept_loads_as_it_did(self):
        shop = ShopFactory()
        load(shop)
        files = starting_files()
        files["operations.csv"] = without_columns(files["operations.csv"], *EQUIPMENT_COLUMNS)

        changes = import_catalogue(shop=shop, files=files, by=None, now=NOON)
        load_anew = ShopFactory()
        import_catalogue(shop=load_anew, files=files, by=None, now=NOON)

        assert changes.words == "Nothing changed", "what stands in the shop stays"
        steps = RecipeOperation.objects.filter(standard_remedy__shop=load_anew)
        assert steps.count() == len(STARTING_LINES["operations"])
        assert not steps.exclude(blowers=0, dehumidifiers=0, heaters=0).exists()
        assert not any(step.grows for step in steps)

    def test_a_file_without_the_areas_alone_loads_and_keeps_them_beside_what_it_changes(self):
        shop = ShopFactory()
        load(shop)
        number = line_of("operations", "words", "Dry the open space")
        rows = changed("operations", number, setup_hours=60.0, blowers=3)
        data = without_columns(as_file("operations", rows), *EQUIPMENT_COLUMNS[3:])

        changes = alone(shop, "operations", data)

        step = RecipeOperation.objects.get(
            standard_remedy__shop=shop, standard_remedy__name=rows[number]["remedy"], words="Dry the open space"
        )
        assert (changes.new, changes.changed, changes.gone) == (0, 1, 0)
        assert (step.setup_hours, step.blowers) == (60.0, 3)
        assert write_area(step.blower_area_m2) == "50 ft2"

    def test_any_other_column_that_is_missing_is_still_refused(self):
        data = without_columns(starting_files()["operations.csv"], "crew")

        with pytest.raises(CatalogueRefused, match=r"operations\.csv, line 1, column crew: this column is missing"):
            alone(ShopFactory(), "operations", data)

    def test_one_file_alone_changes_its_own_table_alone(self):
        shop = ShopFactory()
        load(shop)
        before = everything(shop)
        rows = changed("materials", 0, pack_cost_usd=Decimal("8.10"), origin=False)

        changes = alone(shop, "materials", rows)

        assert (changes.new, changes.changed, changes.gone) == (0, 1, 0)
        after = everything(shop)
        assert [table for table in after if after[table] != before[table]] == ["materials"]
        timber = shop.materials.get(name="Framing timber, planed")
        assert (timber.pack_cost_usd, timber.is_planning_value) == (Decimal("8.10"), False)

    def test_a_remedy_missing_from_its_file_goes_out_of_use_and_agreed_work_keeps_it(self):
        shop = ShopFactory()
        load(shop)
        dropped = shop.standard_remedies.get(name="Protect wires")
        agreed = RemedyFactory(finding=FindingFactory(job=JobFactory(shop=shop)), standard=dropped)
        steps = dropped.recipe_operations.count()

        alone(shop, "remedies", [row for row in STARTING_LINES["remedies"] if row["name"] != "Protect wires"])

        dropped.refresh_from_db()
        agreed.refresh_from_db()
        assert (dropped.is_active, agreed.standard) == (False, dropped)
        assert dropped.recipe_operations.count() == steps > 0
        assert "Protect wires" not in export_catalogue(shop)["remedies.csv"]

        alone(shop, "remedies", STARTING_LINES["remedies"])
        dropped.refresh_from_db()
        assert dropped.is_active

    def test_a_step_missing_from_its_file_leaves_its_recipe(self):
        shop = ShopFactory()
        load(shop)
        rows = [
            row for row in STARTING_LINES["operations"] if (row["remedy"], row["position"]) != ("Replace decking", 2)
        ]

        changes = alone(shop, "operations", rows)

        assert (changes.new, changes.changed, changes.gone) == (0, 0, 1)
        decking = shop.standard_remedies.get(name="Replace decking")
        assert [step.position for step in decking.recipe_operations.all()] == [1]

    def test_two_steps_of_a_remedy_may_change_places(self):
        shop = ShopFactory()
        load(shop)
        rows = [dict(row) for row in STARTING_LINES["operations"]]
        of_decking = [row for row in rows if row["remedy"] == "Replace decking"]
        of_decking[0]["position"], of_decking[1]["position"] = 2, 1

        changes = alone(shop, "operations", rows)

        steps = shop.standard_remedies.get(name="Replace decking").recipe_operations
        assert list(steps.values_list("position", "words")) == [
            (1, "Lay and fasten new decking"),
            (2, "Take up loose decking"),
        ]
        assert (changes.new, changes.changed, changes.gone) == (0, 2, 0)

    @pytest.mark.parametrize(
        ("table", "rows", "reason"),
        [
            ("remedies", [], "take all 26 out of use"),
            ("materials", [], "take all 20 out of use"),
            ("materials", STARTING_LINES["materials"][1:], "takes “Framing timber, planed”, which would be out of use"),
            (
                "operations",
                changed("operations", 0, basis="joint", hours_per_unit=1.0),
                "“Open up and inspect” has no operation whatever its size",
            ),
            ("operations", STARTING_LINES["operations"][1:], "“Open up and inspect” has no operation"),
            (
                "remedies",
                [*STARTING_LINES["remedies"], STARTING_LINES["remedies"][0] | {"name": "New"}],
                "“New” has no operation",
            ),
        ],
    )
    def test_a_file_that_would_leave_a_remedy_without_work_or_material_is_refused(self, table, rows, reason):
        shop = ShopFactory()
        load(shop)
        before = everything(shop)

        with pytest.raises(CatalogueRefused, match=reason):
            alone(shop, table, rows)

        assert everything(shop) == before

    @pytest.mark.parametrize(
        ("name", "values", "reason"),
        [
            (
                "Plywood decking",
                {"takeoff": "count", "width": None, "length": None},
                "uses it otherwise (laid: what is counted has none; leave it empty)",
            ),
            (
                "Framing timber, planed",
                {"takeoff": "count", "length": None, "kerf": None},
                "lengths of it are in stock_lengths.csv",
            ),
        ],
    )
    def test_a_material_taken_off_another_way_than_stored_recipes_use_it_is_refused(self, name, values, reason):
        shop = ShopFactory()
        load(shop)
        before = everything(shop)

        with pytest.raises(CatalogueRefused) as refusal:
            alone(shop, "materials", material(name, **values))

        assert any(reason in str(each) and each.column == "takeoff" for each in refusal.value.problems)
        assert everything(shop) == before

    def test_a_length_missing_from_its_file_is_no_longer_sold(self):
        shop = ShopFactory()
        load(shop)

        changes = alone(shop, "stock_lengths", STARTING_LINES["stock_lengths"][1:])

        assert (changes.new, changes.changed, changes.gone) == (0, 0, 1)
        assert [each.length_mm for each in StockLength.objects.all()] == [16 * 304.8]

    def test_the_same_names_in_another_shop_are_another_shops(self):
        shop, other = ShopFactory(), ShopFactory()
        load(shop)
        load(other)
        before = everything(other)

        alone(shop, "materials", changed("materials", 0, pack_cost_usd=Decimal("9.99")))

        assert everything(other) == before

    def test_who_imported_and_when_is_kept(self):
        manager = PersonFactory(manager=True)

        import_catalogue(shop=manager.shop, files=starting_files(), by=manager, now=NOON)

        change = CatalogueChange.objects.get()
        assert (change.shop, change.person, change.at) == (manager.shop, manager, NOON)
        assert "new, 0 changed, 0 taken out" in change.words

    def test_the_whole_starting_catalogue_takes_few_queries(self, django_assert_max_num_queries):
        shop = ShopFactory()

        with django_assert_max_num_queries(36):
            load(shop)


SENSIBLE = [
    ("wet_insulation", "wait_for_dry", "insulation"),
    ("wet_insulation", "rotted", "insulation"),
    ("wet_insulation", "sound", "inner_panel"),
    ("stained_framing", "wait_for_dry", "wall_framing"),
    ("stained_framing", "stained_sound", "wall_framing"),
    ("stained_framing", "soft", "roof_framing"),
    ("stained_framing", "rotted", "floor_framing"),
    ("rotten_framing", "wait_for_dry", "roof_framing"),
    ("rotten_framing", "stained_sound", ""),
    ("rotten_framing", "soft", "roof_framing"),
    ("rotten_framing", "soft", "sill"),
    ("rotten_framing", "rotted", "roof_framing"),
    ("rotten_framing", "rotted", ""),
    ("loose_decking", "wait_for_dry", "roof_decking"),
    ("loose_decking", "soft", "floor_decking"),
    ("loose_decking", "rotted", "roof_decking"),
    ("loose_decking", "loose", "floor_decking"),
    ("loose_skin", "wait_for_dry", "skin"),
    ("loose_skin", "loose", "skin"),
    ("failed_seal", "open", "skin"),
    ("exposed_wire", "exposed", "wiring"),
    ("mould", "wait_for_dry", "inner_panel"),
    ("mould", "stained_sound", "wall_framing"),
    ("mould", "rotted", "inner_panel"),
    ("corrosion", "sound", "other"),
    ("corrosion", "exposed", "wiring"),
    ("other", "wait_for_dry", "other"),
]


class TestStartingCatalogue:
    def test_every_figure_is_labelled_as_a_planning_value(self):
        for table in ("rates", "materials", "stock_lengths", "operations", "recipe_materials"):
            assert STARTING_LINES[table]
            assert all(row["origin"] is True for row in STARTING_LINES[table])
            assert starting_files()[f"{table}.csv"].decode().count(PLANNING_VALUE) == len(STARTING_LINES[table])

    def test_every_remedy_says_what_to_heed_what_stays_and_what_is_covered(self):
        remedies = STARTING_LINES["remedies"]

        assert 15 <= len(remedies) <= 30
        assert [row["name"] for row in remedies if not (row["caution"] and row["keeps"] and row["warranty"])] == []

    @pytest.mark.parametrize(
        ("stems", "words"),
        [
            (("mould",), ("label", "licensed")),
            (("solvent",), ("label",)),
            (("gas ",), ("licensed", "close", "valve")),
            (("shore power",), ("licensed",)),
            (("prop the roof",), ("engineer",)),
        ],
    )
    def test_a_caution_defers_to_label_code_or_licensed_trade(self, stems, words):
        cautions = [row["caution"].lower() for row in STARTING_LINES["remedies"]]
        touching = [each for each in cautions if any(stem in each for stem in stems)]

        assert touching
        assert [each for each in touching if not any(word in each for word in words)] == []

    def test_its_words_for_the_owner_read_easily(self):
        grades = {
            row["name"]: textstat.flesch_kincaid_grade(f"{row['words']} {row['keeps']} {row['warranty']}")
            for row in STARTING_LINES["remedies"]
        }

        assert {name: grade for name, grade in grades.items() if grade > 8} == {}

    def test_what_dries_holds_equipment_and_nothing_blows_where_mould_was(self):
        """No blower on visible mould, as the drying page cautions (jobs/calc/moisture/sizing.py)."""
        holding = {
            (line["remedy"], line["words"]): line["blowers"] + line["dehumidifiers"] + line["heaters"]
            for line in STARTING_LINES["operations"]
        }
        drying = {(line["remedy"], line["words"]) for line in STARTING_LINES["operations"] if line["is_drying"]}

        assert {key for key, count in holding.items() if count} == drying
        mould = [line for line in STARTING_LINES["operations"] if "mould" in line["remedy"]]
        assert len(mould) == 2
        assert not any(line["blowers"] for line in mould)

    def test_no_material_is_left_over(self):
        used = {row["material"] for row in STARTING_LINES["recipe_materials"]}

        assert {row["name"] for row in STARTING_LINES["materials"]} == used

    def test_every_kind_of_finding_is_among_the_sensible_cases(self):
        assert {kind for kind, _, _ in SENSIBLE} == set(FindingKind.values)
        assert {"wait_for_dry", "soft", "rotted", "loose", "exposed"} <= {verdict for _, verdict, _ in SENSIBLE}

    @pytest.mark.django_db
    def test_every_sensible_case_has_a_remedy_that_fits(self):
        shop = ShopFactory()
        load(shop)
        job = JobFactory(shop=shop)

        without = [
            case
            for case in SENSIBLE
            if not fitting_remedies(FindingFactory(job=job, kind=case[0], verdict=case[1], member=case[2]))
        ]

        assert without == []

    @pytest.mark.django_db
    def test_wood_that_waits_for_dry_is_offered_drying_before_cutting(self):
        shop = ShopFactory()
        load(shop)

        fitting = fitting_remedies(
            FindingFactory(job=JobFactory(shop=shop), kind="rotten_framing", verdict="wait_for_dry")
        )

        assert [remedy.name for remedy in fitting] == ["Dry the open area and probe again"]

    @pytest.mark.parametrize("kind", ["stained_framing", "rotten_framing", "loose_decking", "loose_skin"])
    def test_nothing_that_carries_is_mended_before_its_state_is_known(self, kind):
        verdicts = [row["verdict"] for row in STARTING_LINES["matches"] if row["kind"] == kind]

        assert verdicts
        assert {"", "open"}.isdisjoint(verdicts)

    @pytest.mark.django_db
    @pytest.mark.parametrize(
        ("kind", "verdict", "names"),
        [
            ("stained_framing", "open", []),
            ("stained_framing", "wait_for_dry", ["Dry the open area and probe again"]),
            ("stained_framing", "stained_sound", ["Dry and treat stained framing"]),
            ("stained_framing", "soft", ["Strengthen soft framing"]),
            ("stained_framing", "rotted", ["Cut out and splice framing"]),
            ("loose_decking", "open", []),
            ("loose_decking", "sound", []),
            ("loose_decking", "wait_for_dry", ["Dry the open area and probe again"]),
            ("loose_decking", "loose", ["Screw and bond loose decking", "Replace decking"]),
            ("loose_decking", "rotted", ["Renew deck to the nearest members", "Replace decking"]),
            ("loose_skin", "open", []),
            ("failed_seal", "exposed", ["Renew the edge seal", "Reset the roof edge trim"]),
        ],
    )
    def test_what_fits_goes_by_the_verdict_and_takes_the_least_away_first(self, kind, verdict, names):
        shop = ShopFactory()
        load(shop)

        fitting = fitting_remedies(FindingFactory(job=JobFactory(shop=shop), kind=kind, verdict=verdict))

        assert [remedy.name for remedy in fitting] == names


def test_every_table_has_a_file_a_key_and_a_model():
    assert set(FILES.values()) == set(TABLES) == set(KEYS) == set(MODELS)


def test_a_line_with_an_unreadable_cell_does_not_break_the_rules_between_lines():
    lines = {table: [Line(2, {})] for table in TABLES}

    assert find_problems(lines, Standing()) == []
