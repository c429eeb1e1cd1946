"""What things are made of: wood, glass wool, metal, sheet, strand board, concrete, seen close up."""

import math
from dataclasses import dataclass
from random import Random

from PIL import Image, ImageChops, ImageDraw, ImageOps

from shopfloor.demo.drawing.paint import (
    Colour,
    Picture,
    Size,
    blurred,
    cloud,
    curve,
    darkened,
    fade,
    glow,
    lit,
    ramp,
    relief,
)


@dataclass(frozen=True)
class WoodTone:
    """The dark, middle and light of one wood."""

    dark: Colour
    middle: Colour
    light: Colour


NEW_SPRUCE = WoodTone((178, 128, 78), (219, 178, 126), (242, 214, 168))
AGED_SPRUCE = WoodTone((122, 84, 50), (176, 133, 87), (206, 168, 120))
PLYWOOD = WoodTone((150, 108, 66), (196, 154, 104), (220, 184, 136))


def wood(
    rng: Random, size: Size, tone: WoodTone, *, rings: float = 9, upright: bool = False, knots: int = 1
) -> Picture:
    """A board with its grain along the width, or along the height if upright."""
    if upright:
        lying = wood(rng, (size[1], size[0]), tone, rings=rings, knots=knots)
        return lying.transpose(Image.Transpose.ROTATE_90)
    field = Image.blend(cloud(rng, size, (size[0] * 0.7, size[1] * 0.6), 2), fade(size, 0, 1), 0.5)
    marks = [_knot(rng, size) for _ in range(knots)]
    for centre, radius in marks:
        field = ImageChops.add(field, curve(glow(size, centre, (radius * 5, radius * 1.7)), lambda v: v * 0.35))
    grain = blurred(curve(field, lambda v: 0.55 + 0.45 * _ring(v * rings)), 1.2)
    fibre = cloud(rng, size, (170, 3.2), 2)
    figure = Image.blend(Image.blend(grain, fibre, 0.42), cloud(rng, size, (420, 160), 2), 0.22)
    board = ImageOps.colorize(figure, tone.dark, tone.light, tone.middle, midpoint=120)
    for centre, radius in marks:
        spot = glow(size, centre, (radius * 1.15, radius * 0.8))
        board = darkened(board, ramp(spot, 0.05, 0.55), 0.55)
        board = darkened(board, ramp(spot, 0.55, 0.95), 0.3)
    return lit(board, relief(fibre, gain=0.22))


def _ring(turns: float) -> float:
    """One year of growth: slowly darker, then back to light at once."""
    part = turns - math.floor(turns)
    return 1 - 2 * part**2.2 if part < 0.88 else -1 + 2 * (part - 0.88) / 0.12


def _knot(rng: Random, size: Size) -> tuple[tuple[float, float], float]:
    centre = (size[0] * rng.uniform(0.15, 0.85), size[1] * rng.uniform(0.25, 0.75))
    return centre, size[1] * rng.uniform(0.07, 0.12)


def wool_height(rng: Random, size: Size) -> Picture:
    """How a glass wool batt stands up: soft billows under a felt of fine fibres."""
    felt = Image.new("L", size)
    tile = _felt(rng, 512)
    turns = [Image.Transpose.FLIP_LEFT_RIGHT, Image.Transpose.FLIP_TOP_BOTTOM, Image.Transpose.ROTATE_180]
    for top in range(0, size[1], 512):
        for left in range(0, size[0], 512):
            felt.paste(tile.transpose(rng.choice(turns)), (left, top))
    return Image.blend(cloud(rng, size, (200, 130), 4), felt, 0.30)


def _felt(rng: Random, side: int) -> Picture:
    felt = Image.new("L", (side, side), 120)
    pen = ImageDraw.Draw(felt)
    for _ in range(3600):
        x, y = rng.uniform(-20, side), rng.uniform(-20, side)
        lean, length = rng.gauss(0, 0.7), rng.uniform(14, 60)
        bow = rng.uniform(-6, 6)
        middle = (x + math.cos(lean) * length / 2, y + math.sin(lean) * length / 2 + bow)
        pen.line(
            [(x, y), middle, (x + math.cos(lean) * length, y + math.sin(lean) * length)], rng.randrange(40, 245), 1
        )
    return blurred(felt, 1.0)


def glass_wool(height: Picture) -> Picture:
    """Plain undyed wool: straw white, coloured by its own height."""
    wool = ImageOps.colorize(height, (150, 132, 98), (246, 240, 220), (214, 202, 168), midpoint=122)
    return lit(wool, relief(height, gain=1.0, reach_px=2))


def brushed_metal(rng: Random, size: Size, dark: Colour = (118, 121, 124), light: Colour = (216, 218, 219)) -> Picture:
    """Bare aluminium, brushed along the width, with the soft bands of what it mirrors."""
    bands = cloud(rng, size, (size[0] * 3, size[1] * 0.45), 2)
    lines = cloud(rng, size, (420, 2.4), 2)
    return ImageOps.colorize(Image.blend(bands, lines, 0.33), dark, light)


def galvanised(rng: Random, size: Size) -> Picture:
    """Zinc-coated steel with its dull spangle."""
    spangle = curve(cloud(rng, size, (46, 46), 1), lambda v: round(v * 7) / 7)
    bands = cloud(rng, size, (size[0] * 2, size[1] * 0.6), 1)
    return ImageOps.colorize(Image.blend(spangle, bands, 0.6), (112, 118, 123), (196, 201, 204))


def strand_board(rng: Random, size: Size) -> Picture:
    """Oriented strand board: overlapping flakes, mostly along the width."""
    flakes = Image.new("RGB", size, (188, 148, 96))
    pen = ImageDraw.Draw(flakes)
    for _ in range(round(size[0] * size[1] / 900)):
        pen.polygon(_flake(rng, size), fill=_flake_colour(rng))
    height = flakes.convert("L")
    fibre = cloud(rng, size, (90, 3), 2)
    return lit(lit(blurred(flakes, 0.7), relief(height, gain=0.8)), relief(fibre, gain=0.25))


def _flake(rng: Random, size: Size) -> list[tuple[float, float]]:
    x, y, lean = rng.uniform(0, size[0]), rng.uniform(0, size[1]), rng.gauss(0, 0.55)
    along, across = rng.uniform(35, 105), rng.uniform(8, 24)
    cos, sin = math.cos(lean), math.sin(lean)
    ragged = [(-1, -0.6), (-0.6, -1), (0.7, -1), (1, -0.3), (0.8, 0.9), (-0.7, 1)]
    return [(x + along * a * cos - across * b * sin, y + along * a * sin + across * b * cos) for a, b in ragged]


def _flake_colour(rng: Random) -> Colour:
    light = rng.gauss(0, 17)
    warm = rng.gauss(0, 6)
    return (round(200 + light + warm), round(160 + light), round(106 + light * 0.9 - warm))


def sheet(rng: Random, size: Size, colour: Colour) -> Picture:
    """Painted or gel-coated skin: one colour, barely uneven."""
    plain = Image.new("RGB", size, colour)
    return lit(plain, curve(cloud(rng, size, (700, 500), 2), lambda v: 0.502 + 0.035 * (v - 0.5)))


def concrete(rng: Random, size: Size) -> Picture:
    """A trowelled floor: grey, blotched, lightly scuffed."""
    blots = cloud(rng, size, (330, 120), 5)
    return ImageOps.colorize(blots, (128, 124, 117), (186, 182, 174))
