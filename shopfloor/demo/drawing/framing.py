"""Studs, plates and the bay between them, seen straight on with a little depth."""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from PIL import Image, ImageOps

from shopfloor.demo.drawing.materials import NEW_SPRUCE, WoodTone, wood
from shopfloor.demo.drawing.paint import (
    SIZE,
    Picture,
    Point,
    cloud,
    darkened,
    pasted,
    polygon,
    rectangle,
    shadow,
)

HALF = (SIZE[0] // 2, SIZE[1] // 2)
Box = tuple[float, float, float, float]  # left, top, right, bottom [px]


@dataclass(frozen=True)
class Frame:
    """Members by their front faces. Those lying lie behind the front of none and touch all."""

    uprights: Sequence[Box]
    lying: Sequence[Box]
    tone: WoodTone = NEW_SPRUCE
    depth: float = 0.86  # the back of the bay is drawn this much smaller

    def recess(self, rng: Random, back: Picture) -> Picture:
        """The back of the bay and the inner sides of the members."""
        canvas = darkened(back, Image.new("L", SIZE, 255), 0.18)
        timber = _far(wood(rng, HALF, self.tone, rings=8, upright=True))
        for box in self.uprights:
            for x, dark in ((box[0], 0.42), (box[2], 0.2)):
                side = [(x, box[1]), self._behind((x, box[1])), self._behind((x, box[3])), (x, box[3])]
                canvas = self._side(canvas, timber, side, dark)
        timber = _far(wood(rng, HALF, self.tone, rings=8))
        for box in self.lying:
            for y, dark in ((box[1], 0.12), (box[3], 0.55)):
                side = [(box[0], y), self._behind((box[0], y)), self._behind((box[2], y)), (box[2], y)]
                canvas = self._side(canvas, timber, side, dark)
        return canvas

    def _side(self, canvas: Picture, timber: Picture, side: Sequence[Point], dark: float) -> Picture:
        mask = polygon(SIZE, side)
        canvas = shadow(canvas, mask, move=(8, 10), blur_px=22, strength=0.5)
        return darkened(pasted(canvas, timber, mask), mask, dark)

    def _behind(self, point: Point) -> Point:
        middle = (SIZE[0] / 2, SIZE[1] / 2)
        return (
            middle[0] + (point[0] - middle[0]) * self.depth,
            middle[1] + (point[1] - middle[1]) * self.depth,
        )

    def faces(self, rng: Random, canvas: Picture) -> Picture:
        """The canvas with the front faces laid on it, lying members first."""
        for box in self.lying:
            canvas = self._face(rng, canvas, box, upright=False)
        for box in self.uprights:
            canvas = self._face(rng, canvas, box, upright=True)
        return canvas

    def _face(self, rng: Random, canvas: Picture, box: Box, *, upright: bool) -> Picture:
        left, top, right, bottom = (round(edge) for edge in box)
        board = wood(
            rng,
            (right - left, bottom - top),
            self.tone,
            rings=rng.uniform(4, 9),
            upright=upright,
            knots=rng.randrange(3),
        )
        canvas = shadow(canvas, polygon(SIZE, rectangle(*box)), move=(9, 7), blur_px=9, strength=0.55)
        canvas.paste(board, (left, top))
        edges = [(left, top, left + 3, bottom), (left, bottom - 3, right, bottom), (right - 3, top, right, bottom)]
        return darkened(canvas, polygon(SIZE, *[rectangle(*edge) for edge in edges], blur_px=1.2), 0.45)


def _far(timber: Picture) -> Picture:
    """Wood seen in passing, a little out of focus."""
    return timber.resize(SIZE, Image.Resampling.BILINEAR)


def skin_back(rng: Random) -> Picture:
    """The inner side of an outer skin: thin brown ply with stray glue."""
    sheet = ImageOps.colorize(cloud(rng, SIZE, (260, 700), 4), (148, 116, 82), (198, 166, 126))
    return darkened(sheet, cloud(rng, SIZE, (40, 900), 2), 0.18)
