"""The paint box: seeded noise, masks, relief and ways to lay one on the other.

Every scene is painted on a canvas of SIZE and only then brought to the size
asked for, so scenes may use plain pixel positions. Nothing here draws chance
from anywhere but the Random it is given.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from random import Random

from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageOps

SIZE = (1600, 1200)
Colour = tuple[int, int, int]
Point = tuple[float, float]
Size = tuple[int, int]
Picture = Image.Image
FINE = 2  # masks are drawn this much larger and reduced, for smooth edges


def cloud(rng: Random, size: Size, cell_px: tuple[float, float], octaves: int = 3) -> Picture:
    """Grey noise stretched to the full range; cell_px is the size of its largest blots [px]."""
    finest_px = min(cell_px) / 2 ** (octaves - 1)
    coarse = 4 if finest_px >= 14 else 2 if finest_px >= 7 else 1  # soft noise is made small: it is quicker
    small = (max(1, size[0] // coarse), max(1, size[1] // coarse))
    result = _octave(rng, small, (cell_px[0] / coarse, cell_px[1] / coarse))
    share = total = 1.0
    for step in range(1, octaves):
        share /= 2
        total += share
        cells = coarse * 2**step
        result = Image.blend(result, _octave(rng, small, (cell_px[0] / cells, cell_px[1] / cells)), share / total)
    result = ImageOps.autocontrast(result, cutoff=0.5)
    return result if coarse == 1 else result.resize(size, Image.Resampling.BICUBIC)


def _octave(rng: Random, size: Size, cell_px: tuple[float, float]) -> Picture:
    cells_x = max(1.0, size[0] / max(cell_px[0], 1))
    cells_y = max(1.0, size[1] / max(cell_px[1], 1))
    across, down = math.ceil(cells_x) + 3, math.ceil(cells_y) + 3
    seedling = Image.frombytes("L", (across, down), rng.randbytes(across * down))
    left, top = 1 + rng.random(), 1 + rng.random()
    box = (left, top, left + cells_x, top + cells_y)
    return seedling.resize(size, Image.Resampling.BICUBIC, box=box)


def speckle(rng: Random, size: Size) -> Picture:
    """Grey noise in which every pixel is its own."""
    return Image.frombytes("L", size, rng.randbytes(size[0] * size[1]))


def curve(picture: Picture, function: Callable[[float], float]) -> Picture:
    """The grey picture with each value v (0 to 1) replaced by function(v), held within 0 to 1."""
    return picture.point([round(255 * min(1.0, max(0.0, function(v / 255)))) for v in range(256)])


def ramp(picture: Picture, low: float, high: float) -> Picture:
    """A soft threshold: 0 below low, full above high (low may be the greater, then it is inverted)."""
    return curve(picture, lambda v: _smooth((v - low) / (high - low)))


def _smooth(value: float) -> float:
    held = min(1.0, max(0.0, value))
    return held * held * (3 - 2 * held)


def levels(picture: Picture, black: float, white: float) -> Picture:
    """The grey picture stretched between two new ends, each 0 to 1."""
    return curve(picture, lambda v: black + (white - black) * v)


def contour(picture: Picture, centre: float, width: float) -> Picture:
    """A line where the grey picture passes the value centre."""
    return curve(picture, lambda v: 1 - abs(v - centre) / width)


def mix(*pictures: Picture) -> Picture:
    """Grey pictures multiplied together, as masks are."""
    result = pictures[0]
    for other in pictures[1:]:
        result = ImageChops.multiply(result, other)
    return result


def relief(height: Picture, *, gain: float, reach_px: int = 2) -> Picture:
    """Light and shade of a height picture lit from the upper left; 128 is level."""
    return ImageChops.subtract(height, ImageChops.offset(height, reach_px, reach_px), scale=1 / gain, offset=128)


def lit(picture: Picture, shade: Picture) -> Picture:
    """The picture with grey light and shade laid on; 128 leaves it as it is."""
    return ImageChops.hard_light(picture, Image.merge("RGB", (shade, shade, shade)))


def darkened(picture: Picture, mask: Picture, strength: float) -> Picture:
    """The picture multiplied down by strength (0 to 1) where the mask is full."""

    def darken(part: Picture, cover: Picture) -> Picture:
        factor = curve(cover, lambda v: 1 - strength * v)
        return ImageChops.multiply(part, Image.merge("RGB", (factor, factor, factor)))

    return _through(picture, mask, darken)


def tinted(picture: Picture, colour: Colour, mask: Picture, strength: float = 1.0) -> Picture:
    """The picture with a flat colour laid on through the mask."""

    def tint(part: Picture, cover: Picture) -> Picture:
        return Image.composite(Image.new("RGB", part.size, colour), part, curve(cover, lambda v: v * strength))

    return _through(picture, mask, tint)


def stained(picture: Picture, colour: Colour, mask: Picture) -> Picture:
    """The picture with a transparent colour soaked in through the mask; its texture stays."""

    def soak(part: Picture, cover: Picture) -> Picture:
        return Image.composite(ImageChops.multiply(part, Image.new("RGB", part.size, colour)), part, cover)

    return _through(picture, mask, soak)


def glazed(picture: Picture, mask: Picture, strength: float = 1.0) -> Picture:
    """The picture with white light added through the mask: sheen and highlights."""

    def glaze(part: Picture, cover: Picture) -> Picture:
        light = curve(cover, lambda v: v * strength)
        return ImageChops.screen(part, Image.merge("RGB", (light, light, light)))

    return _through(picture, mask, glaze)


def pasted(picture: Picture, other: Picture, mask: Picture) -> Picture:
    """The picture with another of the same size showing through the mask."""
    result = picture.copy()
    result.paste(other, mask=mask)
    return result


def _through(picture: Picture, mask: Picture, paint: Callable[[Picture, Picture], Picture]) -> Picture:
    """Paints only the box in which the mask is not empty: most marks are small."""
    box = mask.getbbox()
    if box is None:
        return picture
    result = picture.copy()
    result.paste(paint(picture.crop(box), mask.crop(box)), box)
    return result


def polygon(size: Size, *outlines: Sequence[Point], blur_px: float = 0) -> Picture:
    """A mask of one or more filled outlines."""

    def fill(pen: ImageDraw.ImageDraw, outline: list[Point]) -> None:
        pen.polygon(outline, fill=255)

    return blurred(_drawn(size, outlines, 1, fill), blur_px)


def strokes(size: Size, paths: Sequence[Sequence[Point]], width_px: float, blur_px: float = 0) -> Picture:
    """A mask of lines, each through its points, with round joints."""

    def pull(pen: ImageDraw.ImageDraw, path: list[Point]) -> None:
        pen.line(path, fill=255, width=max(1, round(width_px * FINE)), joint="curve")

    return blurred(_drawn(size, paths, width_px, pull), blur_px)


def _drawn(
    size: Size,
    paths: Sequence[Sequence[Point]],
    margin_px: float,
    draw: Callable[[ImageDraw.ImageDraw, list[Point]], None],
) -> Picture:
    """Draws enlarged for smooth edges, and only in the box the paths need."""
    mask = Image.new("L", size)
    xs = [x for path in paths for x, _ in path]
    ys = [y for path in paths for _, y in path]
    if not xs:
        return mask
    left, top = max(0, math.floor(min(xs) - margin_px - 1)), max(0, math.floor(min(ys) - margin_px - 1))
    right, bottom = min(size[0], math.ceil(max(xs) + margin_px + 1)), min(size[1], math.ceil(max(ys) + margin_px + 1))
    if right <= left or bottom <= top:
        return mask
    large = Image.new("L", ((right - left) * FINE, (bottom - top) * FINE))
    pen = ImageDraw.Draw(large)
    for path in paths:
        draw(pen, [((x - left) * FINE, (y - top) * FINE) for x, y in path])
    mask.paste(large.reduce(FINE), (left, top))
    return mask


def disc(size: Size, centre: Point, radius: Point, blur_px: float = 0) -> Picture:
    """A mask of a filled ellipse."""
    return polygon(size, ellipse(centre, radius), blur_px=blur_px)


def ellipse(centre: Point, radius: Point, steps: int = 48) -> list[Point]:
    """The outline of an ellipse, for polygon() and strokes()."""
    turns = [step * math.tau / steps for step in range(steps + 1)]
    return [(centre[0] + radius[0] * math.cos(turn), centre[1] + radius[1] * math.sin(turn)) for turn in turns]


def blurred(picture: Picture, radius_px: float) -> Picture:
    """A Gaussian blur; wide ones are done at a quarter of the size, where nobody can tell."""
    if radius_px <= 0:
        return picture
    if picture.mode != "L":
        return picture.filter(ImageFilter.GaussianBlur(radius_px))
    box = _grown(picture.getbbox(), math.ceil(radius_px * 3), picture.size)
    if box is None:
        return picture
    part = picture.crop(box)
    if radius_px < 10:
        part = part.filter(ImageFilter.GaussianBlur(radius_px))
    else:
        part = (
            part.reduce(4).filter(ImageFilter.GaussianBlur(radius_px / 4)).resize(part.size, Image.Resampling.BILINEAR)
        )
    result = Image.new("L", picture.size)
    result.paste(part, box)
    return result


def _grown(box: tuple[int, int, int, int] | None, by_px: int, size: Size) -> tuple[int, int, int, int] | None:
    if box is None:
        return None
    left, top, right, bottom = box
    return (max(0, left - by_px), max(0, top - by_px), min(size[0], right + by_px), min(size[1], bottom + by_px))


def shadow(picture: Picture, mask: Picture, *, move: tuple[int, int], blur_px: float, strength: float) -> Picture:
    """The picture with the mask's shadow thrown on it; paint the thing itself afterwards."""
    thrown = Image.new("L", mask.size)
    thrown.paste(mask, move)
    return darkened(picture, blurred(thrown, blur_px), strength)


def fade(size: Size, start: float, end: float, *, across: bool = False) -> Picture:
    """A straight ramp: 0 at start and full at end, as shares of the height (or of the width)."""
    line = Image.linear_gradient("L")  # black at the top, white at the bottom
    if across:
        line = line.transpose(Image.Transpose.ROTATE_90)
    return curve(line.resize(size, Image.Resampling.BILINEAR), lambda v: (v - start) / (end - start))


def glow(size: Size, centre: Point, radius: Point) -> Picture:
    """A round soft spot, full in the middle and 0 at radius from it."""
    spot = curve(Image.radial_gradient("L"), lambda v: _smooth(1 - v / 0.7))  # 0.7 is reached at the middle of a side
    width, height = max(1, round(radius[0] * 2)), max(1, round(radius[1] * 2))
    canvas = Image.new("L", size)
    corner = (round(centre[0] - radius[0]), round(centre[1] - radius[1]))
    canvas.paste(spot.resize((width, height), Image.Resampling.BILINEAR), corner)
    return canvas


def wander(rng: Random, start: Point, end: Point, *, steps: int, sway_px: float) -> list[Point]:
    """A shaky line from start to end."""
    points: list[Point] = []
    sway_x = sway_y = 0.0
    for step in range(steps + 1):
        share = step / steps
        points.append(
            (start[0] + (end[0] - start[0]) * share + sway_x, start[1] + (end[1] - start[1]) * share + sway_y)
        )
        sway_x = sway_x * 0.7 + rng.uniform(-sway_px, sway_px)
        sway_y = sway_y * 0.7 + rng.uniform(-sway_px, sway_px)
    return points


def bend(*corners: Point, steps: int = 24) -> list[Point]:
    """A smooth curve through the first and last corner, pulled towards those between (Bezier)."""
    return [_bezier(corners, step / steps) for step in range(steps + 1)]


def _bezier(corners: Sequence[Point], share: float) -> Point:
    points = list(corners)
    while len(points) > 1:
        points = [(a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share) for a, b in pairwise(points)]
    return points[0]


def rectangle(left: float, top: float, right: float, bottom: float) -> list[Point]:
    """The four corners, for polygon()."""
    return [(left, top), (right, top), (right, bottom), (left, bottom)]
