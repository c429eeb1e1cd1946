"""The page of one remedy or material, drawn from the columns of the catalogue's files: a new column follows by itself.

The fields hold cells as they would stand in a file. What they may hold is checked in one place, by the service.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import FieldDoesNotExist
from django.db import models

from estimates.calc.csv_table import Column, Problem
from estimates.catalogue_page import COVERAGE_WORDS
from estimates.catalogue_tables import OWN_VALUE, TABLES, field_of
from estimates.models import Material, RecipeMaterial, RecipeOperation, StockLength
from estimates.services.catalogue_rows import columns_in, parts_of
from jobs.models import RemedyMatch, Shop, StandardRemedy

MODELS: dict[str, type[models.Model]] = {
    "materials": Material,
    "stock_lengths": StockLength,
    "remedies": StandardRemedy,
    "matches": RemedyMatch,
    "operations": RecipeOperation,
    "recipe_materials": RecipeMaterial,
}
TITLES = {
    "stock_lengths": ("Further lengths it is sold in", "length"),
    "matches": ("Where it fits", "place"),
    "operations": ("Operations", "operation"),
    "recipe_materials": ("Material", "material"),
}
LABELS = {
    "words": "In words",
    "keeps": "What stays",
    "origin": "Whose figures",
    "is_in_one_shift": "Must stay in one shift",
    "needs_bay": "Needs the bay",
    "is_drying": "Ends when it is dry",
    "blowers": "Blowers it holds at least",
    "dehumidifiers": "Dehumidifiers it holds at least",
    "heaters": "Heaters it holds at least",
    "blower_area": "One blower for each, such as 50 ft2 or 4.5 m2",
    "dehumidifier_area": "One dehumidifier for each, such as 200 ft2 or 18 m2",
    "heater_area": "One heater for each, such as 200 ft2 or 18 m2",
    "waste": "Share that is lost, 0 to 0.5",
    "per_unit": "How much for one",
    "basis": "Counted by",
    "crew": "People at once",
    "member": "Part",
    "bead_width_in": "Bead width, in",
    "bead_depth_in": "Bead depth, in",
    "pack_cost_usd": "Cost of one, $",
    "cost_usd": "Cost, $",
    "markup_pct": "Own markup, %",
    "setup_hours": "Hours to set up",
    "hours_per_unit": "Hours for each one counted",
    "takeoff": "Taken off as",
    "pack_quantity": "How much one holds",
    "width": "Width, such as 4 ft or 1220 mm",
    "length": "Length, with the grain, such as 8 ft",
    "kerf": "Saw cut, such as 1/8 in",
    "is_cut_to_length": "Sold cut to any number of lengths",
    "coverage_rate": "Covers",
    "coverage_unit": "Covers, in",
    "coverage_basis": "Covers, counted by",
    "extent": "Reaches to",
    "wrap": "Over an edge of the face, such as 3 in",
    "lap": "Lap, or longer for splices, such as 4 in",
    "faces": "Faces coated, 1 or 2",
    "spacing": "Apart, such as 6 in",
    "member_spacing": "Apart on members inside, such as 12 in",
}
FILES_KNOW = (
    "Files know it by its name. After renaming it, save the files anew: one from before would bring the old name back "
    "as a new {what} and take this one out of use. Offers and agreed work keep the words they were made with."
)
RENAMING = {
    "remedies": FILES_KNOW.format(what="remedy") + " Its record of hours begins anew under the new name.",
    "materials": FILES_KNOW.format(what="material") + " Recipes follow.",
}
LONG = frozenset({"words", "caution", "keeps", "warranty", "coverage_note", "hold_point"})
BLANK_LINES = 2
# More lines than a recipe has by far.
MOST_LINES = 60


class CellField(forms.CharField):
    """A cell: says whether it is needed, and leaves it to the service to hold to that."""

    def validate(self, value: Any) -> None:
        """Every text is taken; the service checks."""


class LineForm(forms.Form):
    """The cells of one line. Nothing is checked here but that a browser sent text."""

    # A line that nobody writes into must not keep the others from being sent.
    use_required_attribute = False

    drop = forms.BooleanField(label="Take this line out", required=False)

    def __init__(
        self, data: Any, *, table: str, head: str, shop: Shop, cells: Mapping[str, str] | None, prefix: str
    ) -> None:
        self.table, self.is_new = table, cells is None
        wanted = columns_in(table, head)
        columns = [column for column in TABLES[table] if column.name in wanted]
        initial = _defaults(table, columns) if cells is None else cells
        super().__init__(data, prefix=prefix, initial=dict(initial))
        self.columns = [column.name for column in columns]
        for column in columns:
            self.fields[column.name] = _field(table, column, shop)
        self.order_fields([*self.columns, "drop"])
        if self.is_new or table == head:
            del self.fields["drop"]

    @property
    def summary(self) -> str:
        """What stands in the line, short."""
        said = [self[name].value() or "" for name in self.columns[:4]]
        shown = [str(_choice_words(self.fields[name], text)) for name, text in zip(self.columns, said, strict=False)]
        return ", ".join(text for text in shown if text) or "new line"

    def is_wanted(self) -> bool:
        """Not a blank line that nobody wrote into, nor one to be taken out."""
        if not self.is_new:
            return not (self.is_valid() and self.cleaned_data["drop"])
        return any(text and text != self.initial.get(name, "") for name, text in self.cells().items())

    def cells(self) -> dict[str, str]:
        """What was typed; a cell that holds no text at all is empty."""
        self.is_valid()
        return {name: self.cleaned_data.get(name) or "" for name in self.columns}


@dataclass
class Part:
    """The lines of one table that hang on the row, and blank ones to write into."""

    table: str
    title: str
    one: str
    count: int
    lines: list[LineForm]


class RowForm:
    """One remedy or material with all lines that hang on it."""

    def __init__(
        self, data: Any, *, head: str, shop: Shop, cells: Mapping[str, Sequence[Mapping[str, str]]] | None
    ) -> None:
        self.is_bound = data is not None
        self.head_table = head
        self.errors: list[str] = []
        own = cells[head][0] if cells else None
        self.head = LineForm(data, table=head, head=head, shop=shop, cells=own, prefix=head)
        if own is not None:
            self.head.fields["name"].help_text = RENAMING[head]
        self.parts = [_part(data, table, head, shop, (cells or {}).get(table, ())) for table in parts_of(head)]

    def cells(self) -> dict[str, list[dict[str, str]]]:
        """What was typed, by table, without blank lines and those to be taken out."""
        return {
            self.head_table: [self.head.cells()],
            **{part.table: [line.cells() for line in self._wanted(part)] for part in self.parts},
        }

    def add_problems(self, problems: Iterable[Problem]) -> None:
        """Put each mistake beside its cell, or at the head of the page where it belongs to none."""
        lines = {f"{part.table}.csv": self._wanted(part) for part in self.parts}
        lines[f"{self.head_table}.csv"] = [self.head]
        for problem in problems:
            found = lines.get(problem.file, [])
            line = found[problem.line - 1] if 0 < problem.line <= len(found) else None
            if line is not None and problem.column in line.fields:
                line.add_error(problem.column, problem.reason)
            elif line is not None:
                line.add_error(None, problem.reason)
            else:
                self.errors.append(problem.reason)

    @property
    def mistakes(self) -> list[tuple[str, str, str]]:
        """Everything to mend: where it stands, what it is called, what is wrong."""
        lines = [self.head, *(line for part in self.parts for line in part.lines)]
        found = [("", "", reason) for reason in self.errors]
        for line in lines:
            if not line.is_bound:
                continue
            found += [(f"line-{line.prefix}", line.summary, str(reason)) for reason in line.non_field_errors()]
            found += [
                (line[name].id_for_label, f"{line.summary}: {line.fields[name].label}", str(error))
                for name in line.fields
                for error in line.errors.get(name, ())
            ]
        return found

    def _wanted(self, part: Part) -> list[LineForm]:
        return [line for line in part.lines if line.is_wanted()]


def _part(data: Any, table: str, head: str, shop: Shop, cells: Sequence[Mapping[str, str]]) -> Part:
    title, one = TITLES.get(table, (table.replace("_", " ").capitalize(), "line"))
    count = len(cells) + BLANK_LINES
    rows: list[Mapping[str, str] | None] = [*cells, *[None] * BLANK_LINES]
    lines = [
        LineForm(data, table=table, head=head, shop=shop, cells=row, prefix=f"{table}-{number}")
        for number, row in enumerate(rows, start=1)
    ]
    return Part(table, title, one, count, lines)


def _field(table: str, column: Column, shop: Shop) -> forms.Field:
    stored = _stored(table, column.name)
    label = LABELS.get(column.name) or column.name.replace("_", " ").capitalize()
    help_text = str(getattr(stored, "help_text", ""))
    if choices := _choices(column, stored, shop):
        widget: forms.Widget = forms.Select(choices=[("", "–"), *choices])
    elif column.name in LONG:
        widget = forms.Textarea(attrs={"rows": 2})
    else:
        widget = forms.TextInput(attrs={"autocomplete": "off"})
    return CellField(label=label, required=_is_needed(column), help_text=help_text, widget=widget)


def _is_needed(column: Column) -> bool:
    try:
        column.read("")
    except ValueError:
        return True
    return False


def _stored(table: str, column: str) -> Any:
    """The model's field behind a column, if there is one; sizes are kept in millimetres."""
    model = MODELS.get(table)
    try:
        return model._meta.get_field(field_of(column)) if model else None
    except FieldDoesNotExist:
        return None


def _choices(column: Column, stored: Any, shop: Shop) -> list[tuple[str, str]]:
    if column.name == "skill":
        return [(name, name) for name in shop.skills.order_by("name").values_list("name", flat=True)]
    if column.name == "material":
        active = shop.materials.filter(is_active=True)
        return [(name, name) for name in active.values_list("name", flat=True)]
    words = {str(value): str(label) for value, label in getattr(stored, "flatchoices", ())} | COVERAGE_WORDS
    return [(each, words.get(each, each)) for each in column.choices]


def _choice_words(field: forms.Field, text: str) -> Any:
    """A cell as its page calls it."""
    if not isinstance(field.widget, forms.Select):
        return text
    return dict(field.widget.choices).get(text, text) if text else ""


def _defaults(table: str, columns: Sequence[Column]) -> dict[str, str]:
    """What a blank line starts from: the model's defaults, and whoever writes it has figures of their own."""
    found = {}
    for column in columns:
        stored = _stored(table, column.name)
        if column.name == "origin":
            found["origin"] = OWN_VALUE
        elif stored is not None and stored.has_default() and stored.default not in ("", None):
            found[column.name] = column.write(stored.default)
    return found
