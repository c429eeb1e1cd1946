"""Outer skin and its edges: bubbled, badly sealed, corroded, struck, and as it should be."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from PIL import Image, ImageChops

from shopfloor.demo.drawing.fittings import chalk_line, folding_rule, laid_on, screw_heads
from shopfloor.demo.drawing.materials import PLYWOOD, brushed_metal, sheet, wood
from shopfloor.demo.drawing.paint import (
    SIZE,
    Colour,
    Picture,
    Point,
    bend,
    blurred,
    cloud,
    curve,
    darkened,
    disc,
    ellipse,
    fade,
    glazed,
    glow,
    levels,
    lit,
    mix,
    pasted,
    polygon,
    ramp,
    rectangle,
    relief,
    shadow,
    stained,
    strokes,
    tinted,
    wander,
)

WIDTH, HEIGHT = SIZE
SKIN: Colour = (216, 214, 206)
MESH_PX = 25


@dataclass(frozen=True)
class Bubble:
    """A place where the skin has come away and stands out."""

    centre: Point
    radius: Point
    rise: float

    def height(self, x: float, y: float) -> float:
        away = ((x - self.centre[0]) / self.radius[0]) ** 2 + ((y - self.centre[1]) / self.radius[1]) ** 2
        return self.rise * (1 - away) ** 2 if away < 1 else 0.0


def loose_skin(rng: Random) -> Picture:
    """A sheet with bubbles that bend what it mirrors, its lower edge standing off the wall."""
    bubbles = [
        Bubble((420 + rng.uniform(-90, 90), 330 + rng.uniform(-50, 50)), (360, 215), 1.0),
        Bubble((1080 + rng.uniform(-90, 90), 420 + rng.uniform(-60, 60)), (430, 260), 1.25),
        Bubble((640 + rng.uniform(-120, 120), 720), (420, 130), 0.6),
        Bubble((1330, 760 + rng.uniform(-30, 30)), (300, 120), 0.5),
        Bubble((150, 690), (210, 240), 0.5),
    ]
    skin = _mirroring(rng, bubbles, SKIN)
    wall = _glued_wall(rng)
    droop = rng.uniform(20, 60)
    edge = bend((-20, 930), (420, 925), (760, 1010 + droop), (1120, 1090 + droop), (1620, 900), steps=40)
    mask = polygon(SIZE, [(-20, -20), *edge, (1620, -20)], blur_px=0.8)
    canvas = shadow(wall, mask, move=(26, 62), blur_px=26, strength=0.85)
    canvas = darkened(canvas, strokes(SIZE, [[(x, y + 14) for x, y in edge]], 34, 8), 0.8)
    canvas = pasted(canvas, skin, mask)
    curl = strokes(SIZE, [[(x, y - 46) for x, y in edge]], 46, 22)
    canvas = glazed(canvas, mix(curl, mask), 0.5)
    canvas = darkened(canvas, mix(strokes(SIZE, [[(x, y - 4) for x, y in edge]], 26, 9), mask), 0.35)
    canvas = tinted(canvas, (168, 166, 160), strokes(SIZE, [[(x, y + 3) for x, y in edge]], 8))
    canvas = glazed(canvas, strokes(SIZE, [edge], 2.5, 0.6), 0.6)
    return laid_on(canvas, folding_rule(10, 6), (rng.uniform(760, 880), 900), 90 + rng.uniform(-3, 3), lift_px=12)


def _glued_wall(rng: Random) -> Picture:
    """Ply with the torn threads of its old adhesive."""
    wall = wood(rng, SIZE, PLYWOOD, rings=7, knots=1)
    glue = ramp(mix(cloud(rng, SIZE, (300, 36), 4), fade(SIZE, 0.4, 0.8)), 0.40, 0.48)
    wall = tinted(wall, (206, 186, 122), glue, 0.8)
    return lit(wall, relief(blurred(glue, 1.5), gain=0.4))


def _mirroring(rng: Random, bubbles: Sequence[Bubble], colour: Colour) -> Picture:
    """A glossy sheet: shaded by its bubbles, and mirroring the room as their slopes turn it."""
    skin = sheet(rng, SIZE, colour)
    mirrored = _bent(_room(rng, is_busy=bool(bubbles)), bubbles)
    skin = darkened(skin, ImageChops.invert(mirrored), 0.30)
    if bubbles:
        height = Image.new("L", SIZE)
        for bubble in bubbles:
            dome = levels(glow(SIZE, bubble.centre, bubble.radius), 0, bubble.rise * 0.55)
            height = ImageChops.add(height, dome)
        skin = lit(skin, relief(blurred(height, 14), gain=2.4, reach_px=14))
    return glazed(skin, ramp(mirrored, 0.72, 1.0), 0.5)


def _room(rng: Random, *, is_busy: bool) -> Picture:
    """What a shiny skin mirrors of a workshop: tube lights aslant, a dark wall low down."""
    room = curve(fade(SIZE, 0.2, 1.1), lambda v: 0.58 - 0.2 * v)
    shift, slant = rng.uniform(-40, 40), rng.choice((-1, 1)) * (20 if is_busy else 260)
    lamps = ((130, 44), (400, 58), (740, 48), (1060, 40)) if is_busy else ((210 + shift, 90), (355 + shift, 22))
    bright = [
        [(-200, y + slant), (1800, y - slant), (1800, y - slant + tall), (-200, y + slant + tall)] for y, tall in lamps
    ]
    if is_busy:
        dark = [rectangle(-200, y + shift, 1800, y + tall + shift) for y, tall in ((250, 60), (560, 110), (910, 70))]
        room = Image.composite(Image.new("L", SIZE, 62), room, polygon(SIZE, *dark, blur_px=26))
    return Image.composite(Image.new("L", SIZE, 250), room, polygon(SIZE, *bright, blur_px=9 if is_busy else 16))


def _bent(room: Picture, bubbles: Sequence[Bubble]) -> Picture:
    """The mirrored room pulled about by the slopes of the bubbles."""
    if not bubbles:
        return room

    def seen_from(x: float, y: float) -> Point:
        level = sum(bubble.height(x, y) for bubble in bubbles)
        slope_x = sum(bubble.height(x + 4, y) for bubble in bubbles) - level
        slope_y = sum(bubble.height(x, y + 4) for bubble in bubbles) - level
        return (x + slope_x * 3600, y + slope_y * 3600)

    across, down = WIDTH // MESH_PX, HEIGHT // MESH_PX
    knots = {(i, j): seen_from(i * MESH_PX, j * MESH_PX) for i in range(across + 1) for j in range(down + 1)}
    mesh: list[tuple[tuple[int, int, int, int], tuple[float, ...]]] = []
    for i in range(across):
        for j in range(down):
            corners = (knots[i, j], knots[i, j + 1], knots[i + 1, j + 1], knots[i + 1, j])
            target = (i * MESH_PX, j * MESH_PX, (i + 1) * MESH_PX, (j + 1) * MESH_PX)
            mesh.append((target, tuple(value for corner in corners for value in corner)))
    return room.transform(SIZE, Image.Transform.MESH, mesh, Image.Resampling.BILINEAR)


def new_skin(rng: Random) -> Picture:
    """Finished work: smooth skin with straight reflections, a clean trim, an even bead."""
    canvas = _mirroring(rng, [], (228, 226, 218))
    stripe = 660 + rng.uniform(-60, 60)
    canvas = stained(canvas, (190, 122, 82), polygon(SIZE, rectangle(-20, stripe, 1620, stripe + 74), blur_px=1))
    canvas = stained(canvas, (96, 92, 90), polygon(SIZE, rectangle(-20, stripe + 92, 1620, stripe + 108), blur_px=1))
    left = 180 + rng.uniform(-40, 40)
    trim = polygon(SIZE, rectangle(left, -20, left + 150, 1220), blur_px=0.8)
    canvas = shadow(canvas, trim, move=(10, 4), blur_px=8, strength=0.5)
    metal = brushed_metal(rng, (HEIGHT, WIDTH), (150, 152, 154), (228, 229, 229)).transpose(Image.Transpose.ROTATE_90)
    canvas = pasted(canvas, metal, trim)
    canvas = glazed(canvas, strokes(SIZE, [[(left + 34, -20), (left + 34, 1220)]], 16, 7), 0.5)
    insert = polygon(SIZE, rectangle(left + 52, -20, left + 104, 1220), blur_px=0.8)
    canvas = tinted(canvas, (64, 62, 60), insert)
    canvas = glazed(canvas, strokes(SIZE, [[(left + 68, -20), (left + 68, 1220)]], 9, 4), 0.35)
    return _even_bead(canvas, left + 162)


def _even_bead(canvas: Picture, x: float) -> Picture:
    line = [(x, -20.0), (x, 1220.0)]
    bead = strokes(SIZE, [line], 24, 0.8)
    canvas = shadow(canvas, bead, move=(5, 3), blur_px=4, strength=0.4)
    canvas = tinted(canvas, (238, 236, 230), bead)
    canvas = darkened(canvas, strokes(SIZE, [[(x + 9, -20), (x + 9, 1220)]], 6, 3), 0.3)
    return glazed(canvas, strokes(SIZE, [[(x - 4, -20), (x - 4, 1220)]], 5, 2), 0.8)


def failed_seal(rng: Random) -> Picture:
    """A trim with its bead of sealant shrunk, cracked across and gone in places, dirt drawn in."""
    canvas = sheet(rng, SIZE, SKIN)
    canvas = darkened(canvas, mix(cloud(rng, SIZE, (60, 700), 3), fade(SIZE, 0.45, 1)), 0.14)
    trim_top, trim_bottom = 600.0, 900.0
    canvas = _trim_across(canvas, rng, trim_top, trim_bottom)
    gap = strokes(SIZE, [[(-20, trim_top - 8), (1620, trim_top - 8)]], 20, 1)
    canvas = darkened(canvas, gap, 0.93)
    canvas = darkened(canvas, strokes(SIZE, [[(-20, trim_top - 30), (1620, trim_top - 30)]], 60, 22), 0.4)
    for left, right, lift in _bead_pieces(rng):
        canvas = _old_bead(canvas, rng, left, right, trim_top, lift)
    for _ in range(11):
        x = rng.uniform(60, 1540)
        run = wander(
            rng, (x, trim_top), (x + rng.uniform(-14, 14), trim_top + rng.uniform(250, 600)), steps=10, sway_px=3
        )
        canvas = stained(
            canvas, (168, 150, 122), mix(strokes(SIZE, [run], rng.uniform(8, 26), 7), fade(SIZE, 1.0, 0.6))
        )
    canvas = screw_heads(canvas, rng, [(180 + 410 * n + rng.uniform(-20, 20), 756) for n in range(4)], 38)
    return laid_on(canvas, folding_rule(18, 6.6), (800 + rng.uniform(-80, 80), 1050), rng.uniform(-3, 3))


def _trim_across(canvas: Picture, rng: Random, top: float, bottom: float) -> Picture:
    trim = polygon(SIZE, rectangle(-20, top, 1620, bottom), blur_px=0.8)
    canvas = shadow(canvas, trim, move=(0, 16), blur_px=12, strength=0.55)
    canvas = pasted(canvas, brushed_metal(rng, SIZE), trim)
    for y, width in ((top + 10, 12), (bottom - 62, 8)):
        canvas = glazed(canvas, strokes(SIZE, [[(-20, y), (1620, y)]], width, 4), 0.55)
    for y, width in ((bottom - 8, 20), (bottom - 50, 8), (top + 62, 6)):
        canvas = darkened(canvas, strokes(SIZE, [[(-20, y), (1620, y)]], width, 4), 0.5)
    return canvas


def _bead_pieces(rng: Random) -> list[tuple[float, float, float]]:
    """Left, right and lift [px] of what is left of the bead: one length gone, one standing off."""
    first = rng.uniform(470, 560)
    hole = rng.uniform(150, 210)
    second = first + hole + rng.uniform(300, 380)
    return [(-30, first, 0), (first + hole, second, 26), (second + rng.uniform(26, 50), 1630, 0)]


def _old_bead(canvas: Picture, rng: Random, left: float, right: float, y: float, lift: float) -> Picture:
    middle = (left + right) / 2
    upper = wander(rng, (left, y - 62), (right, y - 62), steps=26, sway_px=3)
    lower = wander(rng, (right - 10, y + 10), (left + 8, y + 10), steps=26, sway_px=3)
    outline = [(a, b - lift * math.sin(math.pi * (a - left) / (right - left)) ** 2) for a, b in [*upper, *lower]]
    mask = polygon(SIZE, outline, blur_px=1)
    canvas = shadow(canvas, mask, move=(4, 10 + round(lift * 0.9)), blur_px=6 + lift * 0.3, strength=0.75)
    tone = Image.new("RGB", SIZE, (212, 202, 176))
    tone = stained(tone, (206, 190, 158), cloud(rng, SIZE, (180, 40), 4))
    body = lit(tone, relief(blurred(mask, 12), gain=0.9, reach_px=10))
    body = lit(body, relief(cloud(rng, SIZE, (14, 10), 2), gain=0.3))
    canvas = pasted(canvas, body, mask)
    cracks = [
        _crack(rng, x, y - lift * math.sin(math.pi * (x - left) / (right - left)) ** 2)
        for x in _spread(rng, left, right)
    ]
    along = wander(rng, (left, y - 22), (middle, y - 30), steps=22, sway_px=5)
    canvas = darkened(canvas, mix(strokes(SIZE, cracks, 7, 2.2), mask), 0.35)
    canvas = darkened(canvas, mix(strokes(SIZE, cracks[::2], 5.5, 0.6), mask), 0.9)
    canvas = darkened(canvas, mix(strokes(SIZE, cracks[1::2], 3, 0.5), mask), 0.85)
    return canvas if lift else darkened(canvas, mix(strokes(SIZE, [along], 4, 0.6), mask), 0.85)


def _spread(rng: Random, left: float, right: float) -> list[float]:
    places = []
    x = left + rng.uniform(10, 40)
    while x < right:
        places.append(x)
        x += rng.choice((rng.uniform(14, 30), rng.uniform(40, 120)))
    return places


def _crack(rng: Random, x: float, y: float) -> list[Point]:
    top, bottom = rng.choice([(-72, 20), (-72, -20), (-40, 20)])
    return wander(rng, (x, y + top), (x + rng.gauss(0, 14), y + bottom), steps=6, sway_px=4)


def corrosion(rng: Random) -> Picture:
    """An aluminium trim pitted and furred with white, its steel screws bleeding brown."""
    canvas = sheet(rng, SIZE, SKIN)
    top, bottom = 300.0, 830.0
    canvas = _trim_across(canvas, rng, top, bottom)
    trim = polygon(SIZE, rectangle(-20, top + 6, 1620, bottom - 6), blur_px=2)
    screws = [(260 + 540 * n + rng.uniform(-40, 40), 560 + rng.uniform(-12, 12)) for n in range(3)]
    near = Image.new("L", SIZE)
    for x, y in screws:
        near = ImageChops.add(near, glow(SIZE, (x + rng.uniform(-40, 40), y), (400, 330)))
    field = Image.blend(near, cloud(rng, SIZE, (150, 110), 5), 0.5)
    dull = mix(ramp(field, 0.28, 0.5), trim)
    canvas = stained(canvas, (170, 168, 164), dull)
    canvas = _pits(canvas, rng, dull)
    canvas = _bloom(canvas, rng, mix(ramp(field, 0.47, 0.56), trim))
    for x, y in screws:
        rust = mix(
            Image.blend(glow(SIZE, (x, y + 20), (160, 190)), cloud(rng, SIZE, (50, 60), 4), 0.4),
            glow(SIZE, (x, y + 20), (190, 230)),
        )
        canvas = stained(canvas, (176, 112, 62), ramp(rust, 0.12, 0.34))
        canvas = stained(canvas, (128, 76, 46), ramp(rust, 0.34, 0.6))
        run = wander(rng, (x, y + 30), (x + rng.uniform(-20, 20), 1130), steps=12, sway_px=3)
        canvas = stained(
            canvas, (186, 142, 98), mix(strokes(SIZE, [run], rng.uniform(24, 44), 11), fade(SIZE, 0.93, 0.6))
        )
    canvas = screw_heads(canvas, rng, screws, 44, (134, 92, 64))
    for x, y in screws:
        canvas = darkened(canvas, mix(cloud(rng, SIZE, (14, 14), 2), disc(SIZE, (x, y), (44, 44), 1)), 0.6)
    return laid_on(canvas, folding_rule(15, 8), (800 + rng.uniform(-100, 100), 1040), rng.uniform(-3, 3))


def _pits(canvas: Picture, rng: Random, where: Picture) -> Picture:
    floor = ramp(cloud(rng, SIZE, (17, 15), 2), 0.36, 0.24)
    deep = mix(floor, where)
    canvas = lit(canvas, relief(ImageChops.invert(blurred(deep, 1)), gain=0.55, reach_px=2))
    return darkened(canvas, deep, 0.62)


def _bloom(canvas: Picture, rng: Random, where: Picture) -> Picture:
    """White powder, standing up in crusts."""
    lumps = cloud(rng, SIZE, (26, 22), 3)
    crust = mix(where, ramp(lumps, 0.3, 0.55))
    powder = lit(Image.new("RGB", SIZE, (222, 222, 214)), relief(lumps, gain=0.9))
    canvas = darkened(canvas, blurred(crust, 5), 0.3)
    return pasted(canvas, powder, curve(crust, lambda v: v * 0.93))


def other(rng: Random) -> Picture:
    """A struck place in the skin: a small hole with cracks round it, ringed in chalk."""
    canvas = _mirroring(rng, [], (206, 208, 206))
    hit = (800 + rng.uniform(-130, 130), 570 + rng.uniform(-60, 60))
    dent = glow(SIZE, hit, (300, 260))
    canvas = lit(canvas, relief(ImageChops.invert(dent), gain=1.6, reach_px=10))
    cracks: list[list[Point]] = []
    for step in range(9):
        turn = math.tau * (step + rng.uniform(-0.3, 0.3)) / 9
        reach = rng.uniform(90, 230)
        end = (hit[0] + math.cos(turn) * reach, hit[1] + math.sin(turn) * reach)
        cracks.append(wander(rng, hit, end, steps=9, sway_px=6))
    canvas = glazed(canvas, strokes(SIZE, [[(x + 2, y + 2) for x, y in crack] for crack in cracks], 3, 0.8), 0.5)
    canvas = darkened(canvas, strokes(SIZE, cracks, 3.5, 0.6), 0.8)
    hole = [(x + rng.uniform(-9, 9), y + rng.uniform(-9, 9)) for x, y in ellipse(hit, (46, 38), 14)]
    canvas = tinted(
        canvas,
        (172, 150, 112),
        polygon(SIZE, [(hit[0] + (x - hit[0]) * 1.25, hit[1] + (y - hit[1]) * 1.25) for x, y in hole], blur_px=1),
    )
    canvas = tinted(canvas, (24, 22, 20), polygon(SIZE, hole, blur_px=1.5))
    ring = [(x + rng.gauss(0, 2), y + rng.gauss(0, 2)) for x, y in ellipse(hit, (300 + rng.uniform(-20, 20), 270), 40)]
    canvas = chalk_line(canvas, rng, ring, width_px=12, colour=(52, 86, 148))
    tail = (hit[0] + 560 * rng.choice((-1, 1)), hit[1] - 330)
    side = 1 if tail[0] > hit[0] else -1
    tip = (hit[0] + side * 270, hit[1] - 160)
    canvas = chalk_line(canvas, rng, [tail, tip, (tip[0] + side * 70, tip[1] + 12)], width_px=12, colour=(52, 86, 148))
    canvas = chalk_line(canvas, rng, [tip, (tip[0] + side * 22, tip[1] - 68)], width_px=12, colour=(52, 86, 148))
    return laid_on(canvas, folding_rule(16, 5.6), (hit[0] + rng.uniform(-60, 60), 980), rng.uniform(-4, 4))
