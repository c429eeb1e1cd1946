"""From a painted canvas to what a phone makes of it: held by hand, uneven light, grain, JPEG."""

from io import BytesIO
from random import Random

from PIL import Image, ImageChops

from shopfloor.demo.drawing.paint import Picture, Size, cloud, curve, fade, lit, speckle

JPEG_QUALITY = 84
EDGE_SHARE = 0.03  # of the canvas, kept back so that a tilted frame never looks past it


def taken(canvas: Picture, rng: Random, size: Size, *, tilt: bool = True) -> bytes:
    """The canvas as a JPEG of the given size [px] without any metadata."""
    framed = _held_by_hand(canvas, rng, size, EDGE_SHARE * 0.8 if tilt else 0.004)
    framed = lit(framed, _room_light(rng, size))
    framed = ImageChops.add(framed, _grain(rng, size), 1, -128)
    file = BytesIO()
    framed.save(file, "JPEG", quality=JPEG_QUALITY, subsampling="4:2:0")
    return file.getvalue()


def _held_by_hand(canvas: Picture, rng: Random, size: Size, sway: float) -> Picture:
    """The frame with its corners a little off, cut to the shape asked for about the middle."""
    width, height = canvas.size
    shape = min(width / size[0], height / size[1])
    half_x, half_y = size[0] * shape / 2, size[1] * shape / 2
    corners: list[float] = []
    for side_x, side_y in ((-1, -1), (-1, 1), (1, 1), (1, -1)):
        inset_x = EDGE_SHARE * width + rng.uniform(-sway, sway) * width
        inset_y = EDGE_SHARE * height + rng.uniform(-sway, sway) * height
        corners += [width / 2 + side_x * (half_x - inset_x), height / 2 + side_y * (half_y - inset_y)]
    return canvas.transform(size, Image.Transform.QUAD, corners, Image.Resampling.BICUBIC)


def _room_light(rng: Random, size: Size) -> Picture:
    """One side brighter, blotchy, darker in the corners; 128 is neutral."""
    corner = curve(Image.radial_gradient("L").resize(size), lambda v: 0.535 - 0.22 * max(0.0, v - 0.4) ** 1.5)
    slope = fade(size, *rng.choice([(0.0, 1.0), (1.0, 0.0)]), across=rng.random() < 0.7)
    slope = Image.blend(slope, cloud(rng, size, (size[0] / 2, size[1] / 2), 1), 0.35)
    return ImageChops.add(corner, curve(slope, lambda v: 0.5 + 0.16 * (v - 0.5)), 1, -128)


def _grain(rng: Random, size: Size) -> Picture:
    """Sensor grain, 128 for none: a little in brightness at every pixel, less in colour and coarser."""
    bright = curve(speckle(rng, size), lambda v: 0.502 + 0.075 * (v - 0.5))
    half = (max(1, size[0] // 2), max(1, size[1] // 2))
    colours = [curve(speckle(rng, half), lambda v: 0.502 + 0.05 * (v - 0.5)).resize(size) for _ in range(2)]
    return Image.merge(
        "RGB", (ImageChops.add(bright, colours[0], 1, -128), bright, ImageChops.add(bright, colours[1], 1, -128))
    )
