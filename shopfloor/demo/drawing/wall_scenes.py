"""Open walls: wet wool, sound new framing, stained and rotten wood, mould, bare wires."""

import math
from itertools import pairwise
from random import Random

from PIL import Image, ImageChops, ImageDraw

from shopfloor.demo.drawing.fittings import (
    awl,
    folding_rule,
    laid_on,
    nail_heads,
    rust_run,
    screw_heads,
)
from shopfloor.demo.drawing.framing import Frame, skin_back
from shopfloor.demo.drawing.materials import AGED_SPRUCE, glass_wool, wood, wool_height
from shopfloor.demo.drawing.paint import (
    SIZE,
    Picture,
    Point,
    bend,
    blurred,
    cloud,
    contour,
    curve,
    darkened,
    disc,
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


def wet_insulation(rng: Random) -> Picture:
    """A batt between two studs: dark and heavy with water, sunk away from the top, shining."""
    sway = rng.uniform(-40, 40)
    frame = Frame(
        [(70, -40, 270, 1240), (1330, -40, 1530, 1240)],
        [(-20, -60, 1620, 130), (-20, 1090, 1620, 1260)],
        AGED_SPRUCE,
    )
    canvas = frame.recess(rng, darkened(skin_back(rng), cloud(rng, SIZE, (160, 500), 3), 0.5))
    top = [
        (270, 255 + sway * 0.4),
        (430, 330),
        (640, 420 + sway),
        (860, 465 + sway),
        (1080, 400),
        (1240, 290),
        (1330, 235),
    ]
    edge = [point for a, b in pairwise(top) for point in wander(rng, a, b, steps=9, sway_px=5)]
    batt = polygon(SIZE, [(262, 1110), *edge, (1338, 1110)], blur_px=2.5)
    canvas = shadow(canvas, batt, move=(-4, -34), blur_px=24, strength=0.75)
    canvas = pasted(canvas, _sodden_wool(rng, edge), batt)
    canvas = _rolled_lip(canvas, edge, batt)
    canvas = _drips(frame.faces(rng, canvas), rng)
    canvas = _damp_plate(canvas, rng)
    return laid_on(canvas, folding_rule(16, 4.4), (rng.uniform(330, 370), 700), 90 + rng.uniform(-3, 3))


def _sodden_wool(rng: Random, edge: list[Point]) -> Picture:
    height = wool_height(rng, SIZE)
    wool = glass_wool(height)
    folds = [
        bend(
            (285, top - rng.uniform(20, 90)),
            (760 + rng.uniform(-160, 160), top + 230),
            (1315, top - rng.uniform(20, 120)),
        )
        for top in (520 + rng.uniform(-30, 30), 745 + rng.uniform(-50, 50), 930 + rng.uniform(-30, 30))
    ]
    crease = mix(strokes(SIZE, folds, 30, 26), ramp(cloud(rng, SIZE, (340, 200), 2), 0.15, 0.7))
    slump = ImageChops.subtract(Image.new("L", SIZE, 200), crease)
    wool = lit(wool, relief(Image.blend(blurred(slump, 9), blurred(height, 12), 0.4), gain=1.9, reach_px=12))
    centre = (800 + rng.uniform(-110, 110), 800 + rng.uniform(-40, 40))
    reach = ImageChops.add(glow(SIZE, centre, (640, 590)), glow(SIZE, (centre[0], 1150), (760, 420)))
    field = Image.blend(reach, cloud(rng, SIZE, (240, 200), 4), 0.38)
    wet = ramp(field, 0.40, 0.52)
    wool = stained(wool, (188, 156, 110), ramp(field, 0.32, 0.46))
    wool = stained(wool, (150, 132, 112), wet)
    wool = darkened(wool, ramp(field, 0.55, 0.85), 0.3)
    wool = darkened(wool, contour(field, 0.40, 0.035), 0.4)
    gleam = ramp(relief(blurred(height, 2.2), gain=6, reach_px=5), 0.66, 0.92)
    sheets = ramp(cloud(rng, SIZE, (150, 60), 3), 0.52, 0.72)
    wool = glazed(wool, mix(gleam, ramp(field, 0.5, 0.6), sheets), 0.85)
    return glazed(wool, mix(ramp(field, 0.52, 0.75), blurred(sheets, 12)), 0.10)


def _rolled_lip(canvas: Picture, edge: list[Point], batt: Picture) -> Picture:
    """The torn top of the batt catches the light, and is round below it."""
    lip = strokes(SIZE, [[(x, y + 12) for x, y in edge]], 16, 8)
    canvas = glazed(canvas, mix(lip, batt), 0.3)
    return darkened(canvas, mix(strokes(SIZE, [[(x, y + 62) for x, y in edge]], 40, 18), batt), 0.3)


def _drips(canvas: Picture, rng: Random) -> Picture:
    """Drops hanging from the underside of the top plate."""
    for _ in range(8):
        x, y, size = rng.uniform(330, 1270), rng.uniform(128, 140), rng.uniform(5, 10)
        canvas = darkened(canvas, disc(SIZE, (x + 1, y + size * 0.6), (size * 0.95, size * 1.5), 1.5), 0.5)
        canvas = glazed(canvas, disc(SIZE, (x, y + size), (size * 0.62, size * 0.95), 2), 0.4)
        canvas = glazed(canvas, disc(SIZE, (x - size * 0.25, y + size * 0.5), (size * 0.2, size * 0.3), 0.8), 0.95)
    return canvas


def _damp_plate(canvas: Picture, rng: Random) -> Picture:
    """Water standing on the bottom plate and drawn up into it."""
    field = mix(cloud(rng, SIZE, (260, 50), 3), fade(SIZE, 0.88, 0.93), glow(SIZE, (800, 1120), (760, 190)))
    canvas = stained(canvas, (128, 96, 66), ramp(field, 0.12, 0.3))
    pool = mix(
        ramp(cloud(rng, SIZE, (340, 26), 3), 0.5, 0.62), polygon(SIZE, rectangle(290, 1092, 1310, 1128), blur_px=3)
    )
    return glazed(canvas, pool, 0.55)


def dry_framing(rng: Random) -> Picture:
    """Clean new framing, screwed and marked out, with nothing wrong in it."""
    shift = rng.uniform(-60, 60)
    uprights = [(x + shift, -40.0, x + shift + 118, 1240.0) for x in (-60, 450, 960, 1470)]
    nogging = rng.uniform(540, 680)
    frame = Frame(
        uprights, [(-20, -40, 1620, 120), (-20, 1070, 1620, 1240), (568 + shift, nogging, 960 + shift, nogging + 116)]
    )
    canvas = frame.faces(rng, frame.recess(rng, skin_back(rng)))
    spots: list[Point] = []
    for left, _, right, _ in uprights:
        for y in (62, 1130):
            spots += [(left + 34, y + rng.uniform(-6, 6)), (right - 34, y + rng.uniform(-6, 6))]
    spots += [(540 + shift, nogging + 58), (990 + shift, nogging + 58)]
    canvas = screw_heads(canvas, rng, spots, 12, (206, 186, 120))
    for left, _, right, _ in uprights:
        middle = (left + right) / 2
        marks = [
            [(middle, 18), (middle, 112)],
            [(middle - 16, 66), (middle + 16, 100)],
            [(middle + 16, 66), (middle - 16, 100)],
        ]
        canvas = darkened(canvas, strokes(SIZE, marks, 2.4, 0.7), 0.6)
    return laid_on(canvas, folding_rule(20, 2.6), (770 + shift, 1042), rng.uniform(-2, 2))


def stained_framing(rng: Random) -> Picture:
    """Sound old wood with nested tide lines, and rust running from its nails."""
    left = 560 + rng.uniform(-60, 60)
    frame = Frame([(left, -40, left + 400, 1240)], [(-20, -70, 1620, 250)], AGED_SPRUCE)
    canvas = frame.faces(rng, frame.recess(rng, skin_back(rng)))
    reach = ImageChops.add(glow(SIZE, (left + 180, 60), (760, 740)), glow(SIZE, (left + 260, 480), (300, 430)))
    field = Image.blend(reach, cloud(rng, SIZE, (260, 300), 4), 0.36)
    members = polygon(SIZE, rectangle(left, -40, left + 400, 1240), rectangle(-20, -70, 1620, 250), blur_px=1)
    canvas = stained(canvas, (226, 204, 172), mix(ramp(field, 0.26, 0.30), members))
    for level, strength in ((0.27, 0.8), (0.40, 0.65), (0.53, 0.7)):
        canvas = stained(canvas, (226, 208, 182), mix(ramp(field, level, level + 0.03), members))
        canvas = stained(
            canvas,
            (104, 76, 52),
            mix(levels(contour(field, level + 0.008, 0.016), 0, strength), members),
        )
    nails: list[Point] = [(left + 80, 90), (left + 300, 130), (left + 190, 185), (left - 220, 110), (left + 620, 120)]
    nails = [(x + rng.uniform(-22, 22), y + rng.uniform(-22, 22)) for x, y in nails]
    for nail in nails[:3]:
        canvas = rust_run(canvas, rng, nail, rng.uniform(330, 620), rng.uniform(34, 52))
    for nail in nails[3:]:
        canvas = rust_run(canvas, rng, nail, rng.uniform(70, 110), rng.uniform(26, 36))
    canvas = nail_heads(canvas, nails, 15, (84, 60, 48))
    return laid_on(canvas, folding_rule(9, 9.6), (left + 240 + rng.uniform(-40, 40), 1030), rng.uniform(-3, 3))


def rotten_framing(rng: Random) -> Picture:
    """A post and plate eaten to cubes: dark, cracked, missing pieces, an awl standing in it."""
    left = 520 + rng.uniform(-50, 50)
    frame = Frame([(left, -40, left + 440, 1000)], [(-20, 860, 1620, 1260)], AGED_SPRUCE)
    canvas = frame.faces(rng, frame.recess(rng, darkened(skin_back(rng), cloud(rng, SIZE, (200, 200), 3), 0.6)))
    members = polygon(SIZE, rectangle(left, -40, left + 440, 900), rectangle(-20, 860, 1620, 1260))
    reach = ImageChops.add(glow(SIZE, (left + 190, 900), (560, 640)), glow(SIZE, (left + 300, 1100), (1000, 330)))
    field = Image.blend(reach, cloud(rng, SIZE, (170, 150), 4), 0.34)
    canvas = stained(canvas, (150, 108, 72), mix(ramp(field, 0.24, 0.42), members))
    rot = mix(ramp(field, 0.40, 0.50), members)
    canvas = pasted(canvas, _cubes(rng), rot)
    holes = _missing(rng, field, members)
    canvas = pasted(canvas, _crumbs(rng), holes)
    canvas = darkened(canvas, mix(holes, ImageChops.invert(_shifted(holes, 16, 20))), 0.8)
    canvas = glazed(canvas, mix(ImageChops.invert(holes), _shifted(holes, -3, -3), rot), 0.22)
    canvas = _fibres(canvas, rng, mix(ramp(field, 0.36, 0.42), ramp(field, 0.62, 0.52), members))
    tip = (left + 150 + rng.uniform(-40, 90), 760 + rng.uniform(-40, 40))
    canvas = darkened(canvas, glow(SIZE, tip, (34, 30)), 0.85)
    lean = rng.uniform(24, 34)
    reach_px = 300
    centre = (tip[0] + math.cos(math.radians(lean)) * reach_px, tip[1] - math.sin(math.radians(lean)) * reach_px)
    canvas = laid_on(canvas, awl(620), centre, lean, lift_px=14)
    return laid_on(canvas, folding_rule(16, 6), (500 + rng.uniform(-30, 30), 1095), rng.uniform(-4, 4))


def _shifted(mask: Picture, x: int, y: int) -> Picture:
    moved = Image.new("L", mask.size)
    moved.paste(mask, (x, y))
    return moved


def _cubes(rng: Random) -> Picture:
    """Brown rot: shrunk into blocks, each standing a little higher or lower than the next."""
    height = Image.new("L", SIZE, 30)
    pen = ImageDraw.Draw(height)
    y = -20.0
    while y < HEIGHT + 20:
        tall = rng.uniform(38, 74)
        x = -rng.uniform(0, 60)
        while x < WIDTH:
            wide = rng.uniform(34, 92)
            crack = rng.uniform(2, 9)
            corners = [(x, y), (x + wide - crack, y), (x + wide - crack, y + tall - crack), (x, y + tall - crack)]
            pen.polygon([(a + rng.gauss(0, 7), b + rng.gauss(0, 7)) for a, b in corners], fill=rng.randrange(105, 225))
            x += wide
        y += tall
    height = _crooked(rng, height)
    body = cloud(rng, SIZE, (90, 14), 3)
    blocks = wood(rng, SIZE, AGED_SPRUCE, rings=16, upright=True, knots=0)
    blocks = stained(blocks, (122, 78, 50), Image.new("L", SIZE, 255))
    cracks = ramp(blurred(height, 1.6), 0.4, 0.16)
    blocks = lit(blocks, relief(blurred(Image.blend(height, body, 0.25), 1.2), gain=0.75, reach_px=4))
    blocks = darkened(blocks, cloud(rng, SIZE, (130, 120), 3), 0.45)
    return darkened(blocks, cracks, 0.9)


def _crooked(rng: Random, picture: Picture) -> Picture:
    """Pulls a picture about by a loose net, so that nothing in it stays straight."""
    step = 100
    across, down = WIDTH // step, HEIGHT // step
    knots = {(i, j): (rng.gauss(0, 13), rng.gauss(0, 13)) for i in range(across + 1) for j in range(down + 1)}
    mesh: list[tuple[tuple[int, int, int, int], tuple[float, ...]]] = []
    for i in range(across):
        for j in range(down):
            corners = [(i, j), (i, j + 1), (i + 1, j + 1), (i + 1, j)]
            source = [edge * step + knots[corner][axis] for corner in corners for axis, edge in enumerate(corner)]
            mesh.append(((i * step, j * step, (i + 1) * step, (j + 1) * step), tuple(source)))
    return picture.transform(SIZE, Image.Transform.MESH, mesh, Image.Resampling.BILINEAR)


def _missing(rng: Random, field: Picture, members: Picture) -> Picture:
    chunks = ramp(cloud(rng, SIZE, (150, 110), 3), 0.60, 0.63)
    return mix(chunks, ramp(field, 0.55, 0.60), members)


def _crumbs(rng: Random) -> Picture:
    """The bottom of a hole: dark, powdery."""
    powder = cloud(rng, SIZE, (18, 14), 3)
    hole = Image.merge("RGB", tuple(levels(powder, 0.05, 0.05 + k) for k in (0.26, 0.17, 0.11)))
    return lit(hole, relief(powder, gain=0.22))


def _fibres(canvas: Picture, rng: Random, where: Picture) -> Picture:
    """Pale torn fibres along the edge of the rot."""
    paths = []
    for _ in range(420):
        x, y = rng.uniform(0, WIDTH), rng.uniform(0, HEIGHT)
        length = rng.uniform(22, 90)
        paths.append([(x, y), (x + rng.gauss(0, 5), y - length / 2), (x + rng.gauss(0, 12), y - length)])
    mask = mix(strokes(SIZE, paths, 3), where)
    canvas = darkened(canvas, _shifted(mask, 4, 4), 0.5)
    return tinted(canvas, (226, 198, 150), mask, 0.85)


def mould(rng: Random) -> Picture:
    """A pale panel with colonies of dark specks, thickest out of the corner by the frame."""
    post = 210 + rng.uniform(-30, 30)
    panel = Image.merge("RGB", tuple(levels(cloud(rng, SIZE, (500, 400), 3), k, k + 0.05) for k in (0.80, 0.76, 0.67)))
    canvas = lit(panel, relief(cloud(rng, SIZE, (7, 7), 2), gain=0.12))
    damp = Image.blend(glow(SIZE, (post + 150, 1050), (1150, 900)), cloud(rng, SIZE, (260, 220), 4), 0.35)
    canvas = stained(canvas, (226, 208, 172), ramp(damp, 0.22, 0.3))
    canvas = stained(canvas, (196, 168, 122), curve(contour(damp, 0.25, 0.02), lambda v: v * 0.8))
    centres = [(post + 120 + rng.expovariate(1 / 330), 1010 - rng.expovariate(1 / 260)) for _ in range(26)]
    veil = Image.new("L", SIZE)
    for centre in centres:
        size = rng.uniform(60, 170)
        veil = ImageChops.lighter(veil, glow(SIZE, centre, (size, size * rng.uniform(0.7, 1.1))))
    rough = mix(veil, ramp(cloud(rng, SIZE, (46, 46), 4), 0.2, 0.75))
    canvas = stained(canvas, (108, 114, 96), curve(rough, lambda v: v * 0.85))
    canvas = darkened(canvas, mix(ramp(cloud(rng, SIZE, (11, 11), 2), 0.52, 0.62), ramp(rough, 0.3, 0.75)), 0.72)
    canvas = _specks(canvas, rng, centres)
    frame = Frame([(-40, -40, post, 1240)], [(-40, 1040, 1640, 1260)], AGED_SPRUCE)
    canvas = frame.faces(rng, canvas)
    return laid_on(canvas, folding_rule(15, 5), (1150 + rng.uniform(-60, 60), 985), rng.uniform(-1, 1))


def _specks(canvas: Picture, rng: Random, centres: list[Point]) -> Picture:
    for shade, count, size in (((66, 72, 58), 1500, 3.4), ((30, 34, 28), 1300, 2.4)):
        spots = []
        for _ in range(count):
            centre = rng.choice(centres)
            spread = rng.choice((28, 60, 120))
            radius = size * rng.uniform(0.4, 1.7)
            spots.append(_spot((rng.gauss(centre[0], spread), rng.gauss(centre[1], spread)), radius))
        canvas = tinted(canvas, shade, polygon(SIZE, *spots, blur_px=0.9), 0.88)
    return canvas


def _spot(at: Point, radius: float) -> list[Point]:
    turns = [step * math.tau / 8 for step in range(8)]
    return [(at[0] + math.cos(turn) * radius, at[1] + math.sin(turn) * radius * 0.9) for turn in turns]
