"""One remedy or material of the catalogue with all that hangs on it, taken over by the rules of the files."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from estimates.calc.catalogue_rules import find_problems
from estimates.calc.csv_table import Line, Problem, read_cells, unguarded
from estimates.catalogue_tables import TABLES
from estimates.models import CatalogueChange
from estimates.services.catalogue import (
    STORES,
    CatalogueRefused,
    Changes,
    catalogue_rows,
    row_values,
    standing_of,
)
from jobs.errors import JobError, Stale
from jobs.models import Person, Shop

# What the lines that hang on it call it, and what it is called in words.
HEADS = {"remedies": ("remedy", "Remedy"), "materials": ("material", "Material")}
NAME_TAKEN = "there is one of this name already"
Cells = Mapping[str, str]


def parts_of(head: str) -> list[str]:
    """The tables whose lines hang on one row of this table: their first column names it."""
    return [table for table, columns in TABLES.items() if columns[0].name == HEADS[head][0]]


def columns_in(table: str, head: str) -> list[str]:
    """The columns that are written by hand: what a line hangs on is known from its page."""
    return [column.name for column in TABLES[table] if table == head or column.name != HEADS[head][0]]


def catalogue_version(shop: Shop) -> int:
    """Which change of the shop's catalogue was the last; 0 before any."""
    last = CatalogueChange.objects.filter(shop=shop).order_by("pk").last()
    return last.pk if last else 0


def read_cells_of(shop: Shop, head: str, name: str, *, pk: int) -> dict[str, list[dict[str, str]]]:
    """The cells of one remedy or material and of all lines that hang on it, by table, as they would be typed."""
    rows = catalogue_rows(shop, also_remedy=pk if head == "remedies" else None)
    found = {}
    for table in [head, *parts_of(head)]:
        key = "name" if table == head else HEADS[head][0]
        columns = {column.name: column for column in TABLES[table]}
        values = [row_values(row, TABLES[table]) for row in rows[table]]
        found[table] = [
            {column: unguarded(columns[column].write(each[column])) for column in columns_in(table, head)}
            for each in values
            if each[key] == name
        ]
    return found


@transaction.atomic
def save_row(
    *,
    shop: Shop,
    head: str,
    name: str,
    cells: Mapping[str, Sequence[Cells]],
    seen: int,
    by: Person,
    now: datetime,
) -> Changes:
    """Take over one remedy or material with all lines that hang on it, or, with any mistake, nothing.

    name: the one that is changed, empty for a new one. cells: by table as they were typed; lines that are left out go.
    seen: `catalogue_version` as it was on the screen. Rules, storing and record are those of the files; offers and
    revisions hold their own content and never change. Another name renames the row: what hangs on it follows, and only
    the record of hours, which is kept by names, begins anew.
    Raises Stale if the catalogue changed since, CatalogueRefused with every mistake, by table and number of the line.
    """
    _hold(shop, seen)
    lines, problems = _typed(head, cells)
    own = next((str(line.values["name"]) for line in lines[head] if "name" in line.values), "")
    what = f"{HEADS[head][1]} “{own}”"
    if name and own and own != name:
        if _rename(shop, head, name, own):
            what, name = f"{HEADS[head][1]} “{name}” is “{own}” now", own
        else:
            raise CatalogueRefused([*problems, Problem(f"{head}.csv", 1, "name", NAME_TAKEN)])
    standing = standing_of(shop)
    whole = {table: [*_others(shop, table, head, name), *each] for table, each in lines.items()}
    if own != name and own in (standing.remedies if head == "remedies" else standing.materials):
        problems.append(Problem(f"{head}.csv", 1, "name", NAME_TAKEN))
    else:
        problems += find_problems(whole, standing, [] if own else [head])
    if problems:
        raise CatalogueRefused(problems)
    return _store(shop, whole, what, by=by, now=now)


@transaction.atomic
def retire_row(*, shop: Shop, head: str, name: str, seen: int, by: Person, now: datetime) -> Changes:
    """Take one remedy or material out of use. It is kept for the work agreed with it, and can come back.

    Raises Stale as save_row does, JobError in words where the rest of the catalogue needs it.
    """
    _hold(shop, seen)
    lines = {head: _others(shop, head, head, name)}
    if problems := find_problems(lines, standing_of(shop)):
        raise JobError(" ".join(f"{problem.reason}." for problem in problems).capitalize())
    return _store(shop, lines, f"{HEADS[head][1]} “{name}” out of use", by=by, now=now)


def _rename(shop: Shop, head: str, before: str, after: str) -> bool:
    """Give the row its new name, unless another has it, in use or out of it. Runs inside the caller's transaction."""
    rows = shop.standard_remedies if head == "remedies" else shop.materials
    if rows.filter(name=after).exists():
        return False
    rows.filter(name=before).update(name=after)
    return True


def _hold(shop: Shop, seen: int) -> None:
    Shop.objects.select_for_update().get(pk=shop.pk)
    if catalogue_version(shop) != seen:
        raise Stale(
            "The catalogue changed after you opened this page. This is how it stands now; make your change again."
        )


def _typed(head: str, cells: Mapping[str, Sequence[Cells]]) -> tuple[dict[str, list[Line]], list[Problem]]:
    """The lines of the page with their numbers in it, each naming what it hangs on, and what cannot be read."""
    lines: dict[str, list[Line]] = {}
    problems: list[Problem] = []
    hangs_on: dict[str, str] = {}
    for table in [head, *parts_of(head)]:
        names = columns_in(table, head)
        columns = [column for column in TABLES[table] if column.name in names]
        lines[table] = []
        for number, row in enumerate(cells.get(table, ()), start=1):
            typed = [" ".join(row.get(column.name, "").split()) for column in columns]
            values, wrong = read_cells(f"{table}.csv", number, columns, typed)
            problems += wrong
            lines[table].append(Line(number, hangs_on | values))
        if table == head and lines[head] and "name" in lines[head][0].values:
            hangs_on = {HEADS[head][0]: lines[head][0].values["name"]}
    return lines, problems


def _others(shop: Shop, table: str, head: str, name: str) -> list[Line]:
    """The lines of a table that stay as they are. They have no place on the page, so their number is 0."""
    key = "name" if table == head else HEADS[head][0]
    values = (row_values(row, TABLES[table]) for row in catalogue_rows(shop)[table])
    return [Line(0, each) for each in values if each[key] != name]


def _store(shop: Shop, lines: Mapping[str, Sequence[Line]], what: str, *, by: Person, now: datetime) -> Changes:
    changes = Changes()
    for table, store in STORES.items():
        if table in lines:
            store(shop, [line.values for line in lines[table]], changes)
    words = f"{what}: {changes.words}"
    CatalogueChange.objects.create(shop=shop, person=by, at=now, words=words[:300])
    return changes
