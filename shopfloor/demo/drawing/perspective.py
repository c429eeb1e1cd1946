"""A simple camera for whole rooms: points in metres to pixels, and flat pictures onto slanted walls."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image

from shopfloor.demo.drawing.paint import SIZE, Picture, Point

Spot = tuple[float, float, float]  # x, y, z [m]


@dataclass(frozen=True)
class View:
    """A pinhole camera with level horizon.

    x runs to the left as seen from the side with smaller y, z runs up [m].
    """

    eye: Spot
    heading_deg: float
    focal_px: float
    horizon_px: float

    def at(self, spot: Spot) -> Point:
        """Where a spot in front of the camera lands on the canvas [px]."""
        turn = math.radians(self.heading_deg)
        x, y = spot[0] - self.eye[0], spot[1] - self.eye[1]
        deep = max(0.05, x * math.sin(turn) + y * math.cos(turn))
        aside = x * math.cos(turn) - y * math.sin(turn)
        middle = SIZE[0] / 2
        return (middle - self.focal_px * aside / deep, self.horizon_px - self.focal_px * (spot[2] - self.eye[2]) / deep)

    def outline(self, spots: Sequence[Spot]) -> list[Point]:
        """The spots as an outline, for polygon()."""
        return [self.at(spot) for spot in spots]


def onto(canvas: Picture, flat: Picture, corners: Sequence[Point]) -> Picture:
    """The canvas with a flat picture laid on the four corners (clockwise from its upper left)."""
    width, height = flat.size
    source = [(0.0, 0.0), (float(width), 0.0), (float(width), float(height)), (0.0, float(height))]
    warp = _warp(corners, source)
    cover = Image.new("L", flat.size, 255).transform(canvas.size, Image.Transform.PERSPECTIVE, warp)
    laid = flat.transform(canvas.size, Image.Transform.PERSPECTIVE, warp, Image.Resampling.BILINEAR)
    result = canvas.copy()
    result.paste(laid, mask=cover)
    return result


def _warp(target: Sequence[Point], source: Sequence[Point]) -> list[float]:
    """The eight numbers of the projective map from target to source points."""
    rows: list[list[float]] = []
    for (x, y), (u, v) in zip(target, source, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, v])
    return _solved(rows)


def _solved(rows: list[list[float]]) -> list[float]:
    """Solves linear equations, each row ending in its right-hand side, by elimination."""
    count = len(rows)
    for column in range(count):
        best = max(range(column, count), key=lambda row: abs(rows[row][column]))
        rows[column], rows[best] = rows[best], rows[column]
        pivot = rows[column][column]
        rows[column] = [value / pivot for value in rows[column]]
        for row in range(count):
            if row != column:
                factor = rows[row][column]
                rows[row] = [a - factor * b for a, b in zip(rows[row], rows[column], strict=True)]
    return [row[-1] for row in rows]
