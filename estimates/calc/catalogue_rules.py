"""What the lines of a catalogue must say together: names used once, references that lead somewhere, whole recipes."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from estimates.calc import takeoff_rules
from estimates.calc.csv_table import Line, Problem
from estimates.calc.takeoff_rules import JOINT

# What tells a table's lines apart. The rates are one line.
KEYS: dict[str, tuple[str, ...]] = {
    "skills": ("name",),
    "rates": (),
    "materials": ("name",),
    "stock_lengths": ("material", "length"),
    "remedies": ("name",),
    "matches": ("remedy", "kind", "verdict", "member", "face"),
    "operations": ("remedy", "position"),
    "recipe_materials": ("remedy", "material"),
}
# Finished work finds its step again by its words, so they are told apart by these as well.
ALSO_ONCE = {"operations": ("remedy", "words")}
Lines = Mapping[str, Sequence[Line]]


@dataclass(frozen=True)
class Standing:
    """What the shop has already, by name; recipes also of remedies that are out of use.

    worked: remedies that have operations. uses: (remedy, material) of each recipe. stuff: the lines of all recipes by
    the columns of their file. kinds: how each material is taken off. with_lengths: materials sold in further lengths.
    """

    skills: frozenset[str] = frozenset()
    materials: frozenset[str] = frozenset()
    remedies: frozenset[str] = frozenset()
    worked: frozenset[str] = frozenset()
    uses: frozenset[tuple[str, str]] = frozenset()
    stuff: tuple[Mapping[str, Any], ...] = ()
    kinds: Mapping[str, str] = field(default_factory=dict)
    with_lengths: frozenset[str] = frozenset()


def find_problems(lines: Lines, standing: Standing, unreadable: Iterable[str] = ()) -> list[Problem]:
    """All that is wrong between the lines of the tables that came, measured against what the shop has already.

    lines: by table, for the tables that came. unreadable: tables with a name that could not be read; nothing is held
    against a reference to them, for it may be right.
    """
    skip = set(unreadable)
    found = [*_repeated(lines), *_odd_operations(lines), *_odd_beads(lines), *_odd_matches(lines)]
    names = {
        "remedies": _after(lines, "remedies", standing.remedies),
        "materials": _after(lines, "materials", standing.materials),
        "skills": standing.skills | _named(lines.get("skills", ())),
    }
    for table, column, target in (
        ("operations", "remedy", "remedies"),
        ("matches", "remedy", "remedies"),
        ("recipe_materials", "remedy", "remedies"),
        ("recipe_materials", "material", "materials"),
        ("operations", "skill", "skills"),
        ("stock_lengths", "material", "materials"),
    ):
        if target not in skip:
            found.extend(_dangling(lines, table, column, target, names[target]))
    found.extend(_odd_take_offs(lines, standing, names["remedies"]))
    found.extend(_emptied(lines, standing))
    if not skip:
        found.extend(_without_work(lines, standing, names["remedies"]))
        found.extend(_without_material(lines, standing, names["remedies"], names["materials"]))
    return found


def _after(lines: Lines, table: str, stored: frozenset[str]) -> frozenset[str]:
    """The names in use once the file is in: its own if it came, else what is stored."""
    return _named(lines[table]) if table in lines else stored


def _named(lines: Sequence[Line]) -> frozenset[str]:
    return frozenset(line.values["name"] for line in lines if "name" in line.values)


def _repeated(lines: Lines) -> Iterator[Problem]:
    for table, keys in [*KEYS.items(), *ALSO_ONCE.items()]:
        first: dict[tuple[object, ...], int] = {}
        for line in lines.get(table, ()):
            if not all(key in line.values for key in keys):
                continue
            known = first.setdefault(tuple(line.values[key] for key in keys), line.number)
            if known != line.number:
                reason = f"says the same {' and '.join(keys)} as line {known}" if keys else "there is one line of rates"
                yield _problem(table, line, keys[-1] if len(keys) == 1 else "", reason)


def _dangling(lines: Lines, table: str, column: str, target: str, names: frozenset[str]) -> Iterator[Problem]:
    word = {"remedies": "remedy", "materials": "material", "skills": "skill"}[target]
    where = f"neither in {target}.csv nor in this shop" if target == "skills" else f"not in {target}.csv"
    if target not in lines:
        where = "not in this shop"
    for line in lines.get(table, ()):
        name = line.values.get(column)
        if name and name not in names:
            yield _problem(table, line, column, f"there is no {word} “{name}”, {where}")


def _odd_operations(lines: Lines) -> Iterator[Problem]:
    for line in lines.get("operations", ()):
        said = line.values
        kind, skill = said.get("kind"), said.get("skill")
        if kind == "labour" and skill == "":
            yield _problem("operations", line, "skill", "labour needs a skill")
        if kind == "wait" and skill:
            yield _problem("operations", line, "skill", "a wait needs no hands, so it names no skill")
        if kind == "labour" and said.get("is_drying"):
            yield _problem("operations", line, "is_drying", "only a wait can be for drying")
        for column, reason in takeoff_rules.joint_problems(said):
            yield _problem("operations", line, column, reason)
        if said.get("setup_hours") == 0 and said.get("hours_per_unit") == 0:
            yield _problem("operations", line, "setup_hours", "takes no time; give setup_hours or hours_per_unit")


def _odd_beads(lines: Lines) -> Iterator[Problem]:
    for line in lines.get("recipe_materials", ()):
        said = line.values
        if not {"bead_width_in", "bead_depth_in"} <= set(said):
            continue
        width, depth = said["bead_width_in"], said["bead_depth_in"]
        if (width is None) != (depth is None):
            column = "bead_width_in" if width is None else "bead_depth_in"
            yield _problem("recipe_materials", line, column, "a bead has a width and a depth; one is missing")


def _odd_take_offs(lines: Lines, standing: Standing, remedies: frozenset[str]) -> Iterator[Problem]:
    """Materials and recipes that do not go together: those of the files, and those stored that a file leaves alone."""
    materials, kinds = lines.get("materials", ()), standing.kinds
    if "materials" in lines:
        named = (line.values for line in materials if {"name", "takeoff"} <= set(line.values))
        kinds = {values["name"]: values["takeoff"] for values in named}
    yield from takeoff_rules.odd_materials(materials)
    yield from takeoff_rules.odd_uses(lines.get("recipe_materials", ()), kinds)
    yield from takeoff_rules.odd_lengths(lines.get("stock_lengths", ()), kinds)
    if "recipe_materials" not in lines:
        yield from takeoff_rules.unfit_materials(
            materials, [use for use in standing.stuff if use["remedy"] in remedies]
        )
    if "stock_lengths" not in lines:
        yield from takeoff_rules.unfit_lengths(materials, standing.with_lengths)


def _odd_matches(lines: Lines) -> Iterator[Problem]:
    for line in lines.get("matches", ()):
        said = [line.values.get(key) for key in KEYS["matches"][1:]]
        if all(each == "" for each in said):
            yield _problem("matches", line, "", "says nothing; give a kind, a verdict, a member or a face")


def _emptied(lines: Lines, standing: Standing) -> Iterator[Problem]:
    for table, stored in (("remedies", standing.remedies), ("materials", standing.materials)):
        if table in lines and not lines[table] and stored:
            reason = f"holds no line; that would take all {len(stored)} out of use"
            yield Problem(f"{table}.csv", 0, "", reason)


def _without_work(lines: Lines, standing: Standing, remedies: frozenset[str]) -> Iterator[Problem]:
    """A remedy without an operation would be priced at nothing."""
    if not {"remedies", "operations"} & set(lines):
        return
    worked = standing.worked
    if "operations" in lines:
        # Where no stick is too short there is no joint to make, and so no such step.
        steps = [line.values for line in lines["operations"] if line.values.get("basis") != JOINT]
        worked = frozenset(said["remedy"] for said in steps if "remedy" in said)
    by_name = {line.values.get("name"): line.number for line in lines.get("remedies", ())}
    for name in sorted(remedies - worked):
        reason = f"the remedy “{name}” has no operation whatever its size; give it a line in operations.csv"
        if name in by_name:
            yield Problem("remedies.csv", by_name[name], "name", reason)
        else:
            yield Problem("operations.csv", 0, "remedy", reason)


def _without_material(
    lines: Lines, standing: Standing, remedies: frozenset[str], materials: frozenset[str]
) -> Iterator[Problem]:
    """A stored recipe that is in use once the files are in, and whose material would not be."""
    if "recipe_materials" in lines or not {"remedies", "materials"} & set(lines):
        return
    file = "materials.csv" if "materials" in lines else "remedies.csv"
    for remedy, material in sorted(standing.uses):
        if remedy in remedies and material not in materials:
            yield Problem(file, 0, "name", f"the remedy “{remedy}” takes “{material}”, which would be out of use")


def _problem(table: str, line: Line, column: str, reason: str) -> Problem:
    return Problem(f"{table}.csv", line.number, column, reason)
