"""The demo shop's remedies and materials. Every hour and price is a planning value, written from general
knowledge of the trade (no source): a shop replaces them with its own."""

from dataclasses import dataclass
from decimal import Decimal

from estimates.models import Material, Rates, RecipeMaterial, RecipeOperation
from jobs.models import RemedyMatch, Shop, Skill, StandardRemedy
from jobs.models.work import OperationKind, Phase

SKILLS = ("body", "framing", "skin", "sealing", "wiring")


@dataclass(frozen=True)
class Labour:
    phase: int
    words: str
    skill: str
    setup_hours: float
    hours_per_unit: float = 0.0
    basis: str = "each"
    crew: int = 1
    is_in_one_shift: bool = False
    hold_point: str = ""


@dataclass(frozen=True)
class Wait:
    phase: int
    words: str
    hours: float
    hold_point: str = ""


@dataclass(frozen=True)
class Stuff:
    material: str
    basis: str
    per_unit: float = 1.0
    waste: float = 0.1
    bead_in: tuple[float, float] | None = None


@dataclass(frozen=True)
class Recipe:
    name: str
    words: str
    caution: str
    steps: tuple[Labour | Wait, ...]
    stuff: tuple[Stuff, ...] = ()
    keeps: str = ""
    warranty: str = ""
    # Where it fits: (kind of finding, verdict), empty for any.
    fits: tuple[tuple[str, str], ...] = ()


# name, sold unit, quantity in one, cost
MATERIALS = (
    ("Framing timber, planed", "8 ft stick", 8.0, "7.40"),
    ("Plywood decking", "sheet of 32 ft²", 32.0, "54.00"),
    ("Mineral wool batt", "pack of 48 ft²", 48.0, "41.50"),
    ("Insulation board, closed cell", "sheet of 32 ft²", 32.0, "38.00"),
    ("Skin sheet", "sheet of 40 ft²", 40.0, "148.00"),
    ("Panel adhesive", "1 gal can", 100.0, "62.00"),
    ("Edge sealant", "cartridge", 300.0, "11.80"),
    ("Butyl tape", "roll of 30 ft", 30.0, "9.60"),
    ("Timber preservative", "1 qt can", 75.0, "23.00"),
    ("Fasteners and clips", "box", 1.0, "18.50"),
    ("Cable sleeve and grommets", "set", 1.0, "14.20"),
)

MOULD_CAUTION = (
    "Mould: wear a fitted respirator, gloves and goggles, keep the dust in. "
    "Follow the product label; large areas go to a licensed firm."
)
SOLVENT_CAUTION = "Solvents: open doors, no flame or sparks, gloves and respirator as the label says."
HEIGHT_CAUTION = "Work at height: use a platform with rails; never step on an unproved roof."
WIRE_CAUTION = "Unplug shore power, isolate the battery and prove dead first. Mains wiring: licensed electrician."
STRUCTURE_CAUTION = "Prop the roof and walls before you cut. Structural members: ask an engineer."

RECIPES = (
    Recipe(
        "Open up and inspect",
        "We open the leaking area and look at everything behind it.",
        f"{HEIGHT_CAUTION} {WIRE_CAUTION} Close the LP gas valve.",
        (Labour(Phase.OPEN_UP, "Take off trim and skin, open the area", "body", 2.0, 0.06, "area_ft2", crew=2),),
    ),
    Recipe(
        "Renew the edge seal",
        "We clean the whole edge back to bare material and seal it new.",
        f"{SOLVENT_CAUTION} {HEIGHT_CAUTION}",
        (
            Labour(
                Phase.SEAL_AND_FIT,
                "Clean back and seal the edge",
                "sealing",
                1.0,
                0.09,
                "edge_ft",
                is_in_one_shift=True,
            ),
            Wait(Phase.SEAL_AND_FIT, "Sealant cures", 24.0, "Water test: no drop comes through"),
        ),
        (Stuff("Butyl tape", "edge_ft"), Stuff("Edge sealant", "edge_ft", bead_in=(0.375, 0.375))),
    ),
    Recipe(
        "Renew wet insulation",
        "We take out the wet insulation, dry the space with moving air and fit new insulation.",
        MOULD_CAUTION,
        (
            Labour(Phase.OPEN_UP, "Take out wet insulation", "body", 0.5, 0.04, "area_ft2"),
            Wait(Phase.DRY_OUT, "Dry the open space", 48.0, "Moisture reading is under the limit"),
            Labour(Phase.CLOSE_IN, "Fit new insulation", "body", 0.5, 0.04, "area_ft2"),
        ),
        (Stuff("Mineral wool batt", "area_ft2"),),
        keeps="The wall keeps the build it had.",
        warranty="We stand behind the new insulation for two years.",
        fits=(("wet_insulation", "wait_for_dry"), ("wet_insulation", "rotted")),
    ),
    Recipe(
        "Dry and treat stained framing",
        "We dry the stained framing, treat it so it lasts, and keep it.",
        f"{SOLVENT_CAUTION} {MOULD_CAUTION}",
        (
            Wait(Phase.DRY_OUT, "Dry the framing", 36.0, "Probe and tap: the wood is sound"),
            Labour(Phase.FRAMING, "Brush and treat the framing", "framing", 0.5, 0.05, "length_ft"),
            Wait(Phase.FRAMING, "Treatment dries", 12.0),
        ),
        (Stuff("Timber preservative", "area_ft2", waste=0.15),),
        keeps="All of the first framing stays.",
        warranty="We stand behind the treatment for one year.",
        fits=(("stained_framing", ""), ("rotten_framing", "stained_sound")),
    ),
    Recipe(
        "Cut out and splice framing",
        "We cut out the rotten wood back to sound wood and splice in new framing.",
        STRUCTURE_CAUTION,
        (
            Labour(Phase.FRAMING, "Cut back to sound wood", "framing", 1.0, 0.12, "length_ft"),
            Labour(
                Phase.FRAMING,
                "Splice in new framing",
                "framing",
                1.5,
                0.2,
                "length_ft",
                crew=2,
                hold_point="Splices are tight and in line",
            ),
        ),
        (Stuff("Framing timber, planed", "length_ft", 2.2, 0.12), Stuff("Fasteners and clips", "each", 1.0, 0.0)),
        keeps="All sound framing stays; only the bad length goes.",
        warranty="We stand behind the joint for two years.",
        fits=(("rotten_framing", "rotted"), ("stained_framing", "rotted")),
    ),
    Recipe(
        "Replace decking",
        "We take up the loose deck, back to sound framing, and lay new board.",
        f"{HEIGHT_CAUTION} {STRUCTURE_CAUTION}",
        (
            Labour(Phase.OPEN_UP, "Take up loose decking", "body", 0.5, 0.05, "area_ft2"),
            Labour(Phase.FRAMING, "Lay and fasten new decking", "framing", 1.0, 0.09, "area_ft2", crew=2),
        ),
        (Stuff("Plywood decking", "area_ft2", 1.0, 0.12), Stuff("Fasteners and clips", "each", 1.0, 0.0)),
        keeps="The framing below stays.",
        warranty="We stand behind the new deck for two years.",
        fits=(("loose_decking", ""),),
    ),
    Recipe(
        "Bond loose skin again",
        "We bond the loose skin back on under pressure and let it cure.",
        SOLVENT_CAUTION,
        (
            Labour(
                Phase.CLOSE_IN, "Bond and clamp the skin", "skin", 1.5, 0.07, "area_ft2", crew=2, is_in_one_shift=True
            ),
            Wait(Phase.CLOSE_IN, "Adhesive cures", 24.0, "Skin lies flat and sounds solid"),
        ),
        (Stuff("Panel adhesive", "area_ft2", 1.0, 0.1),),
        keeps="The first skin stays.",
        warranty="We stand behind the bond for one year.",
        fits=(("loose_skin", "loose"),),
    ),
    Recipe(
        "Replace skin panel",
        "We fit a new outer skin panel and bond it on.",
        SOLVENT_CAUTION,
        (
            Labour(Phase.CLOSE_IN, "Cut and dry-fit the new panel", "skin", 1.0, 0.06, "area_ft2"),
            Labour(
                Phase.CLOSE_IN,
                "Bond on the new panel",
                "skin",
                1.0,
                0.06,
                "area_ft2",
                crew=2,
                is_in_one_shift=True,
                hold_point="New panel is flat, edges even",
            ),
            Wait(Phase.CLOSE_IN, "Adhesive cures", 24.0),
        ),
        (Stuff("Skin sheet", "area_ft2", 1.0, 0.15), Stuff("Panel adhesive", "area_ft2", 1.0, 0.1)),
        keeps="The framing stays; the skin is new.",
        warranty="We stand behind the new skin for two years.",
        fits=(("loose_skin", "loose"),),
    ),
    Recipe(
        "Protect wires",
        "We sleeve and clip the bare wires so that no edge can cut them.",
        WIRE_CAUTION,
        (Labour(Phase.FRAMING, "Sleeve and clip the wires", "wiring", 0.75, 0.05, "length_ft"),),
        (Stuff("Cable sleeve and grommets", "each", 1.0, 0.0),),
    ),
    Recipe(
        "Clean and treat mould",
        "We clean the mould off with the area closed off, then treat and dry it.",
        MOULD_CAUTION,
        (
            Labour(Phase.OPEN_UP, "Close off and clean the area", "body", 1.0, 0.08, "area_ft2"),
            Wait(Phase.DRY_OUT, "Dry the cleaned area", 24.0),
        ),
        (Stuff("Timber preservative", "area_ft2", waste=0.1),),
    ),
    Recipe(
        "Replace the whole member",
        "We take the whole length of framing out and fit a new one from end to end.",
        STRUCTURE_CAUTION,
        (
            Labour(Phase.FRAMING, "Take out the old member", "framing", 1.5, 0.15, "length_ft", crew=2),
            Labour(
                Phase.FRAMING,
                "Fit the new member",
                "framing",
                2.0,
                0.28,
                "length_ft",
                crew=2,
                hold_point="New member is tight and in line",
            ),
        ),
        (Stuff("Framing timber, planed", "length_ft", 1.1, 0.12), Stuff("Fasteners and clips", "each", 2.0, 0.0)),
        keeps="The skin and the other framing stay.",
        warranty="We stand behind the whole new length for three years.",
        fits=(("rotten_framing", "rotted"),),
    ),
    Recipe(
        "Strengthen soft framing",
        "We dry and treat the soft wood and fit a new stick beside it.",
        f"{SOLVENT_CAUTION} {STRUCTURE_CAUTION}",
        (
            Wait(Phase.DRY_OUT, "Dry the framing", 36.0, "Probe and tap: the wood has not gone further"),
            Labour(Phase.FRAMING, "Treat it and fit a stick beside it", "framing", 1.0, 0.14, "length_ft"),
            Wait(Phase.FRAMING, "Treatment dries", 12.0),
        ),
        (
            Stuff("Framing timber, planed", "length_ft", 1.1, 0.12),
            Stuff("Timber preservative", "area_ft2", waste=0.15),
            Stuff("Fasteners and clips", "each", 1.0, 0.0),
        ),
        keeps="All of the first framing stays.",
        warranty="We stand behind the new stick for two years.",
        fits=(("rotten_framing", "soft"), ("stained_framing", "soft")),
    ),
    Recipe(
        "Fit board insulation instead",
        "We take out the wet insulation, dry the space and fit stiff board that takes up no water.",
        MOULD_CAUTION,
        (
            Labour(Phase.OPEN_UP, "Take out wet insulation", "body", 0.5, 0.04, "area_ft2"),
            Wait(Phase.DRY_OUT, "Dry the open space", 48.0, "Moisture reading is under the limit"),
            Labour(Phase.CLOSE_IN, "Cut and fit insulation board", "body", 1.0, 0.07, "area_ft2"),
        ),
        (Stuff("Insulation board, closed cell", "area_ft2", waste=0.12), Stuff("Panel adhesive", "area_ft2", 0.5, 0.1)),
        keeps="The framing and the skin stay.",
        warranty="We stand behind the board for three years.",
        fits=(("wet_insulation", "wait_for_dry"), ("wet_insulation", "rotted")),
    ),
    Recipe(
        "Stiffen loose skin from behind",
        "We bond a stiff board behind the loose skin, so that it lies flat and stays put.",
        SOLVENT_CAUTION,
        (
            Labour(Phase.CLOSE_IN, "Cut and dry-fit the board", "skin", 1.0, 0.05, "area_ft2"),
            Labour(Phase.CLOSE_IN, "Bond board and skin", "skin", 1.5, 0.08, "area_ft2", crew=2, is_in_one_shift=True),
            Wait(Phase.CLOSE_IN, "Adhesive cures", 24.0, "Skin lies flat and sounds solid"),
        ),
        (Stuff("Insulation board, closed cell", "area_ft2", waste=0.12), Stuff("Panel adhesive", "area_ft2", 2.0, 0.1)),
        keeps="The first skin and the inner panel stay.",
        warranty="We stand behind the bond for two years.",
        fits=(("loose_skin", "loose"),),
    ),
    Recipe(
        "Final check and hand-over",
        "We check the whole coach, wash it and go through it with you.",
        "LP gas and shore power are tested by the licensed trade before hand-over.",
        (
            Labour(
                Phase.FINAL_CHECK,
                "Check, wash and make ready",
                "body",
                3.0,
                hold_point="Ready to be shown to the owner",
            ),
        ),
    ),
)


def write_catalogue(shop: Shop) -> None:
    """Give a shop its skills, rates, materials and recipes."""
    skills = {name: Skill.objects.create(shop=shop, name=name) for name in SKILLS}
    Rates.objects.create(
        shop=shop,
        labour_usd_per_hour=Decimal("118.00"),
        material_markup_pct=Decimal("30"),
        tax_rate_pct=Decimal("6.25"),
    )
    materials = {
        name: Material.objects.create(
            shop=shop, name=name, sold_unit=unit, pack_quantity=quantity, pack_cost_usd=Decimal(cost)
        )
        for name, unit, quantity, cost in MATERIALS
    }
    for recipe in RECIPES:
        _write_recipe(shop, recipe, skills, materials)


def _write_recipe(shop: Shop, recipe: Recipe, skills: dict[str, Skill], materials: dict[str, Material]) -> None:
    remedy = StandardRemedy.objects.create(
        shop=shop,
        name=recipe.name,
        words=recipe.words,
        caution=recipe.caution,
        keeps=recipe.keeps,
        warranty=recipe.warranty,
    )
    for kind, verdict in recipe.fits:
        RemedyMatch.objects.create(standard=remedy, kind=kind, verdict=verdict)
    for position, step in enumerate(recipe.steps, start=1):
        if isinstance(step, Wait):
            fields = {"kind": OperationKind.WAIT, "setup_hours": step.hours, "is_drying": step.phase == Phase.DRY_OUT}
        else:
            fields = {
                "kind": OperationKind.LABOUR,
                "setup_hours": step.setup_hours,
                "hours_per_unit": step.hours_per_unit,
                "basis": step.basis,
                "skill": skills[step.skill],
                "crew": step.crew,
                "is_in_one_shift": step.is_in_one_shift,
            }
        RecipeOperation.objects.create(
            standard_remedy=remedy,
            position=position,
            phase=step.phase,
            words=step.words,
            hold_point=step.hold_point,
            **fields,
        )
    for item in recipe.stuff:
        width, depth = item.bead_in or (None, None)
        RecipeMaterial.objects.create(
            standard_remedy=remedy,
            material=materials[item.material],
            basis=item.basis,
            per_unit=item.per_unit,
            waste=item.waste,
            bead_width_in=width,
            bead_depth_in=depth,
        )
