"""What has to be fetched for the agreed work, and how it is cut. No prices: this is for the bay."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from estimates.billing import rates_of
from estimates.calc.cutting import Stick
from estimates.calc.money import PriceLine
from estimates.calc.needs import sheet_layout, stick_layout
from estimates.calc.recipe import TakeOff
from estimates.calc.site import Site, cut_at
from estimates.models import Rates, RecipeMaterial
from estimates.pricing import lines_from_json, material_lines, site_of
from jobs.calc.lengths import print_length
from jobs.models import Finding, Job

CUT_KINDS = (TakeOff.STICK, TakeOff.SHEET)
# By which a line is known that was cut, once its recipe is gone.
CUT_WORDS = ("stick", "sheet", "saw cut")
NOT_KNOWN = "Its cuts are not known any more: catalogue or framing changed since. Measure on the coach."


@dataclass(frozen=True)
class Fetched:
    """One material as it is sold, and how it is cut, in words: one line for each way."""

    quantity: str
    name: str
    cuts: tuple[str, ...]


@dataclass(frozen=True)
class FindingMaterial:
    """What one finding's agreed work takes."""

    label: str  # "booked work 1" or "finding 3"
    words: str
    rows: tuple[Fetched, ...]


def read_material(job: Job) -> list[FindingMaterial]:
    """The material of all agreed work that is not finished, by finding, as the latest revision has it.

    Work that is done again takes what it takes; no estimate knows it, so it is not listed.
    How it is cut is worked out anew, and shown only where that gives the very lines that were agreed.
    """
    revision = job.revisions.order_by("number").last()
    if revision is None:
        return []
    still_open = job.operations.unfinished().filter(redo_of__isnull=True)
    open_ids = set(still_open.values_list("remedy__finding_id", flat=True))
    groups = [group for group in revision.content["groups"] if group["finding"] in open_ids]
    findings = Finding.objects.select_related("job__coach", "job__shop").in_bulk([group["finding"] for group in groups])
    items = _items(groups)
    rates = rates_of(job)
    found = (_of_group(group, findings[group["finding"]], items, rates) for group in groups)
    return [each for each in found if each.rows]


def _items(groups: Sequence[dict[str, Any]]) -> dict[int, RecipeMaterial]:
    """The recipe's lines that the agreed ones came from, as far as they still stand."""
    keys = {_item_of(line["key"]) for group in groups for line in group["lines"]}
    items = RecipeMaterial.objects.select_related("material", "standard_remedy")
    return items.prefetch_related("material__stock_lengths").in_bulk([key for key in keys if key is not None])


def _item_of(key: str) -> int | None:
    """The recipe's line that a price line came from, "material-7" or, of a further length, "material-7-3"."""
    kind, _, rest = key.partition("-")
    return int(rest.partition("-")[0]) if kind == "material" else None


def _of_group(
    group: dict[str, Any], finding: Finding, items: dict[int, RecipeMaterial], rates: Rates
) -> FindingMaterial:
    lines = [line for line in lines_from_json(group["lines"]) if line.kind == "material" and line.quantity]
    rows, cut = [], set()
    for line in lines:
        item_id = _item_of(line.key)
        of_item = [each for each in lines if _item_of(each.key) == item_id]
        # Several lengths of one material come from one cutting, which stands with the first.
        is_first = item_id is not None and item_id not in cut
        cuts = _cuts(items.get(item_id or 0), of_item, finding, rates) if is_first else ()
        cut.add(item_id)
        rows.append(Fetched(_quantity(line), line.words, cuts))
    return FindingMaterial(finding.label, group["words"], tuple(rows))


def _quantity(line: PriceLine) -> str:
    number = f"{line.quantity.normalize():f}"
    return number if line.unit == "each" else f"{number} × {line.unit}"


def _cuts(item: RecipeMaterial | None, agreed: Sequence[PriceLine], finding: Finding, rates: Rates) -> tuple[str, ...]:
    if item is None:
        told = f"{agreed[0].unit} {agreed[0].how}"
        return (NOT_KNOWN,) if any(each in told for each in CUT_WORDS) else ()
    if item.material.takeoff not in CUT_KINDS:
        return ()
    try:
        site = site_of(finding)
        fresh = material_lines(item, site, rates)
    except ValueError:
        return (NOT_KNOWN,)
    if [_what(line) for line in fresh] != [_what(line) for line in agreed]:
        return (NOT_KNOWN,)
    return tuple(_cut_words(item, site))


def _what(line: PriceLine) -> tuple[object, ...]:
    """What a line takes and how that came about: not its money, nor its name, which may be another by now."""
    return line.quantity, line.unit, line.how


def _cut_words(item: RecipeMaterial, site: Site) -> Iterator[str]:
    stuff, use, cut = item.material.as_stuff(), item.as_use(), cut_at(site, item.extent)
    if item.material.takeoff == TakeOff.STICK:
        plan = stick_layout(stuff, use, cut)
        for stick in plan.sticks if plan else ():
            yield _stick_words(stick, site.units)
        return
    sheets, layers = sheet_layout(stuff, use, cut)
    for part in sheets.parts:
        is_whole = (part.length_mm, part.width_mm) == (stuff.length_mm, stuff.width_mm)
        size = f"{print_length(part.length_mm, units=site.units)} × {print_length(part.width_mm, units=site.units)}"
        count = part.count * layers
        yield f"{count} whole sheet{'' if count == 1 else 's'}" if is_whole else f"{count} at {size}"


def _stick_words(stick: Stick, units: str) -> str:
    """ "2 sticks of 12 ft, each: 2 at 5 ft 2 in; left over 1 ft 7 1/2 in"."""
    many = f"{stick.count} sticks" if stick.count > 1 else "1 stick"
    pieces = Counter(print_length(each, units=units) for each in sorted(stick.pieces_mm, reverse=True))
    cut = ", ".join(f"{count} at {size}" for size, count in pieces.items())
    left = f"; left over {print_length(stick.offcut_mm, units=units)}" if stick.offcut_mm >= 1 else ""
    return f"{many} of {print_length(stick.stock_mm, units=units)}{', each' if stick.count > 1 else ''}: {cut}{left}"
