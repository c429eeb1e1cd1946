"""Small things laid into a scene: screws, nails, staples, wires, a folding rule, chalk and an awl."""

import math
from collections.abc import Sequence
from random import Random

from PIL import Image, ImageDraw, ImageFont

from shopfloor.demo.drawing.paint import (
    Colour,
    Picture,
    Point,
    Size,
    blurred,
    cloud,
    darkened,
    disc,
    fade,
    glazed,
    glow,
    mix,
    polygon,
    ramp,
    shadow,
    stained,
    strokes,
    tinted,
    wander,
)

RULE_YELLOW = (232, 196, 70)


def laid_on(canvas: Picture, thing: Picture, centre: Point, angle_deg: float = 0, *, lift_px: int = 5) -> Picture:
    """The canvas with a cut-out thing (RGBA) laid on it, turned, with its shadow."""
    turned = thing.rotate(angle_deg, Image.Resampling.BICUBIC, expand=True)
    corner = (round(centre[0] - turned.width / 2), round(centre[1] - turned.height / 2))
    outline = Image.new("L", canvas.size)
    outline.paste(turned.getchannel("A"), corner)
    result = shadow(canvas, outline, move=(lift_px, lift_px + 1), blur_px=max(2, lift_px * 0.8), strength=0.55)
    result.paste(turned.convert("RGB"), corner, turned.getchannel("A"))
    return result


def folding_rule(length_cm: int, px_per_mm: float) -> Picture:
    """One limb of a plain wooden rule in centimetres, as a cut-out."""
    width, height = round(length_cm * 10 * px_per_mm), round(16 * px_per_mm)
    rule = Image.new("RGBA", (width, height), (*RULE_YELLOW, 255))
    pen = ImageDraw.Draw(rule)
    line = max(1, round(px_per_mm * 0.35))
    font = ImageFont.load_default(size=max(8, height * 0.42))
    for mm in range(1, length_cm * 10):
        reach = 0.48 if mm % 10 == 0 else 0.34 if mm % 5 == 0 else 0.22
        x = mm * px_per_mm
        pen.line([(x, 0), (x, height * reach)], fill=(38, 34, 26, 255), width=line)
        if mm % 10 == 0:
            red = (mm // 10) % 10 == 0
            pen.text(
                (x - line * 2, height * 0.95),
                str(mm // 10),
                (160, 36, 24, 255) if red else (38, 34, 26, 255),
                font,
                "rs",
            )
    for y, alpha in ((0, 70), (height - line * 2, 110)):
        pen.rectangle([0, y, width, y + line], fill=(90, 66, 10, alpha + 100))
    pen.ellipse([height * 0.08, height * 0.6, height * 0.3, height * 0.82], fill=(150, 120, 60, 255))
    return rule


def chalk_line(
    canvas: Picture, rng: Random, points: Sequence[Point], *, width_px: float = 9, colour: Colour = (236, 236, 230)
) -> Picture:
    """A line of chalk: it skips where the ground is rough."""
    skips = ramp(cloud(rng, canvas.size, (7, 7), 2), 0.3, 0.62)
    return tinted(canvas, colour, mix(strokes(canvas.size, [points], width_px, 0.8), skips), 0.85)


def screw_heads(
    canvas: Picture, rng: Random, centres: Sequence[Point], radius_px: float, colour: Colour = (176, 178, 180)
) -> Picture:
    """Pan-head screws with a cross recess, each turned differently."""
    result = canvas
    for centre in centres:
        result = _screw_head(result, rng, centre, radius_px, colour)
    return result


def _screw_head(patch: Picture, rng: Random, at: Point, radius: float, colour: Colour) -> Picture:
    head = disc(patch.size, at, (radius, radius))
    patch = shadow(patch, head, move=(round(radius * 0.22), round(radius * 0.26)), blur_px=radius * 0.2, strength=0.7)
    patch = tinted(patch, colour, head)
    patch = darkened(
        patch,
        mix(head, glow(patch.size, (at[0] + radius * 0.7, at[1] + radius * 0.7), (radius * 1.3, radius * 1.3))),
        0.55,
    )
    patch = glazed(
        patch,
        mix(head, glow(patch.size, (at[0] - radius * 0.4, at[1] - radius * 0.45), (radius * 0.7, radius * 0.6))),
        0.7,
    )
    turn = rng.uniform(0, math.pi / 2)
    arms = [
        [(at[0] + math.cos(a) * radius * 0.52 * s, at[1] + math.sin(a) * radius * 0.52 * s) for s in (-1, 1)]
        for a in (turn, turn + math.pi / 2)
    ]
    return darkened(patch, strokes(patch.size, arms, radius * 0.24, 0.6), 0.85)


def nail_heads(canvas: Picture, centres: Sequence[Point], radius_px: float, colour: Colour) -> Picture:
    """Flat heads driven flush, with a dark rim."""
    result = canvas
    for centre in centres:
        result = _nail_head(result, centre, radius_px, colour)
    return result


def _nail_head(patch: Picture, at: Point, radius: float, colour: Colour) -> Picture:
    patch = darkened(patch, disc(patch.size, at, (radius * 1.25, radius * 1.25), radius * 0.15), 0.6)
    patch = tinted(patch, colour, disc(patch.size, at, (radius, radius)))
    return glazed(
        patch, glow(patch.size, (at[0] - radius * 0.3, at[1] - radius * 0.3), (radius * 0.7, radius * 0.5)), 0.3
    )


def rust_run(canvas: Picture, rng: Random, start: Point, length_px: float, width_px: float) -> Picture:
    """A rust streak that begins at a fastener and thins out downwards."""
    mask = Image.new("L", canvas.size)
    for share in (1.0, 0.7, 0.45):
        drift = rng.uniform(-width_px, width_px) * 0.5
        end = (start[0] + drift, start[1] + length_px * share)
        path = wander(rng, start, end, steps=14, sway_px=width_px * 0.07)
        mask.paste(255, mask=_thinning(canvas.size, path, width_px * (1.5 - share)))
    spots = ramp(cloud(rng, canvas.size, (26, 60), 3), 0.15, 0.6)
    halo = glow(canvas.size, start, (width_px * 1.9, width_px * 1.9))
    result = stained(canvas, (132, 70, 34), mix(blurred(mask, width_px * 0.12), spots))
    return stained(result, (112, 56, 28), halo)


def _thinning(size: Size, path: Sequence[Point], width: float) -> Picture:
    left = [(x - width / 2 * (1 - i / len(path)), y) for i, (x, y) in enumerate(path)]
    right = [(x + width / 2 * (1 - i / len(path)), y) for i, (x, y) in enumerate(path)]
    strip = polygon(size, left + right[::-1])
    top, bottom = path[0][1], path[-1][1]
    return mix(strip, fade(size, bottom / size[1], top / size[1]))


def wire(canvas: Picture, path: Sequence[Point], width_px: float, colour: Colour, *, drop_px: int = 14) -> Picture:
    """An insulated conductor: shaded round, with the shadow it throws on what is behind it."""
    body = strokes(canvas.size, [path], width_px)
    result = shadow(canvas, body, move=(drop_px, drop_px + 4), blur_px=drop_px * 0.5, strength=0.55)
    dark: Colour = (round(colour[0] * 0.42), round(colour[1] * 0.42), round(colour[2] * 0.42))
    result = tinted(result, dark, body)
    core = [(x - width_px * 0.10, y - width_px * 0.12) for x, y in path]
    result = tinted(result, colour, strokes(canvas.size, [core], width_px * 0.66, width_px * 0.1))
    shine = [(x - width_px * 0.16, y - width_px * 0.22) for x, y in path]
    return glazed(result, strokes(canvas.size, [shine], width_px * 0.14, width_px * 0.07), 0.6)


def staple(canvas: Picture, at: Point, *, width_px: float, rise_px: float, lean_px: float, colour: Colour) -> Picture:
    """A staple drawn half out of the board, standing up with a long shadow."""
    x, y = at
    legs = [(x, y), (x + lean_px, y - rise_px), (x + width_px + lean_px, y - rise_px * 0.92), (x + width_px, y)]
    cast = [
        (x, y),
        (x + rise_px * 0.95, y + rise_px * 0.38),
        (x + width_px + rise_px * 0.95, y + rise_px * 0.42),
        (x + width_px, y),
    ]
    result = darkened(canvas, strokes(canvas.size, [cast], 8, 2.5), 0.55)
    for hole in ((x, y), (x + width_px, y)):
        result = darkened(result, glow(canvas.size, hole, (15, 11)), 0.9)
    result = tinted(result, (60, 52, 46), strokes(canvas.size, [legs], 9))
    result = tinted(result, colour, strokes(canvas.size, [legs], 5.5, 0.6))
    lit_edge = [(px - 1, py - 2) for px, py in legs]
    return glazed(result, strokes(canvas.size, [lit_edge], 2, 0.5), 0.55)


def awl(length_px: int, handle: Colour = (122, 46, 34)) -> Picture:
    """A probe with a round wooden handle, point to the left, as a cut-out."""
    height = round(length_px * 0.2)
    tool = Image.new("RGB", (length_px, height), handle)
    middle, start = height / 2, length_px * 0.55
    shaft = polygon(tool.size, [(0, middle), (start, middle - height * 0.09), (start, middle + height * 0.09)])
    ferrule = polygon(
        tool.size,
        [
            (start - length_px * 0.05, height * 0.32),
            (start + 4, height * 0.28),
            (start + 4, height * 0.72),
            (start - length_px * 0.05, height * 0.68),
        ],
    )
    grip = [
        (start, height * 0.30),
        (start + length_px * 0.10, height * 0.10),
        (start + length_px * 0.3, height * 0.04),
        (length_px * 0.95, height * 0.2),
    ]
    handle_mask = polygon(
        tool.size, [*grip, (length_px - 1, middle), *[(x, height - y) for x, y in reversed(grip)]], blur_px=0.8
    )
    tool = darkened(
        tool,
        polygon(
            tool.size,
            [(start, height * 0.6), (length_px, height * 0.6), (length_px, height), (start, height)],
            blur_px=height * 0.12,
        ),
        0.6,
    )
    tool = glazed(
        tool,
        strokes(
            tool.size, [[(start + 12, height * 0.27), (length_px * 0.93, height * 0.27)]], height * 0.08, height * 0.05
        ),
        0.5,
    )
    tool = tinted(tinted(tool, (150, 153, 156), shaft), (190, 170, 110), ferrule)
    tool = glazed(tool, strokes(tool.size, [[(6, middle - 2), (start, middle - height * 0.04)]], 2, 0.8), 0.6)
    cut_out = Image.new("L", tool.size)
    for mask in (shaft, ferrule, handle_mask):
        cut_out.paste(255, mask=mask)
    tool.putalpha(cut_out)
    return tool
