"""The shop's catalogue as files: what comes in whole or not at all, and what goes out to come in again unchanged."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet

from estimates.calc.catalogue_rules import KEYS, Lines, Standing, find_problems
from estimates.calc.csv_table import Column, Line, Problem, decode, parse_table, write_table
from estimates.calc.takeoff_rules import JOINT
from estimates.catalogue_tables import FILES, TABLES, field_of
from estimates.models import CatalogueChange, Material, Rates, RecipeMaterial, RecipeOperation, StockLength
from jobs.errors import JobError
from jobs.models import Person, RemedyMatch, Shop, Skill, StandardRemedy

STARTING = Path(__file__).resolve().parents[1] / "starting"


class CatalogueRefused(JobError):
    """The files hold mistakes, all of them in `problems`; nothing was stored."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


@dataclass
class Changes:
    """How many rows an import made, changed, and took out of use or out of their recipe."""

    new: int = 0
    changed: int = 0
    gone: int = 0

    @property
    def words(self) -> str:
        if not (self.new or self.changed or self.gone):
            return "Nothing changed"
        return f"{self.new} new, {self.changed} changed, {self.gone} taken out"


def starting_files() -> dict[str, bytes]:
    """The catalogue that comes with the program, by file name. Every figure in it is a planning value."""
    return {name: (STARTING / name).read_bytes() for name in FILES}


def read_catalogue(files: Mapping[str, bytes], standing: Standing) -> tuple[Lines, list[Problem]]:
    """Every line of the files, and every problem in them by file and line. Writes nothing."""
    lines: dict[str, list[Line]] = {}
    problems = []
    unreadable = set()
    for file, data in files.items():
        table = FILES.get(file)
        if table is None:
            problems.append(Problem(file, 0, "", f"not a file of the catalogue; those are {', '.join(FILES)}"))
            continue
        try:
            lines[table], wrong = parse_table(file, decode(data), TABLES[table])
        except ValueError as error:
            wrong = [Problem(file, 0, "", str(error))]
        problems.extend(wrong)
        if any(problem.column in {"", "name"} or problem.line <= 1 for problem in wrong):
            unreadable.add(table)
    if not files:
        problems.append(Problem("catalogue", 0, "", "no file came"))
    problems.extend(find_problems(lines, standing, unreadable))
    order = {file: place for place, file in enumerate(FILES)}
    return lines, sorted(problems, key=lambda each: (order.get(each.file, -1), each.line))


@transaction.atomic
def import_catalogue(*, shop: Shop, files: Mapping[str, bytes], by: Person | None, now: datetime) -> Changes:
    """Take over the files of a catalogue (any of FILES), all of them or, with any mistake, none.

    Rows are known by their names (KEYS). Remedies and materials that their file does not name go out of use and are
    kept; operations, materials and matches of a recipe follow their file. A table whose file did not come stays as it
    is, and so do recipes of remedies out of use. Agreed work, offers and revisions hold their own content and never
    change. by: None when the program loads its own. Raises CatalogueRefused with every problem found.
    """
    Shop.objects.select_for_update().get(pk=shop.pk)
    lines, problems = read_catalogue(files, standing_of(shop))
    if problems:
        raise CatalogueRefused(problems)
    changes = Changes()
    rows = {table: [line.values for line in lines[table]] for table in lines}
    for table, store in STORES.items():
        if table in rows:
            store(shop, rows[table], changes)
    CatalogueChange.objects.create(
        shop=shop, person=by, at=now, words=f"{changes.words}, from {', '.join(sorted(files))}"[:300]
    )
    return changes


@transaction.atomic
def load_starting(*, shop: Shop, by: Person, now: datetime) -> Changes:
    """Load the catalogue that comes with the program into a shop without remedies. Raises JobError where there are."""
    Shop.objects.select_for_update().get(pk=shop.pk)
    if shop.standard_remedies.exists():
        raise JobError("This shop has remedies already. Load files to change them.")
    return import_catalogue(shop=shop, files=starting_files(), by=by, now=now)


def export_catalogue(shop: Shop) -> dict[str, str]:
    """What is in use, as CSV text by file name; imported again, it changes nothing.

    That holds for text without spaces at its ends, as every form and import stores it.
    """
    rows = catalogue_rows(shop)
    return {
        file: write_table(TABLES[table], [row_values(row, TABLES[table]) for row in rows[table]])
        for file, table in FILES.items()
    }


def catalogue_rows(shop: Shop, *, also_remedy: int | None = None) -> dict[str, Iterable[Any]]:
    """The rows in use by table, in the order of their files; with one remedy more that is out of use, if asked."""
    remedies = StandardRemedy.objects.filter(Q(is_active=True) | Q(pk=also_remedy), shop=shop)
    of_recipe = {"standard_remedy__in": remedies}
    steps = RecipeOperation.objects.filter(**of_recipe).select_related("standard_remedy", "skill")
    stuff = RecipeMaterial.objects.filter(**of_recipe).select_related("standard_remedy", "material")
    matches = RemedyMatch.objects.filter(standard__in=remedies).select_related("standard")
    return {
        "skills": shop.skills.order_by("pk"),
        "rates": Rates.objects.filter(shop=shop),
        "materials": Material.objects.filter(
            Q(is_active=True) | Q(pk__in=stuff.values("material")), shop=shop
        ).order_by("pk"),
        "stock_lengths": _lengths_in_use(shop).order_by("material__pk", "length_mm"),
        "remedies": remedies.order_by("pk"),
        "matches": matches.order_by("standard__pk", "pk"),
        "operations": steps.order_by("standard_remedy__pk", "position"),
        "recipe_materials": stuff.order_by("standard_remedy__pk", "pk"),
    }


@transaction.atomic
def set_rates(*, shop: Shop, values: Mapping[str, Any], by: Person, now: datetime) -> Rates:
    """Set the shop's rates; from then on they are its own. Offers and revisions do not change.

    A later revision keeps the prices of lines agreed before; its tax is worked out at the rate of its day.

    values: labour_usd_per_hour, labour_cost_usd_per_hour (None: not said), material_markup_pct, tax_rate_pct (Decimal),
    is_labour_taxed, tax_basis; checked by the form, and by the database's constraints after it.
    """
    rates, _ = Rates.objects.update_or_create(shop=shop, defaults={**values, "is_planning_value": False})
    said = f"Rates set: {rates.labour_usd_per_hour} USD an hour, {rates.material_markup_pct} % on material"
    CatalogueChange.objects.create(shop=shop, person=by, at=now, words=f"{said}, {rates.tax_rate_pct} % tax")
    return rates


def standing_of(shop: Shop) -> Standing:
    """What the shop has already, as the rules of a catalogue measure new lines against it."""
    stuff = RecipeMaterial.objects.filter(standard_remedy__shop=shop)
    steps = RecipeOperation.objects.filter(standard_remedy__shop=shop)
    return Standing(
        skills=frozenset(shop.skills.values_list("name", flat=True)),
        materials=frozenset(shop.materials.filter(is_active=True).values_list("name", flat=True)),
        remedies=frozenset(shop.standard_remedies.filter(is_active=True).values_list("name", flat=True)),
        worked=frozenset(steps.exclude(basis=JOINT).values_list("standard_remedy__name", flat=True)),
        uses=frozenset(stuff.values_list("standard_remedy__name", "material__name")),
        stuff=tuple(
            row_values(row, TABLES["recipe_materials"]) for row in stuff.select_related("standard_remedy", "material")
        ),
        kinds=dict(shop.materials.filter(is_active=True).values_list("name", "takeoff")),
        with_lengths=frozenset(_lengths_in_use(shop).values_list("material__name", flat=True)),
    )


def _store_skills(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    """Skills are only added: people and agreed work name those that are there."""
    stored = {skill.name: skill for skill in shop.skills.all()}
    _put(Skill, stored, {row["name"]: {"shop_id": shop.pk, **row} for row in rows}, changes)


def _store_rates(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    stored = {rates.shop_id: rates for rates in Rates.objects.filter(shop=shop)}
    wanted = [(shop.pk, {"shop_id": shop.pk, **_fields(row)}) for row in rows]
    _put(Rates, stored, dict(wanted), changes)


def _store_materials(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    _store_named(Material, shop, rows, changes)


def _lengths_in_use(shop: Shop) -> QuerySet[StockLength]:
    """Further lengths of the materials in use."""
    return StockLength.objects.filter(material__shop=shop, material__is_active=True).select_related("material")


def _store_stock_lengths(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    materials = dict(shop.materials.filter(is_active=True).values_list("name", "pk"))
    wanted = {}
    for row in rows:
        fields = _fields(row)
        material_id = materials[fields.pop("material")]
        wanted[material_id, fields["length_mm"]] = {"material_id": material_id, **fields}
    stored = {(each.material_id, each.length_mm): each for each in _lengths_in_use(shop)}
    _replace(StockLength, stored, wanted, changes)


def _store_remedies(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    _store_named(StandardRemedy, shop, rows, changes)


def _store_named(
    model: type[Material] | type[StandardRemedy], shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes
) -> None:
    """Rows that go out of use when their file does not name them, and come back when it does."""
    stored = {row.name: row for row in model._default_manager.filter(shop=shop)}
    wanted = {row["name"]: {"shop_id": shop.pk, "is_active": True, **_fields(row)} for row in rows}
    out = [row.pk for name, row in stored.items() if name not in wanted and row.is_active]
    changes.gone += model._default_manager.filter(pk__in=out).update(is_active=False)
    _put(model, stored, wanted, changes)


def _store_matches(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    remedies = _remedies(shop)
    wanted = {}
    for row in rows:
        fields = {name: value for name, value in row.items() if name != "remedy"}
        key = (remedies[row["remedy"]], *(row[name] for name in KEYS["matches"][1:]))
        wanted[key] = {"standard_id": key[0], **fields}
    stored = {
        (match.standard_id, match.kind, match.verdict, match.member, match.face): match
        for match in RemedyMatch.objects.filter(standard__in=remedies.values())
    }
    _replace(RemedyMatch, stored, wanted, changes)


def _store_operations(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    remedies = _remedies(shop)
    skills = dict(shop.skills.values_list("name", "pk"))
    wanted = {}
    for row in rows:
        fields = _fields(row)
        remedy_id, skill = remedies[fields.pop("remedy")], fields.pop("skill")
        skill_id = skills[skill] if skill else None
        wanted[remedy_id, row["position"]] = {"standard_remedy_id": remedy_id, "skill_id": skill_id, **fields}
    steps = RecipeOperation.objects.filter(standard_remedy__in=remedies.values())
    stored = {(step.standard_remedy_id, step.position): step for step in steps}
    _fill_in(wanted, list(stored.values()))
    _replace(RecipeOperation, _make_anew(stored, wanted, changes), wanted, changes)


def _fill_in(wanted: Mapping[Any, dict[str, Any]], steps: Sequence[RecipeOperation]) -> None:
    """Where a file came without a column that may be missing, steps keep what they have; known by their words."""
    known = {(step.standard_remedy_id, step.words): step for step in steps}
    names = [field_of(column.name) for column in TABLES["operations"] if column.may_be_missing]
    for fields in wanted.values():
        step = known.get((fields["standard_remedy_id"], fields["words"]))
        if step:
            fields.update({name: getattr(step, name) for name in names if name not in fields})


def _store_recipe_materials(shop: Shop, rows: Sequence[dict[str, Any]], changes: Changes) -> None:
    remedies = _remedies(shop)
    materials = dict(shop.materials.values_list("name", "pk"))
    wanted = {}
    for row in rows:
        fields = _fields(row)
        key = (remedies[fields.pop("remedy")], materials[fields.pop("material")])
        wanted[key] = {"standard_remedy_id": key[0], "material_id": key[1], **fields}
    stuff = RecipeMaterial.objects.filter(standard_remedy__in=remedies.values())
    stored = {(item.standard_remedy_id, item.material_id): item for item in stuff}
    _replace(RecipeMaterial, stored, wanted, changes)


# In the order that each finds what it refers to.
STORES = {
    "skills": _store_skills,
    "rates": _store_rates,
    "materials": _store_materials,
    "stock_lengths": _store_stock_lengths,
    "remedies": _store_remedies,
    "matches": _store_matches,
    "operations": _store_operations,
    "recipe_materials": _store_recipe_materials,
}


def _remedies(shop: Shop) -> dict[str, int]:
    return dict(shop.standard_remedies.filter(is_active=True).values_list("name", "pk"))


def _fields(row: dict[str, Any]) -> dict[str, Any]:
    """A line's values by field name: its origin is the flag of a planning value, a size a field in millimetres."""
    fields = {field_of(name): value for name, value in row.items()}
    if "origin" in fields:
        fields["is_planning_value"] = fields.pop("origin")
    return fields


def _put(model: Any, stored: Mapping[Any, Any], wanted: Mapping[Any, dict[str, Any]], changes: Changes) -> None:
    """Make the rows that are new, in the files' order, and change those that differ."""
    new, changed = [], []
    names: set[str] = set()
    for key, fields in wanted.items():
        row = stored.get(key)
        if row is None:
            new.append(model(**fields))
        elif different := {name: value for name, value in fields.items() if getattr(row, name) != value}:
            for name, value in different.items():
                setattr(row, name, value)
            names.update(different)
            changed.append(row)
    model.objects.bulk_create(new)
    if changed:
        model.objects.bulk_update(changed, sorted(name.removesuffix("_id") for name in names))
    changes.new += len(new)
    changes.changed += len(changed)


def _replace(model: Any, stored: Mapping[Any, Any], wanted: Mapping[Any, dict[str, Any]], changes: Changes) -> None:
    """The same, for rows that nothing else points at: what is not wanted any more goes."""
    gone = [row.pk for key, row in stored.items() if key not in wanted]
    model.objects.filter(pk__in=gone).delete()
    changes.gone += len(gone)
    _put(model, stored, wanted, changes)


def _make_anew(
    stored: Mapping[Any, RecipeOperation], wanted: Mapping[Any, dict[str, Any]], changes: Changes
) -> dict[Any, RecipeOperation]:
    """Take the steps that differ away, to be made again: two that change places would meet each other's words.

    Nothing points at a step; finished work finds it by its words. Returns the steps that stay.
    """
    differ = {
        key: row
        for key, row in stored.items()
        if key in wanted and any(getattr(row, name) != value for name, value in wanted[key].items())
    }
    RecipeOperation.objects.filter(pk__in=[row.pk for row in differ.values()]).delete()
    changes.changed += len(differ)
    changes.new -= len(differ)
    return {key: row for key, row in stored.items() if key not in differ}


def row_values(row: Any, columns: Sequence[Column]) -> dict[str, Any]:
    """A stored row by the columns of its file."""
    return {column.name: _cell(row, column.name) for column in columns}


def _cell(row: Any, name: str) -> Any:
    if name == "origin":
        return row.is_planning_value
    if name == "remedy":
        return (row.standard if isinstance(row, RemedyMatch) else row.standard_remedy).name
    value = getattr(row, field_of(name))
    return value.name if isinstance(value, Skill | Material) else value
