"""What the lines of a catalogue must say for a take-off: each way of counting needs some cells and knows no others."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from estimates.calc.csv_table import Line, Problem
from estimates.calc.sheets import LEAST_WELD_MM

# What is laid, cut or run is so a whole number of times over, up to so many.
MOST_TIMES = {"sheet": 20, "stick": 20, "roll": 20, "sealant": 10, "fastener": 20}
# As estimates/calc/sheets.py laps membrane and cutting.py cuts sticks.
MOST_LAP_MM, LONGEST_STICK_MM = 300.0, 30_000.0
EMPTY = (None, "", False)
# What only comes about where a member is longer than the longest stick.
JOINT = "joint"
AREA, EDGE, LENGTH = ("area_ft2", "area_m2"), ("edge_ft", "edge_m"), ("length_ft", "length_m")
KIND_WORDS = {
    "count": "counted",
    "sheet": "laid in sheets",
    "stick": "cut from sticks",
    "roll": "in strips off a roll",
    "adhesive": "spread by coverage",
    "sealant": "run in beads",
    "fastener": "in rows by spacing",
}
# Cells of a material: those a kind needs, and those it may have besides.
MATERIAL_NEEDS = {
    "sheet": ("width", "length"),
    "stick": ("length",),
    "roll": ("width", "length"),
    "adhesive": ("coverage_rate", "coverage_unit", "coverage_basis"),
}
MATERIAL_TAKES = {"sheet": ("kerf",), "stick": ("kerf",), "roll": ("is_cut_to_length",)}
MATERIAL_CELLS = (
    "width",
    "length",
    "kerf",
    "is_cut_to_length",
    "coverage_rate",
    "coverage_unit",
    "coverage_basis",
)
# Cells of a recipe's line, in the same way.
USE_NEEDS = {"adhesive": ("faces",), "sealant": ("bead_width_in", "bead_depth_in"), "fastener": ("spacing",)}
USE_TAKES = {"sheet": ("laid",), "stick": ("lap",), "roll": ("laid", "wrap", "lap"), "fastener": ("member_spacing",)}
USE_CELLS = ("bead_width_in", "bead_depth_in", "laid", "wrap", "lap", "faces", "spacing", "member_spacing")
USE_BASES = {
    "sheet": AREA,
    "stick": ("member", *EDGE, *LENGTH),
    "roll": AREA,
    "adhesive": AREA,
    "sealant": (*EDGE, *LENGTH),
    "fastener": (*AREA, *EDGE, *LENGTH, "member"),
}
# What is sold one by one: its size says how much it holds.
SINGLE = ("stick", "roll")

Found = Iterator[tuple[str, str]]


def material_problems(said: Mapping[str, Any]) -> Found:
    """What is wrong with a material's cells for its kind, as column and reason. Cells that are not there are passed."""
    kind = said.get("takeoff")
    if kind is None:
        return
    yield from _cells(said, kind, MATERIAL_CELLS, MATERIAL_NEEDS.get(kind, ()), MATERIAL_TAKES.get(kind, ()))
    length_mm = said.get("length")
    if kind == "stick" and length_mm and length_mm > LONGEST_STICK_MM:
        yield "length", f"a stick is at most {LONGEST_STICK_MM / 1000:g} m long"
    if kind in SINGLE and said.get("pack_quantity", 1) != 1:
        yield "pack_quantity", f"a {kind} is sold one by one, so this is 1; its length says how much it holds"


def use_problems(said: Mapping[str, Any], kind: str) -> Found:
    """What is wrong with a recipe's line for the kind of its material, as column and reason."""
    yield from _cells(said, kind, USE_CELLS, USE_NEEDS.get(kind, ()), USE_TAKES.get(kind, ()))
    bases, basis = USE_BASES.get(kind), said.get("basis")
    if bases and basis and basis not in bases:
        yield "basis", f"what is {KIND_WORDS[kind]} is counted by {', '.join(bases)}; got {basis}"
    yield from joint_problems(said)
    times = said.get("per_unit")
    most = MOST_TIMES.get(kind)
    if most and times is not None and (times != round(times) or not 1 <= times <= most):
        yield "per_unit", f"what is {KIND_WORDS[kind]} is so 1 to {most} whole times over, got {times:g}"
    if kind == "stick" and said.get("waste"):
        yield "waste", "sticks are cut by a plan that counts its own offcuts, so nothing is added: 0"
    lap_mm = said.get("lap")
    if kind == "roll" and lap_mm and not LEAST_WELD_MM <= lap_mm <= MOST_LAP_MM:
        ends = f"at least {LEAST_WELD_MM / 25.4:g} in, the least weld, and at most {MOST_LAP_MM:g} mm"
        yield "lap", f"strips butt (empty) or lap by {ends}"


def joint_problems(said: Mapping[str, Any]) -> Found:
    """What is wrong with a line counted by the joint, of a recipe's operations or material."""
    if said.get("basis") == JOINT and said.get("extent", "place") != "place":
        yield "extent", "joints are counted where the sticks are cut, so this is place"


def odd_materials(lines: Sequence[Line]) -> Iterator[Problem]:
    for line in lines:
        for column, reason in material_problems(line.values):
            yield Problem("materials.csv", line.number, column, reason)


def odd_uses(lines: Sequence[Line], kinds: Mapping[str, str]) -> Iterator[Problem]:
    """Lines of recipe_materials.csv that do not go with their material. kinds: by material, as far as known."""
    for line in lines:
        kind = kinds.get(line.values.get("material", ""))
        for column, reason in use_problems(line.values, kind) if kind else ():
            yield Problem("recipe_materials.csv", line.number, column, reason)


def unfit_materials(materials: Sequence[Line], stored: Sequence[Mapping[str, Any]]) -> Iterator[Problem]:
    """Materials whose kind no longer goes with a stored recipe's line."""
    by_name = {line.values.get("name"): line for line in materials}
    for use in stored:
        line = by_name.get(use["material"])
        kind = line.values.get("takeoff") if line else None
        for column, reason in use_problems(use, kind) if kind else ():
            words = f"the remedy “{use['remedy']}” uses it otherwise ({column}: {reason})"
            yield Problem("materials.csv", line.number if line else 0, "takeoff", words)


def odd_lengths(lines: Sequence[Line], kinds: Mapping[str, str]) -> Iterator[Problem]:
    """Further lengths of what is not sold in sticks."""
    for line in lines:
        kind = kinds.get(line.values.get("material", ""))
        if kind and kind != "stick":
            reason = f"“{line.values['material']}” is {KIND_WORDS[kind]}; only a stick is sold in lengths"
            yield Problem("stock_lengths.csv", line.number, "material", reason)


def unfit_lengths(materials: Sequence[Line], with_lengths: frozenset[str]) -> Iterator[Problem]:
    """Materials that are no sticks any more while lengths of them are stored."""
    for line in materials:
        name, kind = line.values.get("name"), line.values.get("takeoff")
        if name in with_lengths and kind not in {None, "stick"}:
            reason = "lengths of it are in stock_lengths.csv, which only a stick has; send that file too"
            yield Problem("materials.csv", line.number, "takeoff", reason)


def _cells(
    said: Mapping[str, Any], kind: str, cells: Sequence[str], needs: Sequence[str], takes: Sequence[str]
) -> Found:
    for cell in cells:
        if cell not in said:
            continue
        is_empty = said[cell] in EMPTY
        if cell in needs and is_empty:
            yield cell, f"what is {KIND_WORDS[kind]} needs it"
        elif not is_empty and cell not in needs and cell not in takes:
            yield cell, f"what is {KIND_WORDS[kind]} has none; leave it {'no' if said[cell] is True else 'empty'}"
