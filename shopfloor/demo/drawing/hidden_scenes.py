"""What shows once a layer is off: decking that lifts, and wires that nothing protects."""

import math
from random import Random

from PIL import Image

from shopfloor.demo.drawing.fittings import folding_rule, laid_on, screw_heads, staple, wire
from shopfloor.demo.drawing.framing import skin_back
from shopfloor.demo.drawing.materials import (
    AGED_SPRUCE,
    galvanised,
    glass_wool,
    strand_board,
    wood,
    wool_height,
)
from shopfloor.demo.drawing.paint import (
    SIZE,
    Colour,
    Picture,
    Point,
    bend,
    cloud,
    darkened,
    ellipse,
    glazed,
    glow,
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


def loose_decking(rng: Random) -> Picture:
    """Two deck boards at a joint: the far one has lifted, its staples are drawn, and there is black under it."""
    near = strand_board(rng, SIZE)
    seam = 700 + rng.uniform(-30, 30)
    lift = rng.uniform(150, 185)
    edge = bend(
        (-20, seam - 18), (420, seam - 26), (820, seam - 60), (1240, seam - lift), (1620, seam - lift - 66), steps=40
    )
    thick = [(x, y + 52 + 10 * x / 1600) for x, y in edge]
    canvas = _under_the_deck(rng, near, seam)
    underside = polygon(SIZE, [*thick, (1620, seam), (-20, seam)], blur_px=3)
    canvas = darkened(canvas, underside, 0.75)
    canvas = pasted(canvas, strand_board(rng, SIZE), polygon(SIZE, [(-20, -20), *edge, (1620, -20)]))
    canvas = _cut_edge(canvas, rng, edge, thick)
    rise = polygon(SIZE, [(500, seam - 300), *[point for point in edge if point[0] > 500], (1620, 120)], blur_px=60)
    canvas = glazed(canvas, mix(rise, polygon(SIZE, [(-20, -20), *edge, (1620, -20)])), 0.16)
    canvas = shadow(canvas, strokes(SIZE, [[(x, y) for x, y in thick]], 12), move=(0, 20), blur_px=14, strength=0.5)
    canvas = _dark_of_water(canvas, rng, seam)
    for n in range(4):
        at = (170 + 370 * n + rng.uniform(-50, 50), _level(edge, 170 + 370 * n) - rng.uniform(60, 84))
        canvas = staple(
            canvas, at, width_px=62, rise_px=rng.uniform(44, 92), lean_px=rng.uniform(-22, 22), colour=(186, 186, 184)
        )
    for n in range(3):
        at = (330 + 420 * n + rng.uniform(-60, 60), seam + rng.uniform(80, 112))
        canvas = staple(
            canvas, at, width_px=62, rise_px=rng.uniform(14, 40), lean_px=rng.uniform(-14, 14), colour=(178, 172, 164)
        )
    return laid_on(
        canvas, folding_rule(10, 5.4), (1180 + rng.uniform(-40, 40), seam - 60), 90 + rng.uniform(-4, 4), lift_px=9
    )


def _level(line: list[Point], x: float) -> float:
    return min(line, key=lambda point: abs(point[0] - x))[1]


def _under_the_deck(rng: Random, near: Picture, seam: float) -> Picture:
    """In the gap: a joist, and otherwise the dark."""
    canvas = stained(near, (70, 56, 44), polygon(SIZE, rectangle(-20, 0, 1620, seam)))
    joist = wood(rng, SIZE, AGED_SPRUCE, upright=True)
    canvas = pasted(canvas, joist, polygon(SIZE, rectangle(1220, 0, 1420, seam)))
    canvas = darkened(canvas, strokes(SIZE, [[(-20, seam - 4), (1620, seam - 4)]], 14, 2), 0.9)
    return glazed(canvas, strokes(SIZE, [[(-20, seam + 6), (1620, seam + 6)]], 4, 1.5), 0.4)


def _cut_edge(canvas: Picture, rng: Random, edge: list[Point], thick: list[Point]) -> Picture:
    """The sawn edge of the board, its strands seen end on."""
    strip = polygon(SIZE, [*edge, *reversed(thick)])
    grain = cloud(rng, SIZE, (120, 7), 3)
    sawn = Image.merge(
        "RGB", [grain.point([round(k * (0.55 + 0.45 * v / 255)) for v in range(256)]) for k in (190, 148, 98)]
    )
    sawn = darkened(sawn, ramp(cloud(rng, SIZE, (70, 6), 2), 0.55, 0.75), 0.5)
    canvas = pasted(canvas, lit(sawn, relief(grain, gain=0.6)), strip)
    canvas = darkened(canvas, mix(strokes(SIZE, [thick], 26, 9), strip), 0.55)
    return glazed(canvas, strokes(SIZE, [edge], 4, 1), 0.45)


def _dark_of_water(canvas: Picture, rng: Random, seam: float) -> Picture:
    wet = Image.blend(glow(SIZE, (1150, seam), (760, 260)), cloud(rng, SIZE, (170, 90), 4), 0.35)
    canvas = stained(canvas, (190, 164, 132), ramp(wet, 0.3, 0.42))
    return stained(canvas, (200, 178, 150), ramp(wet, 0.44, 0.6))


WIRE_COLOURS: tuple[Colour, ...] = ((176, 34, 30), (34, 34, 36), (226, 224, 214), (214, 176, 44), (44, 82, 152))


def exposed_wire(rng: Random) -> Picture:
    """Wires pulled through a torn hole in a metal member with no grommet, one cut to the copper."""
    canvas = _bay_behind(rng)
    left, right = 560 + rng.uniform(-40, 40), 1130 + rng.uniform(-40, 40)
    member = polygon(SIZE, rectangle(left, -20, right, 1220), blur_px=0.8)
    canvas = shadow(canvas, member, move=(30, 14), blur_px=26, strength=0.7)
    middle = ((left + right) / 2 + rng.uniform(-30, 30), 590 + rng.uniform(-50, 50))
    paths = _runs(rng, middle)
    for path, colour in zip(paths, WIRE_COLOURS, strict=True):
        canvas = wire(canvas, [point for point in path if point[0] > middle[0] - 20], 34, colour, drop_px=20)
    ragged = [(x + rng.gauss(0, 8), y + rng.gauss(0, 8)) for x, y in ellipse(middle, (135, 150), 26)][:-1]
    hole = polygon(SIZE, ragged, blur_px=0.8)
    solid = Image.composite(Image.new("L", SIZE), member, hole)
    metal = _flanged(galvanised(rng, SIZE), left, right)
    metal = screw_heads(metal, rng, [((left + right) / 2 + rng.uniform(-60, 60), y) for y in (130, 1070)], 34)
    canvas = shadow(canvas, solid, move=(16, 18), blur_px=12, strength=0.7)
    canvas = pasted(canvas, metal, solid)
    canvas = _torn_rim(canvas, ragged, solid)
    behind = canvas
    for path, colour in zip(paths, WIRE_COLOURS, strict=True):
        canvas = wire(canvas, [point for point in path if point[0] <= middle[0] + 220], 34, colour, drop_px=16)
    far_side = mix(solid, polygon(SIZE, rectangle(middle[0], -20, 1620, 1220)))
    beyond = polygon(SIZE, rectangle(right, -20, 1620, 1220))
    canvas = pasted(pasted(canvas, behind, far_side), behind, beyond)
    canvas = _under_the_lip(canvas, ragged, middle)
    canvas = _cut_to_copper(canvas, rng, paths[0], middle[0] - 175)
    return laid_on(canvas, folding_rule(14, 5.4), (left - 150 + rng.uniform(-60, 40), 1030), rng.uniform(-4, 4))


def _bay_behind(rng: Random) -> Picture:
    canvas = darkened(skin_back(rng), Image.new("L", SIZE, 255), 0.2)
    wool = glass_wool(wool_height(rng, SIZE))
    edge = wander(rng, (-20, 840), (1620, 800), steps=26, sway_px=16)
    batt = polygon(SIZE, [*edge, (1620, 1220), (-20, 1220)], blur_px=3)
    canvas = shadow(canvas, batt, move=(0, -22), blur_px=18, strength=0.5)
    return darkened(pasted(canvas, wool, batt), Image.new("L", SIZE, 255), 0.12)


def _runs(rng: Random, middle: Point) -> list[list[Point]]:
    """One path for each wire, bunched in the hole and slack on both sides."""
    paths = []
    for n in range(len(WIRE_COLOURS)):
        away = (n - 2) * 40
        start = (-40, middle[1] + (n - 2) * 78 + rng.uniform(-30, 30) - 60)
        end = (1660, middle[1] + (n - 2) * 84 + rng.uniform(-40, 40) + 60)
        into = (middle[0], middle[1] + away + rng.uniform(-8, 8))
        slack = rng.uniform(60, 210)
        first = bend(start, (into[0] - 420, start[1] + slack), (into[0] - 220, into[1] + 30), into, steps=36)
        second = bend(into, (into[0] + 240, into[1] - 20), (into[0] + 420, end[1] + slack), end, steps=36)
        paths.append(first + second[1:])
    return paths


def _flanged(metal: Picture, left: float, right: float) -> Picture:
    """Folded edges make a flat strip a member."""
    for x, wide, dark in ((left + 40, 10, 0.45), (right - 44, 12, 0.5), (right - 12, 30, 0.4)):
        metal = darkened(metal, strokes(SIZE, [[(x, -20), (x, 1220)]], wide, 4), dark)
    for x in (left + 50, left + 6, right - 56):
        metal = glazed(metal, strokes(SIZE, [[(x, -20), (x, 1220)]], 7, 3), 0.5)
    return metal


def _torn_rim(canvas: Picture, ragged: list[Point], solid: Picture) -> Picture:
    """The bare bright burr round a hole that was cut and never dressed."""
    ring = [*ragged, ragged[0]]
    canvas = darkened(canvas, mix(strokes(SIZE, [ring], 46, 12), solid), 0.45)
    canvas = tinted(canvas, (104, 108, 112), strokes(SIZE, [ring], 13))
    return glazed(canvas, strokes(SIZE, [[(x - 2, y - 2) for x, y in ring]], 5, 0.8), 0.9)


def _under_the_lip(canvas: Picture, ragged: list[Point], middle: Point) -> Picture:
    right_half = [point for point in ragged if point[0] > middle[0] + 10]
    right_half.sort(key=lambda point: math.atan2(point[1] - middle[1], point[0] - middle[0]))
    return darkened(canvas, strokes(SIZE, [[(x - 18, y) for x, y in right_half]], 44, 16), 0.5)


def _cut_to_copper(canvas: Picture, rng: Random, path: list[Point], x: float) -> Picture:
    """Insulation chafed through: bright strands in a ragged gap."""
    bare = [point for point in path if abs(point[0] - x) < 66]
    canvas = tinted(canvas, (70, 26, 20), strokes(SIZE, [bare], 30))
    for n in range(7):
        shift = (n - 3) * 3.6
        strand = [(px, py + shift + rng.gauss(0, 0.8)) for px, py in bare]
        canvas = tinted(canvas, (206, 124, 66) if n % 2 else (232, 160, 98), strokes(SIZE, [strand], 2.6, 0.4))
    return glazed(canvas, strokes(SIZE, [[(px, py - 6) for px, py in bare]], 3, 1), 0.6)
