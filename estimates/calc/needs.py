"""What a recipe's line takes of a material at a place: one way of counting for each way a material is sold."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from estimates.calc.cutting import CutPlan, Piece, Stock, cut_sticks, sticks_worked
from estimates.calc.geometry import Run
from estimates.calc.recipe import (
    UNIT_WORDS,
    Bought,
    Laid,
    Stuff,
    TakeOff,
    Use,
    members_words,
    plain_number,
    units_of,
    units_words,
)
from estimates.calc.sheets import (
    LEAST_WELD_MM,
    RollPlan,
    SheetPlan,
    lay_membrane,
    lay_roll,
    lay_sheets,
    roll_worked,
)
from estimates.calc.site import Cut
from estimates.calc.takeoff import (
    FastenerLine,
    Worked,
    adhesive,
    area_words,
    count_words,
    fasteners,
    packs_needed,
    sealant,
    size_words,
    span_words,
)

# Width of a saw cut where the shop has not said: 1/8 in, common practice, no source.
KERF_MM = 3.175
DEAREST_STICK = 1e6


def take_off(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    """What a line takes; nothing where there is nothing to do, such as no edge that meets what stays.

    Raises ValueError for an unknown kind, for what the kind needs and is not said, and as its own sums do.
    """
    return _WAYS[TakeOff(stuff.kind)](stuff, use, cut)


def stick_joints(stuff: Stuff, use: Use, cut: Cut) -> int:
    """How many joints there are within the pieces of a line: one less than the lengths each is made up of.

    0 for what is not cut from sticks. Raises ValueError as take_off does.
    """
    return sum(number - 1 for number in _lengths_each(stuff, use, cut)) if stuff.kind == TakeOff.STICK else 0


def _counted(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    units = units_of(use.basis, cut)
    if use.basis == "joint" and not units:
        return ()
    needed = use.per_unit * units
    packs = packs_needed(needed, pack_quantity=stuff.pack_quantity, waste=use.waste)
    if use.basis == "each":
        return (Bought(packs, ""),)
    unit = f" {UNIT_WORDS[use.basis]}" if use.basis in UNIT_WORDS else ""
    # A shop in metres may count by the foot, as its packs are sold: then both are said.
    is_other = unit and use.basis.endswith(("ft", "ft2")) != (cut.units == "us")
    counted = f" = {plain_number(units)}{unit}" if is_other else ""
    times = f" × {use.per_unit:g} = {plain_number(needed)}{unit}" if use.per_unit != 1 else ""
    each = f", {stuff.pack_quantity:.4g}{unit} in one" if stuff.pack_quantity != 1 else ""
    lost = _lost(use.waste)
    words = f"{units_words(use.basis, cut)}{counted}{times}{lost}{each} = {count_words(packs, stuff.pack)}"
    return (Bought(packs, words),)


def sheet_layout(stuff: Stuff, use: Use, cut: Cut) -> tuple[SheetPlan, int]:
    """How a material in sheets is laid, and how many layers of it. Raises ValueError as take_off does."""
    size = cut.rectangle
    plan = lay_sheets(
        size.width_mm,
        size.height_mm,
        grain=_run_of(use.laid, cut),
        sheet_width_mm=_said(stuff.width_mm, "width"),
        sheet_mm=_said(stuff.length_mm, "length"),
        kerf_mm=KERF_MM if stuff.kerf_mm is None else stuff.kerf_mm,
    )
    return plan, _times(use)


def _sheets(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    plan, layers = sheet_layout(stuff, use, cut)
    packs = packs_needed(plan.count * layers, pack_quantity=stuff.pack_quantity, waste=use.waste)
    way = f", laid {use.laid} the members" if use.laid else ""
    twice = f", {layers} layers" if layers > 1 else ""
    laid = f", {count_words(plan.count * layers, 'sheet')}" if stuff.pack_quantity != 1 or use.waste else ""
    words = f"{cut.size_words}{way}{twice}{laid}{_lost(use.waste)} = {count_words(packs, stuff.pack)}"
    return (Bought(packs, words),)


def stick_layout(stuff: Stuff, use: Use, cut: Cut) -> CutPlan | None:
    """How the pieces of a material in sticks are cut, at the least cost; longer ones are made up of equal parts.

    None where no piece is needed. Raises ValueError as take_off does.
    """
    numbers, lap_mm = _lengths_each(stuff, use, cut), use.lap_mm or 0.0
    pieces = [
        length_mm / number + lap_mm
        for length_mm, number in zip(_piece_lengths(use, cut), numbers, strict=True)
        for _ in range(number)
    ]
    if not pieces:
        return None
    kerf_mm = KERF_MM if stuff.kerf_mm is None else stuff.kerf_mm
    return cut_sticks([Piece(length) for length in pieces], _stock(stuff.stock), kerf_mm=kerf_mm)


def _sticks(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    plan = stick_layout(stuff, use, cut)
    if plan is None:
        return ()
    numbers = _lengths_each(stuff, use, cut)
    worked = sticks_worked(plan, units=cut.units).words
    words = f"{_cut_words(use, cut)}{_joint_words(numbers)}: {worked}{_joint_caution(use, numbers)}"
    return tuple(_bought_lengths(plan, words))


def _bought_lengths(plan: CutPlan, words: str) -> list[Bought]:
    """The words stand with the first length alone; the others belong to it."""
    bought = list(plan.to_buy.items())
    return [
        Bought(count, words if not number else "from the same cutting", length_mm)
        for number, (length_mm, count) in enumerate(bought)
    ]


def _piece_lengths(use: Use, cut: Cut) -> list[float]:
    times = _times(use)
    if use.basis == "member":
        return [each.length_mm for each in cut.members for _ in range(times)]
    if use.basis.startswith("edge"):
        return [edge.length_mm for edge in cut.inner_edges for _ in range(times)]
    return [cut.long_edge_mm] * times


def _lengths_each(stuff: Stuff, use: Use, cut: Cut) -> list[int]:
    """Of how many equal lengths each piece is made up: the least that the longest stick holds with their splices."""
    longest_mm, lap_mm = max(length for length, _ in stuff.stock), use.lap_mm or 0.0
    if lap_mm >= longest_mm:
        raise ValueError(f"lap_mm must be below the longest stick, {longest_mm:g}, got {lap_mm!r}")
    return [math.ceil(length_mm / (longest_mm - lap_mm) - 1e-9) for length_mm in _piece_lengths(use, cut)]


def _joint_words(numbers: Sequence[int]) -> str:
    """ ", in 2 lengths with 1 joint"; empty where every piece is cut in one."""
    joints = sum(number - 1 for number in numbers)
    if not joints:
        return ""
    if len(set(numbers)) > 1:
        return f", with {count_words(joints, 'joint')} in all"
    each, in_all = ("", "") if len(numbers) == 1 else ("each ", " in all")
    return f", {each}in {numbers[0]} lengths with {count_words(joints, 'joint')}{in_all}"


def _joint_caution(use: Use, numbers: Sequence[int]) -> str:
    """That joints lie apart is common practice, no source; whether a joint may be made at all is an engineer's."""
    if use.basis != "member" or max(numbers) == 1:
        return ""
    return "; keep joints apart from each other; structural members: ask an engineer"


def _cut_words(use: Use, cut: Cut) -> str:
    times = _times(use)
    over = f", {size_words(use.lap_mm, units=cut.units)} more for splices" if use.lap_mm else ""
    if use.basis == "member":
        what = members_words(cut)
    elif use.basis.startswith("edge"):
        what = f"{count_words(len(cut.inner_edges), 'edge')} that meet what stays"
    else:
        what = f"{span_words(cut.long_edge_mm, units=cut.units)} along the longer side"
    return f"{what}{f' × {times}' if times > 1 else ''}{over}"


def _stock(sold: Sequence[tuple[float, float]]) -> list[Stock]:
    """Stock by its cost; where a cost is none to reckon with, by length alone."""
    has_costs = all(0 < cost <= DEAREST_STICK for _, cost in sold)
    return [Stock(length_mm, cost=cost if has_costs else None) for length_mm, cost in sold]


def _roll(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    width_mm, sold_mm = _said(stuff.width_mm, "width"), _said(stuff.length_mm, "length")
    wrap_mm, lap_mm, run = use.wrap_mm or 0.0, use.lap_mm or 0.0, _run_of(use.laid, cut)
    if lap_mm >= LEAST_WELD_MM:
        plan = lay_membrane(cut.measured, roll_width_mm=width_mm, wrap_mm=wrap_mm, run=run, lap_mm=lap_mm)
    else:
        over = {edge.side: wrap_mm if edge.is_on_face_edge else 0.0 for edge in cut.measured.edges}
        left, right, top, bottom = over.values()
        size = cut.rectangle
        plan = lay_roll(
            size.width_mm + left + right,
            size.height_mm + top + bottom,
            roll_width_mm=width_mm,
            run=run,
            lap_mm=lap_mm,
        )
    if not stuff.is_cut_to_length:
        plan = _no_longer_than(plan, sold_mm, lap_mm)
    layers = _times(use)
    worked = roll_worked(
        replace(plan, strips=plan.strips * layers),
        sold_mm=sold_mm,
        is_cut_to_length=stuff.is_cut_to_length,
        pack=stuff.pack,
        waste=use.waste,
        units=cut.units,
    )
    over_words = f", {size_words(wrap_mm, units=cut.units)} over the edge" if wrap_mm and _has_face_edge(cut) else ""
    lap_words = f", {size_words(lap_mm, units=cut.units)} laps" if lap_mm else ""
    return (Bought(worked.packs, f"{cut.size_words}{over_words}{lap_words}: {worked.words}"),)


def _has_face_edge(cut: Cut) -> bool:
    return cut.measured.face_edge_mm > 0


def _no_longer_than(plan: RollPlan, sold_mm: float, lap_mm: float) -> RollPlan:
    """Strips that no roll holds whole made up of equal parts, joined with the lap."""
    if plan.strip_mm <= sold_mm:
        return plan
    if lap_mm >= sold_mm:
        raise ValueError(f"lap_mm must be below the length of a roll, {sold_mm:g}, got {lap_mm!r}")
    parts = math.ceil((plan.strip_mm - lap_mm) / (sold_mm - lap_mm) - 1e-9)
    joint_mm = (parts - 1) * plan.strips * plan.roll_width_mm if lap_mm else 0.0
    part_mm = (plan.strip_mm + (parts - 1) * lap_mm) / parts
    return replace(plan, strips=plan.strips * parts, strip_mm=part_mm, edge_weld_mm=plan.edge_weld_mm + joint_mm)


def _adhesive(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    if stuff.coverage is None or use.faces is None:
        raise ValueError("an adhesive needs its coverage, and the faces that are coated")
    area_m2 = cut.measured.area_m2
    worked = adhesive(
        area_m2 * use.per_unit,
        stuff.coverage,
        faces=use.faces,
        pack_quantity=stuff.pack_quantity,
        pack=stuff.pack,
        waste=use.waste,
        units=cut.units,
    )
    times = f"{area_words(area_m2, units=cut.units)} × {use.per_unit:g} = " if use.per_unit != 1 else ""
    return (Bought(worked.packs, times + worked.words),)


def _sealant(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    if not (use.bead_width_in and use.bead_depth_in):
        raise ValueError("a sealant needs the width and the depth of its bead")
    edge_mm = cut.long_edge_mm if use.basis.startswith("length") else cut.measured.perimeter_mm
    worked = sealant(
        edge_mm,
        beads=_times(use),
        bead_width_in=use.bead_width_in,
        bead_depth_in=use.bead_depth_in,
        package_ml=stuff.pack_quantity,
        package=stuff.pack,
        waste=use.waste,
        units=cut.units,
    )
    return (_of(worked),)


def _fasteners(stuff: Stuff, use: Use, cut: Cut) -> tuple[Bought, ...]:
    worked = fasteners(
        _fastener_lines(use, cut),
        pack_quantity=stuff.pack_quantity,
        pack=stuff.pack,
        waste=use.waste,
        units=cut.units,
        name="fastener",
    )
    return (_of(worked),)


def _fastener_lines(use: Use, cut: Cut) -> list[FastenerLine]:
    spacing_mm, times, size = _said(use.spacing_mm, "spacing"), _times(use), cut.rectangle
    in_field_mm = use.member_spacing_mm or spacing_mm
    if use.basis.startswith("length"):
        return [FastenerLine("row", cut.long_edge_mm, spacing_mm, times)]
    if use.basis == "member":
        return [FastenerLine("member", cut.members[0].length_mm, spacing_mm, len(cut.members) * times)]
    edges = [
        FastenerLine("edge", size.width_mm, spacing_mm, 2 * times),
        FastenerLine("edge", size.height_mm, spacing_mm, 2 * times),
    ]
    if use.basis.startswith("edge"):
        return edges
    along_mm = size.width_mm if cut.run == Run.ALONG else size.height_mm
    return [*edges, FastenerLine("member", along_mm, in_field_mm, len(cut.inner_mm) * times)]


def _of(worked: Worked) -> Bought:
    return Bought(worked.packs, worked.words)


def _run_of(laid: str, cut: Cut) -> Run | None:
    """Which way on the face something is laid that is said to lie across or along the members."""
    if laid == Laid.EITHER:
        return None
    if laid == Laid.ALONG:
        return cut.run
    return Run.ACROSS if cut.run == Run.ALONG else Run.ALONG


def _times(use: Use) -> int:
    times = round(use.per_unit)
    if times < 1 or times != use.per_unit:
        raise ValueError(f"per_unit must be a whole number from 1 for this material, got {use.per_unit!r}")
    return times


def _said(value_mm: float | None, name: str) -> float:
    if value_mm is None:
        raise ValueError(f"the {name} of this material is not given")
    return value_mm


def _lost(waste: float) -> str:
    return f", with {100 * waste:.0f}% waste" if waste else ""


_WAYS: dict[TakeOff, Callable[[Stuff, Use, Cut], tuple[Bought, ...]]] = {
    TakeOff.COUNT: _counted,
    TakeOff.SHEET: _sheets,
    TakeOff.STICK: _sticks,
    TakeOff.ROLL: _roll,
    TakeOff.ADHESIVE: _adhesive,
    TakeOff.SEALANT: _sealant,
    TakeOff.FASTENER: _fasteners,
}
