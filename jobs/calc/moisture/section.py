"""What is left of a member once its soft layer counts as nothing.

Geometry of a rectangle, for a soft layer on a face across the depth that bends (top or bottom of a stud or
beam laid that way). It is an upper bound: wood beside the soft layer can have lost strength and still feel
hard, see EARLY_DECAY_NOTE. No published relation of probe depth to the strength of thin framing was found.
"""

from dataclasses import dataclass
from typing import Literal

from jobs.calc.lengths import print_length
from jobs.calc.moisture.ranges import check_range

SoftFaces = Literal[1, 2]

DEPTH_RANGE_MM = (1.0, 1000.0)
# Wilcox 1978, Wood and Fiber 9:252-257 (weight loss below 10 %); NAVFAC MO-312.1 (early decay looks unchanged);
# Mitsuhashi Gonzalez 2010, OSU thesis (six weeks at 25 and 35 C, small beams of Douglas-fir, hemlock, southern pine).
EARLY_DECAY_NOTE = (
    "Strength can be gone before wood looks bad. Toughness is almost wholly lost before a tenth of the weight is, "
    "early decay looks like sound wood, and small beams lost 20 to 40 % of their strength in six warm weeks. "
    "So the true figure may be lower."
)
ENGINEER_NOTE = "Structural members: ask an engineer."
PANEL_NOTE = "For plywood this is rough: its layers do not carry alike."


@dataclass(frozen=True)
class RemainingSection:
    """Shares (0 to 1) left: area (pull, shear), section modulus (bending strength), moment of inertia (stiffness)."""

    area: float
    section_modulus: float
    moment_of_inertia: float


def remaining_section(depth_mm: float, soft_mm: float, *, soft_faces: SoftFaces = 1) -> RemainingSection:
    """Shares of a rectangular section left after soft wood is counted as nothing.

    depth_mm: sound depth in the direction of bending, 1 to 1000. soft_mm: soft layer, 0 to depth_mm, on one face
    or on each of both (soft_faces). Layers that meet leave nothing.
    Raises ValueError if a number is outside its range.
    Source: mechanics; area goes with the depth, section modulus with its square, moment of inertia with its cube.
    """
    check_range("depth_mm", depth_mm, DEPTH_RANGE_MM)
    check_range("soft_mm", soft_mm, (0.0, depth_mm))
    if soft_faces not in (1, 2):
        raise ValueError(f"soft_faces must be 1 or 2, got {soft_faces!r}")
    left = max(1 - soft_faces * soft_mm / depth_mm, 0.0)
    return RemainingSection(area=left, section_modulus=left**2, moment_of_inertia=left**3)


def remaining_in_words(
    depth_mm: float, soft_mm: float, *, units: str, soft_faces: SoftFaces = 1, is_panel: bool = False
) -> str:
    """The remaining section in two or three sentences for a page; units "us" or "metric".

    Raises ValueError as remaining_section does, or if units is neither. EARLY_DECAY_NOTE belongs beside it.
    """
    left = remaining_section(depth_mm, soft_mm, soft_faces=soft_faces)
    depth, soft = print_length(depth_mm, units=units), print_length(soft_mm, units=units)
    where = f"{depth} member, {soft} soft{' on each of two faces' if soft_faces == 2 else ''}"
    if left.area == 0:
        words = f"Nothing sound is left ({where})."
    else:
        words = (
            f"At most about {left.section_modulus:.0%} of its bending strength and {left.moment_of_inertia:.0%} of its "
            f"stiffness are left ({where}), counting soft wood as nothing."
        ).replace("%", " %")
    return " ".join([words, *([PANEL_NOTE] if is_panel else []), ENGINEER_NOTE])
