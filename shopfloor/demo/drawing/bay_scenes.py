"""Whole rooms: a coach in its bay, and a blower drying an open wall."""

import math
from collections.abc import Sequence
from itertools import pairwise
from random import Random

from PIL import Image

from shopfloor.demo.drawing.fittings import wire
from shopfloor.demo.drawing.framing import Frame, skin_back
from shopfloor.demo.drawing.materials import AGED_SPRUCE, concrete
from shopfloor.demo.drawing.paint import (
    SIZE,
    Colour,
    Picture,
    Point,
    bend,
    cloud,
    contour,
    darkened,
    disc,
    ellipse,
    fade,
    glazed,
    glow,
    mix,
    polygon,
    ramp,
    rectangle,
    shadow,
    stained,
    strokes,
    tinted,
)
from shopfloor.demo.drawing.perspective import Spot, View, onto

LONG_M, WIDE_M, TALL_M, SKIRT_M = 6.3, 2.4, 2.85, 0.55
PAINTS: tuple[Colour, ...] = ((232, 226, 210), (222, 224, 222), (226, 216, 196))
BANDS: tuple[Colour, ...] = ((168, 98, 62), (74, 96, 104), (110, 104, 74))
RUBBER: Colour = (40, 39, 38)
GLASS: Colour = (58, 66, 70)
STEEL: Colour = (74, 74, 72)


def coach(rng: Random) -> Picture:
    """A trailer seen from the curb-side front corner, parked in a workshop bay."""
    view = View((-4.1 + rng.uniform(-0.2, 0.2), -5.6, 1.62), 41.4 + rng.uniform(-1.2, 1.2), 1640, 610)
    paint, band = rng.choice(PAINTS), rng.choice(BANDS)
    canvas = _bay(rng, view)
    footprint = [(0.2, -0.25, 0.0), (LONG_M + 0.1, -0.25, 0.0), (LONG_M + 0.1, WIDE_M, 0.0), (0.2, WIDE_M, 0.0)]
    canvas = darkened(canvas, polygon(SIZE, view.outline(footprint), blur_px=26), 0.72)
    canvas = _far_running_gear(canvas, view)
    canvas = _front(canvas, view, paint, band)
    canvas = _side(canvas, view, paint, band)
    canvas = _wheels(canvas, view)
    return _tongue(canvas, view)


def _bay(rng: Random, view: View) -> Picture:
    """Floor with its painted bay lines, panelled back walls, lamps."""
    canvas = Image.new("RGB", SIZE, (196, 194, 186))
    canvas = darkened(canvas, fade(SIZE, 0.5, 0.0), 0.32)
    wall_y, wall_x = 6.2, 11.5
    panels: list[list[Spot]] = [[(x, wall_y, 0.0), (x, wall_y, 5.5)] for x in range(-3, 12)]
    panels += [[(wall_x, y, 0.0), (wall_x, y, 5.5)] for y in range(-6, 7)]
    canvas = darkened(canvas, strokes(SIZE, [view.outline(seam) for seam in panels], 2.5, 0.8), 0.22)
    floor = view.outline([(wall_x, -9.0, 0), (wall_x, wall_y, 0), (-30.0, wall_y, 0)])
    ground = polygon(SIZE, [(-20, 1220), (-20, floor[0][1]), *floor, (1620, floor[2][1]), (1620, 1220)])
    canvas.paste(concrete(rng, SIZE), mask=ground)
    door = view.outline([(6.4, wall_y, 0), (2.6, wall_y, 0), (2.6, wall_y, 3.6), (6.4, wall_y, 3.6)])
    canvas = glazed(canvas, polygon(SIZE, door), 0.22)
    slats = [view.outline([(6.4, wall_y, z / 4), (2.6, wall_y, z / 4)]) for z in range(1, 15)]
    canvas = darkened(canvas, strokes(SIZE, slats, 2, 0.6), 0.3)
    for y in (-1.1, 3.5):
        line = view.outline([(-3.2, y, 0), (9.5, y, 0), (9.5, y + 0.12, 0), (-3.2, y + 0.12, 0)])
        canvas = tinted(
            canvas, (214, 208, 192), mix(polygon(SIZE, line), ramp(cloud(rng, SIZE, (30, 16), 3), 0.1, 0.4)), 0.8
        )
    lamps = [
        view.outline([(x, y, 4.3), (x + 1.6, y, 4.3), (x + 1.6, y + 0.25, 4.3), (x, y + 0.25, 4.3)])
        for x in (0.5, 3.5, 6.5)
        for y in (2.2, 4.9)
    ]
    canvas = glazed(canvas, polygon(SIZE, *lamps, blur_px=24), 0.7)
    return _bench(glazed(canvas, polygon(SIZE, *lamps, blur_px=1.5)), view)


def _bench(canvas: Picture, view: View) -> Picture:
    """A bench and a shelf along the back wall, so that the room has a size."""
    for z, thick, deep in ((0.9, 0.07, 5.5), (1.75, 0.04, 5.9)):
        top = view.outline([(1.6, deep, z), (-1.4, deep, z), (-1.4, deep, z - thick), (1.6, deep, z - thick)])
        canvas = tinted(canvas, (128, 94, 62), polygon(SIZE, top))
    legs = [view.outline([(x, 5.5, 0), (x, 5.5, 0.85)]) for x in (1.5, 0.1, -1.3)]
    canvas = tinted(canvas, (96, 76, 54), strokes(SIZE, legs, 11))
    for x, wide, tall, colour in (
        (1.3, 0.3, 0.3, (92, 100, 96)),
        (0.8, 0.22, 0.36, (150, 112, 74)),
        (0.3, 0.5, 0.24, (112, 100, 92)),
    ):
        box = view.outline([(x, 5.9, 1.75), (x - wide, 5.9, 1.75), (x - wide, 5.9, 1.75 + tall), (x, 5.9, 1.75 + tall)])
        canvas = tinted(canvas, colour, polygon(SIZE, box))
    return canvas


def _nose() -> list[Point]:
    """The front of the side outline, from the floor edge up to the roof: (x, z) [m]."""
    lower = bend((0.42, SKIRT_M), (0.02, 0.62), (0.0, 1.2), steps=8)
    upper = bend((0.0, 1.2), (0.02, 1.9), (0.12, 2.74), (1.05, TALL_M), steps=18)
    return [*lower, *upper[1:]]


def _front(canvas: Picture, view: View, paint: Colour, band: Colour) -> Picture:
    nose = _nose()
    whole = [view.at((x, 0.0, z)) for x, z in nose] + [view.at((x, WIDE_M, z)) for x, z in reversed(nose)]
    canvas = shadow(canvas, polygon(SIZE, whole), move=(10, 14), blur_px=20, strength=0.3)
    for (x0, z0), (x1, z1) in pairwise(nose):
        strip = polygon(SIZE, view.outline([(x0, 0, z0), (x1, 0, z1), (x1, WIDE_M, z1), (x0, WIDE_M, z0 - 0.012)]))
        up = (x1 - x0) / math.hypot(x1 - x0, z1 - z0)
        light = 0.80 + 0.2 * up
        colour = band if 0.95 < (z0 + z1) / 2 < 1.12 else STEEL if z1 < 0.66 else paint
        canvas = tinted(canvas, _dimmed(colour, light), strip)
    pane = [(x, z) for x, z in nose if 1.42 < z < 2.2]
    glass = [view.at((x - 0.01, 0.42, z)) for x, z in pane] + [
        view.at((x - 0.01, WIDE_M - 0.42, z)) for x, z in reversed(pane)
    ]
    canvas = _window(canvas, glass)
    canvas = tinted(canvas, (186, 188, 188), strokes(SIZE, [[view.at((x, WIDE_M, z)) for x, z in nose]], 5, 0.6))
    lamps = [view.at((0.55, y, 2.66)) for y in (0.35, 1.2, 2.05)]
    return tinted(canvas, (214, 142, 50), polygon(SIZE, *[ellipse(lamp, (8, 5)) for lamp in lamps]))


def _dimmed(colour: Colour, light: float) -> Colour:
    return (round(colour[0] * light), round(colour[1] * light), round(colour[2] * light))


def _window(canvas: Picture, outline: Sequence[Point]) -> Picture:
    """Dark glass in a thin frame, with a slanting gleam."""
    glass = polygon(SIZE, outline, blur_px=0.6)
    canvas = tinted(canvas, (48, 48, 48), strokes(SIZE, [[*outline, outline[0]]], 11))
    canvas = tinted(canvas, GLASS, glass)
    left, right = min(x for x, _ in outline), max(x for x, _ in outline)
    top, bottom = min(y for _, y in outline), max(y for _, y in outline)
    wide = right - left
    gleams = [
        [
            (left + wide * a, top),
            (left + wide * b, top),
            (left + wide * (b - 0.3), bottom),
            (left + wide * (a - 0.3), bottom),
        ]
        for a, b in ((0.45, 0.7), (0.8, 0.87))
    ]
    return glazed(
        glazed(canvas, mix(polygon(SIZE, *gleams, blur_px=2), glass), 0.22), mix(glass, fade(SIZE, 0.7, 0.2)), 0.14
    )


def _on_side(view: View, *outline: Point) -> list[Point]:
    return [view.at((x, -0.005, z)) for x, z in outline]


def _pane(left: float, low: float, right: float, high: float, round_m: float = 0.09) -> list[Point]:
    """A rectangle with rounded corners: (x, z) [m]."""
    corners = [(right, high, 0.0), (left, high, 1.0), (left, low, 2.0), (right, low, 3.0)]
    outline = []
    for x, z, quarter in corners:
        middle = (x - math.copysign(round_m, x - (left + right) / 2), z - math.copysign(round_m, z - (low + high) / 2))
        for step in range(6):
            turn = (quarter + step / 5) * math.pi / 2
            outline.append((middle[0] + round_m * math.cos(turn), middle[1] + round_m * math.sin(turn)))
    return outline


def _side(canvas: Picture, view: View, paint: Colour, band: Colour) -> Picture:
    rear = [
        *bend((LONG_M - 0.3, TALL_M), (LONG_M, TALL_M), (LONG_M, TALL_M - 0.4), steps=8),
        (LONG_M, 0.85),
        (LONG_M - 0.35, SKIRT_M),
    ]
    outline = _on_side(view, *_nose(), *rear)
    body = polygon(SIZE, outline, blur_px=0.5)
    canvas = tinted(canvas, paint, body)
    canvas = darkened(canvas, mix(body, fade(SIZE, 0.45, 0.75)), 0.22)
    canvas = glazed(
        canvas,
        mix(body, polygon(SIZE, _on_side(view, (0.3, 2.3), (6.2, 2.3), (6.2, 2.55), (0.3, 2.55)), blur_px=14)),
        0.45,
    )
    for low, high, colour in ((0.95, 1.12, band), (0.86, 0.9, band), (0.4, 0.66, STEEL)):
        stripe = polygon(SIZE, _on_side(view, (-0.1, low), (6.4, low), (6.4, high), (-0.1, high)))
        canvas = tinted(canvas, colour, mix(stripe, body))
    for left, low, right, high in ((0.75, 1.45, 1.75, 2.15), (4.6, 1.45, 5.75, 2.15), (3.45, 1.62, 4.15, 2.15)):
        canvas = _window(canvas, _on_side(view, *_pane(left, low, right, high)))
    canvas = _door(canvas, view)
    canvas = darkened(canvas, strokes(SIZE, [_on_side(view, (0.9, 2.6), (6.0, 2.6))], 12, 3), 0.3)
    canvas = tinted(
        canvas, (178, 178, 172), strokes(SIZE, [[(x, y - 8) for x, y in _on_side(view, (0.8, 2.63), (6.0, 2.63))]], 15)
    )
    canvas = glazed(
        canvas, strokes(SIZE, [[(x, y - 12) for x, y in _on_side(view, (0.8, 2.63), (6.0, 2.63))]], 4, 1), 0.6
    )
    trim = [*outline, outline[0]]
    canvas = tinted(canvas, (178, 180, 180), strokes(SIZE, [trim], 8, 0.5))
    return glazed(canvas, strokes(SIZE, [[(x - 1, y - 1) for x, y in trim]], 2, 0.5), 0.5)


def _door(canvas: Picture, view: View) -> Picture:
    leaf = _on_side(view, *_pane(2.3, 0.62, 3.02, 2.42, 0.12))
    canvas = darkened(canvas, strokes(SIZE, [[*leaf, leaf[0]]], 6, 0.8), 0.6)
    canvas = glazed(canvas, strokes(SIZE, [[(x + 3, y + 3) for x, y in [*leaf, leaf[0]]]], 2, 0.6), 0.5)
    canvas = _window(canvas, _on_side(view, *_pane(2.44, 1.55, 2.88, 2.2)))
    canvas = tinted(canvas, (36, 36, 36), polygon(SIZE, _on_side(view, *_pane(2.36, 1.28, 2.46, 1.42, 0.02))))
    step = view.outline([(2.4, -0.3, 0.34), (2.95, -0.3, 0.34), (2.95, 0.0, 0.36), (2.4, 0.0, 0.36)])
    canvas = darkened(canvas, polygon(SIZE, [(x, y + 70) for x, y in step], blur_px=10), 0.4)
    canvas = tinted(canvas, (110, 110, 106), polygon(SIZE, step))
    return tinted(canvas, (62, 62, 60), strokes(SIZE, [step[:2]], 9))


def _ring(view: View, x: float, radius: float, y: float = -0.03) -> list[Point]:
    return [view.at((a, y, b)) for a, b in ellipse((x, 0.36), (radius, radius))]


def _wheels(canvas: Picture, view: View) -> Picture:
    for x in (4.72, 3.9):
        arch = [point for point in ellipse((x, 0.42), (0.46, 0.46)) if point[1] > 0.4]
        canvas = tinted(canvas, (26, 25, 24), polygon(SIZE, _on_side(view, *arch), blur_px=0.6))
        floor = view.at((x, -0.05, 0.0))
        canvas = darkened(canvas, glow(SIZE, (floor[0], floor[1] + 4), (130, 26)), 0.7)
        canvas = tinted(canvas, RUBBER, polygon(SIZE, _ring(view, x, 0.36), _ring(view, x, 0.36, 0.18)))
        canvas = glazed(canvas, strokes(SIZE, [_ring(view, x, 0.31)], 3, 1.2), 0.14)
        canvas = tinted(canvas, (168, 170, 170), polygon(SIZE, _ring(view, x, 0.23)))
        holes = [
            ellipse((x + 0.14 * math.cos(t), 0.36 + 0.14 * math.sin(t)), (0.04, 0.04), 12)
            for t in (0, 1.26, 2.51, 3.77, 5.03)
        ]
        canvas = tinted(
            canvas, (60, 60, 60), polygon(SIZE, *[[view.at((a, -0.03, b)) for a, b in hole] for hole in holes])
        )
        canvas = tinted(canvas, (120, 122, 122), polygon(SIZE, _ring(view, x, 0.06)))
    return canvas


def _far_running_gear(canvas: Picture, view: View) -> Picture:
    """What shows under the body: the dark, and the legs that steady it."""
    under = view.outline([(0.5, 0.05, SKIRT_M), (6.0, 0.05, SKIRT_M), (6.0, 0.05, 0.3), (0.5, 0.05, 0.3)])
    canvas = darkened(canvas, polygon(SIZE, under, blur_px=8), 0.8)
    for x, y in ((0.75, 0.15), (0.75, 2.2), (5.8, 0.15)):
        canvas = tinted(canvas, STEEL, strokes(SIZE, [view.outline([(x, y, SKIRT_M + 0.05), (x - 0.1, y, 0.03)])], 10))
        foot = view.at((x - 0.1, y, 0.02))
        canvas = tinted(canvas, STEEL, disc(SIZE, foot, (22, 7)))
    return canvas


def _tongue(canvas: Picture, view: View) -> Picture:
    """The drawbar, the cover over the gas bottles, the jack."""
    ball: Spot = (-1.15, WIDE_M / 2, 0.5)
    on_floor = [view.outline([(0.4, y, 0.0), (-1.15, WIDE_M / 2, 0.0)]) for y in (0.5, 1.9)]
    canvas = darkened(canvas, strokes(SIZE, on_floor, 26, 9), 0.45)
    for y in (1.9, 0.5):
        beam = view.outline([(0.42, y, 0.52), ball])
        canvas = tinted(canvas, (48, 48, 47), strokes(SIZE, [beam], 20))
        canvas = glazed(canvas, strokes(SIZE, [[(a, b - 6) for a, b in beam]], 3, 1), 0.35)
    canvas = _bottle_cover(canvas, view)
    jack = view.outline([(-0.98, WIDE_M / 2, 0.95), (-0.98, WIDE_M / 2, 0.05)])
    canvas = tinted(canvas, (90, 90, 88), strokes(SIZE, [jack], 15))
    canvas = glazed(canvas, strokes(SIZE, [[(a - 3, b) for a, b in jack]], 3, 1), 0.5)
    canvas = tinted(canvas, STEEL, disc(SIZE, jack[1], (32, 11)))
    canvas = tinted(canvas, (58, 58, 56), strokes(SIZE, [[jack[0], (jack[0][0] + 44, jack[0][1] - 8)]], 8))
    end = view.at(ball)
    return tinted(canvas, (58, 58, 57), disc(SIZE, (end[0] + 12, end[1]), (30, 15)))


def _bottle_cover(canvas: Picture, view: View) -> Picture:
    near, far, left, right, low, high = -0.66, -0.12, 0.85, 1.55, 0.56, 1.12
    faces: list[tuple[list[Spot], float]] = [
        ([(near, left, low), (far, left, low), (far, left, high), (near, left, high)], 1.0),
        ([(near, left, low), (near, right, low), (near, right, high), (near, left, high)], 0.82),
        ([(near, left, high), (near, right, high), (far, right, high), (far, left, high)], 1.12),
    ]
    for face, light in faces:
        canvas = tinted(canvas, _dimmed((208, 204, 194), light), polygon(SIZE, view.outline(face), blur_px=0.8))
    rim = view.outline([(far, left, high - 0.06), (near, left, high - 0.06), (near, right, high - 0.06)])
    return darkened(canvas, strokes(SIZE, [rim], 4, 1), 0.3)


def drying(rng: Random) -> Picture:
    """A blower on the floor, aimed along it at a wall that has been opened down to its studs."""
    floor_px = 830 + rng.uniform(-15, 15)
    canvas = Image.new("RGB", SIZE, (206, 200, 186))
    canvas = darkened(canvas, fade(SIZE, 0.1, 0.75), 0.22)
    canvas.paste(concrete(rng, SIZE), mask=polygon(SIZE, rectangle(-20, floor_px, 1620, 1220)))
    far = 980 + rng.uniform(-30, 30)
    canvas = darkened(canvas, strokes(SIZE, [[(far, floor_px), (1620, floor_px)]], 10, 4), 0.5)
    canvas = onto(canvas, _opened_wall(rng), [(-160, -260), (far, 90), (far, floor_px), (-160, 1140)])
    canvas = darkened(
        canvas,
        polygon(SIZE, [(-160, 1150), (far, floor_px), (far + 30, floor_px + 30), (-100, 1200)], blur_px=14),
        0.45,
    )
    canvas = darkened(canvas, strokes(SIZE, [[(far, 60), (far, floor_px)]], 16, 6), 0.4)
    cord = bend((1330, 985), (1480, 1120), (1180, 1190), (1500, 1010), (1640, 1060), steps=40)
    canvas = wire(canvas, cord, 13, (204, 120, 40), drop_px=5)
    return _blower(canvas, (1165 + rng.uniform(-30, 30), 838))


def _opened_wall(rng: Random) -> Picture:
    """Four studs and their plates, tide lines still low down."""
    uprights = [(x, -40.0, x + 105, 1240.0) for x in (20, 420, 820, 1220, 1520)]
    frame = Frame(uprights, [(-20, -40, 1620, 100), (-20, 1080, 1620, 1240)], AGED_SPRUCE)
    canvas = frame.faces(rng, frame.recess(rng, skin_back(rng)))
    damp = Image.blend(fade(SIZE, 0.45, 1.0), cloud(rng, SIZE, (260, 200), 4), 0.3)
    canvas = stained(canvas, (176, 142, 104), ramp(damp, 0.42, 0.5))
    return stained(canvas, (130, 96, 66), contour(damp, 0.43, 0.02))


def _blower(canvas: Picture, centre: Point) -> Picture:
    """A drum fan from its side: round housing, flat outlet low at the left, grille, handle, feet."""
    x, y = centre
    shell: Colour = (46, 92, 104)
    canvas = darkened(canvas, glow(SIZE, (x - 40, y + 232), (400, 62)), 0.85)
    canvas = tinted(
        canvas,
        (38, 40, 40),
        polygon(SIZE, rectangle(x - 150, y + 196, x - 90, y + 236), rectangle(x + 100, y + 196, x + 160, y + 236)),
    )
    outlet = [(x - 352, y + 78), (x - 150, y + 20), (x + 40, y + 210), (x - 352, y + 206)]
    body = polygon(SIZE, outlet, ellipse(centre, (215, 212)), blur_px=0.7)
    canvas = tinted(canvas, shell, body)
    canvas = darkened(canvas, mix(body, glow(SIZE, (x + 90, y + 250), (420, 250))), 0.6)
    canvas = glazed(canvas, mix(body, glow(SIZE, (x - 90, y - 150), (210, 130))), 0.4)
    lip = polygon(SIZE, rectangle(x - 378, y + 66, x - 346, y + 216), blur_px=0.7)
    canvas = tinted(canvas, (30, 62, 72), lip)
    canvas = glazed(canvas, strokes(SIZE, [[(x - 370, y + 70), (x - 370, y + 212)]], 5, 2), 0.4)
    canvas = darkened(canvas, strokes(SIZE, [ellipse(centre, (160, 158))], 12, 3), 0.5)
    canvas = tinted(canvas, (22, 26, 28), disc(SIZE, centre, (142, 140)))
    rings = [ellipse(centre, (r, r)) for r in (134, 110, 86, 62)]
    spokes = [
        [(x + 40 * math.cos(t), y + 40 * math.sin(t)), (x + 138 * math.cos(t), y + 138 * math.sin(t))]
        for t in (n * math.tau / 10 for n in range(10))
    ]
    canvas = tinted(canvas, (150, 156, 158), strokes(SIZE, [*rings, *spokes], 5, 0.6))
    canvas = tinted(canvas, (96, 104, 108), disc(SIZE, centre, (42, 42), 0.8))
    canvas = glazed(canvas, glow(SIZE, (x - 12, y - 14), (30, 26)), 0.45)
    handle = bend((x - 90, y - 186), (x - 80, y - 292), (x + 90, y - 292), (x + 100, y - 182))
    return wire(canvas, handle, 30, (40, 44, 46), drop_px=5)
