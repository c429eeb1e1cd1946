"""A coach unfolded, hatched by how wet one layer of it is, with its stations; blank where none is near."""

from functools import cached_property
from typing import Any, Final

import numpy as np
from contourpy import FillType, contour_generator
from matplotlib.path import Path

from jobs.calc.moisture.surface import (
    HATCH_CLASSES,
    class_edges_pct,
    class_words,
)
from jobs.charts.drying_data import Format
from jobs.charts.figure import (
    INK,
    INK_SOFT,
    MARGIN_PT,
    PAPER_BRIGHT,
    TEXT_PT,
    TITLE_PT,
    WIDTH_PT,
    Point,
    Sheet,
    print_sheet,
    text_width_pt,
    wrap,
)
from jobs.charts.labels import DOT_PT, Entry, Tag, place_legend, place_tags
from jobs.charts.moisture_plan_data import MoisturePlan, PlanFace, PlanStation, plan_words

# Tallest the unfolded coach may get, so that plan and legend fit on one sheet of paper.
TALLEST_PT: Final = 576.0
ROW_PT: Final = 20.0
NAME_PT: Final = 13.0
NAME_ROW_PT: Final = 15.0
# Clear of a dot in the corner.
NAME_INDENT_PT: Final = 12.0
NUMBER_PT: Final = 12.0
# One line more from class to class, then lines both ways; each ground a shade darker. Dots: measured, and dry enough.
HATCHES: Final = ("..", "//", "////", "xxxx", "xxxxxxx")
GROUNDS: Final = ("#f8f3e9", "#f3eee4", "#e6dfd2", "#d3cabb", "#b8ad9c")
DIRECTIONS: Final = ("Roof, floor and side walls: the front end is at the left.", "End walls: road side at the left.")


def draw(plan: MoisturePlan, fmt: Format) -> bytes:
    """The plan as SVG or PNG (1200 px wide): the same drawing for page, mail and paper."""
    layout = _Layout(plan)
    return print_sheet(
        layout.paint, width_pt=WIDTH_PT, height_pt=layout.height_pt, fmt=fmt, title=plan.title, words=plan_words(plan)
    )


class _Layout:
    """Where everything of one plan goes [pt], worked out before anything is drawn."""

    def __init__(self, plan: MoisturePlan) -> None:
        self.plan = plan
        room = WIDTH_PT - 2 * MARGIN_PT
        self.title_lines = wrap(plan.title, room, size=TITLE_PT, lines=2, head=True)
        self.said_lines = wrap(plan.taken_at_words, room, size=TEXT_PT, lines=2)
        right = max(face.x_mm + face.width_mm for face in plan.faces)
        bottom = max(face.y_mm + face.height_mm for face in plan.faces)
        self.pt_per_mm = min(room / right, TALLEST_PT / bottom)
        # Each row of faces is moved down by the line that the names take above it.
        self.rows_mm = sorted({face.y_mm for face in plan.faces})
        self.left = (WIDTH_PT - right * self.pt_per_mm) / 2
        self.top = MARGIN_PT + 25.0 * len(self.title_lines) + 18.0 * len(self.said_lines) + 8.0
        self.bottom = self.top + bottom * self.pt_per_mm + NAME_ROW_PT * len(self.rows_mm)
        self.legend = place_legend(_legend_entries(plan), columns=2)
        self.legend_top = self.bottom + 14.0
        self.notes_top = self.legend_top + ROW_PT * (1 + max(entry.row for entry in self.legend)) + 4.0
        self.height_pt = self.notes_top + 18.0 * len(DIRECTIONS) + MARGIN_PT

    def at(self, face: PlanFace, left_mm: float, top_mm: float) -> Point:
        names = NAME_ROW_PT * (1 + self.rows_mm.index(face.y_mm))
        x, y = (face.x_mm + left_mm) * self.pt_per_mm, (face.y_mm + top_mm) * self.pt_per_mm
        return self.left + x, self.top + names + y

    @cached_property
    def tags(self) -> list[Tag]:
        """A tag for each station, clear of each other and of the names of the faces."""
        spots = []
        for station in self.plan.stations:
            width = text_width_pt(station.words, bold=True) + 6 if station.words else 0.0
            spots.append((self.at(self.plan.face_of(station), station.left_mm, station.top_mm), width))
        names, edges = [], []
        for face in self.plan.faces:
            left, top = self.at(face, 0, 0)
            right, bottom = self.at(face, face.width_mm, face.height_mm)
            name_left = left + NAME_INDENT_PT
            names.append((name_left, top - NAME_ROW_PT, name_left + text_width_pt(face.name, NAME_PT), top - 1))
            edges += [(left, top - 1, right, top + 1), (left, bottom - 1, right, bottom + 1)]
            edges += [(left - 1, top, left + 1, bottom), (right - 1, top, right + 1, bottom)]
        within = (2.0, self.top - 2.0, WIDTH_PT - 2.0, self.bottom + 12.0)
        return place_tags(spots, within, taken=names, edges=edges)

    def paint(self, sheet: Sheet) -> None:
        for number, line in enumerate(self.title_lines):
            sheet.text((MARGIN_PT, MARGIN_PT + 17 + 25 * number), line, size=TITLE_PT, bold=True, head=True)
        below = MARGIN_PT + 25 * len(self.title_lines)
        for number, line in enumerate(self.said_lines):
            sheet.text((MARGIN_PT, below + 13 + 18 * number), line, colour=INK_SOFT)
        for face in self.plan.faces:
            self._paint_face(sheet, face)
        for station, tag in zip(self.plan.stations, self.tags, strict=True):
            _paint_tag(sheet, station, tag)
        self._paint_legend(sheet)

    def _paint_face(self, sheet: Sheet, face: PlanFace) -> None:
        left, top = self.at(face, 0, 0)
        width, height = face.width_mm * self.pt_per_mm, face.height_mm * self.pt_per_mm
        sheet.box(left, top, width, height, facecolor=PAPER_BRIGHT, edgecolor="none", zorder=0)
        self._paint_field(sheet, face)
        sheet.box(left, top, width, height, facecolor="none", edgecolor=INK, linewidth=1.2, zorder=3)
        sheet.text((left + NAME_INDENT_PT, top - 5), face.name, size=NAME_PT, zorder=4)

    def _paint_field(self, sheet: Sheet, face: PlanFace) -> None:
        field = self.plan.field_on(face)
        if not field.measured_share:
            return
        left, top = self.at(face, 0, 0)
        areas = contour_generator(
            x=left + field.left_mm * self.pt_per_mm,
            y=top + field.top_mm * self.pt_per_mm,
            z=np.ma.masked_invalid(field.mc_pct),
            corner_mask=True,
            fill_type=FillType.OuterCode,
        )
        ends = (-1.0, *class_edges_pct(self.plan.limit_pct), 10_000.0)
        for number in HATCH_CLASSES:
            # What this kind of filling returns; contourpy's types name all kinds.
            filled: Any = areas.filled(ends[number], ends[number + 1])
            for part, (vertices, codes) in enumerate(zip(*filled, strict=True)):
                gid = f"class-{number}-{face.name.replace(' ', '-')}-{part}"
                sheet.shape(Path(vertices, codes), zorder=1, gid=gid, **_hatching(number))

    def _paint_legend(self, sheet: Sheet) -> None:
        for entry in self.legend:
            y = self.legend_top + ROW_PT * entry.row + 8
            if entry.kind == "unread":
                _paint_dot(sheet, (entry.x + 13, y), "", is_read=False)
            else:
                style = _hatching(int(entry.kind)) if entry.kind.isdigit() else {"facecolor": PAPER_BRIGHT}
                sheet.box(entry.x, y - 7.5, 26, 15, **{**style, "zorder": 1})
                sheet.box(entry.x, y - 7.5, 26, 15, facecolor="none", edgecolor=INK, linewidth=0.8, zorder=2)
            sheet.text((entry.x + 32, y), entry.words, middle=True)
        for number, line in enumerate(DIRECTIONS):
            sheet.text((MARGIN_PT, self.notes_top + 13 + 18 * number), line, colour=INK_SOFT)


def _paint_tag(sheet: Sheet, station: PlanStation, tag: Tag) -> None:
    if tag.is_moved:
        sheet.line([tag.spot, tag.dot], width=1.0, zorder=5)
        sheet.line([tag.spot], marker="o", markersize=5.5, markeredgecolor=PAPER_BRIGHT, linestyle="none", zorder=6)
    if station.words:
        left, top, right, bottom = tag.words
        sheet.box(left, top, right - left, bottom - top, facecolor=PAPER_BRIGHT, edgecolor="none", zorder=6)
        sheet.text((left + 3, (top + bottom) / 2), station.words, middle=True, bold=True, zorder=8)
    _paint_dot(sheet, tag.dot, str(station.number), is_read=station.mc_pct is not None)


def _paint_dot(sheet: Sheet, at: Point, number: str, *, is_read: bool) -> None:
    style: dict[str, Any] = {"marker": "o", "linestyle": "none", "markersize": 2 * DOT_PT - 1}
    ink, ground = (PAPER_BRIGHT, INK) if is_read else (INK, PAPER_BRIGHT)
    gid = f"station-{number}" if number else ""
    sheet.line([at], markerfacecolor=ground, markeredgecolor=INK, markeredgewidth=1.2, zorder=7, gid=gid, **style)
    size = NUMBER_PT if len(number) < 3 else NUMBER_PT * 0.75
    sheet.text(at, number, size=size, align="center", middle=True, bold=True, colour=ink, zorder=9)


def _hatching(number: int) -> dict[str, Any]:
    return {"facecolor": GROUNDS[number], "edgecolor": INK_SOFT, "hatch": HATCHES[number], "linewidth": 0.5}


def _legend_entries(plan: MoisturePlan) -> list[Entry]:
    entries = [Entry(str(number), class_words(number, plan.limit_pct)) for number in HATCH_CLASSES]
    entries.append(Entry("blank", "not measured"))
    if any(station.mc_pct is None for station in plan.stations):
        entries.append(Entry("unread", "station not read"))
    return entries
