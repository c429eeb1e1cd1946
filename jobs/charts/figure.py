"""The sheet that charts are drawn on: fonts and inks of the product, one thread at a time, the same bytes each time."""

import atexit
import functools
import io
import os
import re
import shutil
import tempfile
import threading
import unicodedata
from collections.abc import Callable, Sequence
from pathlib import Path as FilePath
from typing import Any, Final, Literal
from xml.sax.saxutils import escape

import matplotlib as mpl
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # it ships no types
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, fontManager, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Polygon
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Bbox, TransformedBbox
from PIL import Image

from jobs.charts.drying_data import Format

Point = tuple[float, float]
# Left, top, right, bottom [pt].
Box = tuple[float, float, float, float]

# static/css/tokens.css; a test compares them.
PAPER: Final = "#fbf7ef"
PAPER_BRIGHT: Final = "#fffdf8"
INK: Final = "#1d1a16"
INK_SOFT: Final = "#4c453b"
EDGE: Final = "#736855"
RULE: Final = "#bbae96"
COPPER: Final = "#7a3e14"

FONT_FOLDER: Final = FilePath(__file__).resolve().parents[2] / "static" / "fonts"
# The last one comes with matplotlib: it draws names in letters that the first two lack.
TEXT_FONT: Final = ["Atkinson Hyperlegible", "DejaVu Sans"]
HEAD_FONT: Final = ["Zilla Slab", "DejaVu Sans"]

# A phone of 360 px shows 432 pt as 0.83 px each: 14 pt stay 11.7 px, 20 pt 16.7 px.
WIDTH_PT: Final = 432.0
TEXT_PT: Final = 14.0
TITLE_PT: Final = 20.0
# Height of a capital letter or a figure.
CAP_SHARE: Final = 0.67
MARGIN_PT: Final = 12.0
# 432 pt are 6 in: 1200 px.
PNG_DPI: Final = 200
PNG_COLOURS: Final = 64
POINTS_PER_INCH: Final = 72.0
ELLIPSIS: Final = "…"
LONGEST_LABEL: Final = 300
LONGEST_WORDS: Final = 5000

# matplotlib's settings and caches belong to the process; the web server has several threads.
DRAWING: Final = threading.RLock()

_SETTINGS: Final[Any] = {
    "font.family": TEXT_FONT,
    "hatch.linewidth": 0.8,
    "path.sketch": None,
    "svg.fonttype": "path",
    "svg.hashsalt": "chart",
    # A dollar sign in a station's name is a dollar sign.
    "text.parse_math": False,
    "text.usetex": False,
}


class Sheet:
    """Paper to draw on in points [pt], from its top left corner. Made by `print_sheet` alone."""

    def __init__(self, width_pt: float, height_pt: float) -> None:
        self.width_pt, self.height_pt = width_pt, height_pt
        self.figure = Figure(figsize=(width_pt / POINTS_PER_INCH, height_pt / POINTS_PER_INCH), facecolor=PAPER)
        self.axes: Axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0, width_pt)
        self.axes.set_ylim(height_pt, 0)
        self.axes.set_autoscale_on(False)

    def line(
        self,
        points: Sequence[Point],
        *,
        colour: str = INK,
        width: float = 1.2,
        within: Box | None = None,
        gid: str = "",
        **style: Any,
    ) -> None:
        """A line, or with `marker` and `linestyle="none"` marks. `within` cuts it off, a gid names it in the SVG."""
        across, down = zip(*points, strict=True)
        line = Line2D(across, down, color=colour, linewidth=width, **style)
        self._finish(self.axes.add_artist(line), within, gid)

    def area(self, points: Sequence[Point], *, within: Box | None = None, gid: str = "", **style: Any) -> None:
        """A closed area; style as of a matplotlib patch."""
        self._finish(self.axes.add_artist(Polygon(list(points), closed=True, **style)), within, gid)

    def box(self, left: float, top: float, width: float, height: float, **style: Any) -> None:
        """An upright rectangle; style as of `area`."""
        right, bottom = left + width, top + height
        self.area([(left, top), (right, top), (right, bottom), (left, bottom)], **style)

    def shape(self, path: Path, *, gid: str = "", **style: Any) -> None:
        """A path of its own; style as of a matplotlib patch."""
        self._finish(self.axes.add_artist(PathPatch(path, **style)), None, gid)

    def text(
        self,
        at: Point,
        words: str,
        *,
        size: float = TEXT_PT,
        align: Literal["left", "center", "right"] = "left",
        middle: bool = False,
        colour: str = INK,
        bold: bool = False,
        head: bool = False,
        zorder: float = 5,
        gid: str = "",
    ) -> None:
        """One line of words standing on y, or with `middle` across it."""
        left, y = at
        text = self.axes.text(
            left,
            y + CAP_SHARE / 2 * size if middle else y,
            clean(words),
            fontproperties=_font(size, bold=bold, head=head),
            ha=align,
            va="baseline",
            color=colour,
            zorder=zorder,
        )
        self._finish(text, None, gid)

    def _finish(self, artist: Artist, within: Box | None, gid: str) -> None:
        if within is not None:
            left, top, right, bottom = within
            artist.set_clip_path(None)
            artist.set_clip_box(TransformedBbox(Bbox([[left, top], [right, bottom]]), self.axes.transData))
        if gid:
            artist.set_gid(gid)


def print_sheet(
    paint: Callable[[Sheet], None], *, width_pt: float, height_pt: float, fmt: Format, title: str, words: str
) -> bytes:
    """A painted sheet as an SVG (text as outlines, title and words inside, no script or style) or a PNG.

    The same input gives the same bytes. Raises ValueError if fmt is neither "svg" nor "png".
    """
    if fmt not in ("svg", "png"):
        raise ValueError(f"fmt must be 'svg' or 'png', got {fmt!r}")
    with DRAWING, mpl.rc_context(_SETTINGS):
        load_fonts()
        sheet = Sheet(width_pt, height_pt)
        paint(sheet)
        out = io.BytesIO()
        if fmt == "svg":
            sheet.figure.savefig(out, format="svg", metadata={"Date": None})
        else:
            sheet.figure.savefig(out, format="rgba", dpi=PNG_DPI)
    if fmt == "png":
        return _small_png(out.getvalue(), round(width_pt / POINTS_PER_INCH * PNG_DPI))
    return _plain_svg(out.getvalue().decode(), clean(title), clean(words, longest=LONGEST_WORDS)).encode()


@functools.cache
def load_fonts() -> None:
    """Make the product's fonts known to matplotlib, which cannot read the web's packed form: once a process."""
    folder, owner = FilePath(tempfile.mkdtemp(prefix="chart-fonts-")), os.getpid()
    atexit.register(_remove, folder, owner)
    for packed in sorted(FONT_FOLDER.glob("*.woff2")):
        font = TTFont(packed)
        font.flavor = None
        unpacked = folder / f"{packed.stem}.ttf"
        font.save(unpacked, reorderTables=False)
        fontManager.addfont(str(unpacked))


def clean(words: str, *, longest: int = LONGEST_LABEL) -> str:
    """Words on one line, without control characters or letters that no font here has, at most `longest` long."""
    known = _known_letters()
    one_line = " ".join(unicodedata.normalize("NFC", words).split())
    kept = "".join(letter if ord(letter) in known else "?" for letter in one_line)
    return kept if len(kept) <= longest else kept[: longest - 1] + ELLIPSIS


def text_width_pt(words: str, size: float = TEXT_PT, *, bold: bool = False, head: bool = False) -> float:
    """How wide a line of words will be [pt]."""
    with DRAWING:
        load_fonts()
        return float(
            text_to_path.get_text_width_height_descent(clean(words), _font(size, bold=bold, head=head), False)[0]
        )


def wrap(words: str, width_pt: float, *, size: float, lines: int, head: bool = False) -> list[str]:
    """Words broken into at most so many lines of a width; what does not fit ends in an ellipsis."""
    wrapped = [""]
    for word in clean(words).split():
        longer = f"{wrapped[-1]} {word}".strip()
        if wrapped[-1] and text_width_pt(longer, size, head=head, bold=head) > width_pt and len(wrapped) < lines:
            wrapped.append(word)
        else:
            wrapped[-1] = longer
    return [shorten(line, width_pt, size=size, head=head) for line in wrapped]


def shorten(words: str, width_pt: float, *, size: float = TEXT_PT, head: bool = False) -> str:
    """A line cut to a width, with an ellipsis if anything was cut."""
    kept = clean(words)
    while len(kept) > 1 and text_width_pt(kept, size, head=head, bold=head) > width_pt:
        kept = kept.rstrip(ELLIPSIS)[:-1].rstrip() + ELLIPSIS
    return kept


def _font(size: float, *, bold: bool, head: bool) -> FontProperties:
    return FontProperties(family=HEAD_FONT if head else TEXT_FONT, weight="bold" if bold else "regular", size=size)


@functools.cache
def _known_letters() -> frozenset[int]:
    with DRAWING:
        load_fonts()
        # One of ours and the one that comes with matplotlib; the other cuts of ours have the same letters.
        fonts = [FontProperties(family=family) for family in TEXT_FONT]
        return frozenset(code for font in fonts for code in get_font(fontManager.findfont(font)).get_charmap())


def _remove(folder: FilePath, owner: int) -> None:
    # A forked worker must not take its siblings' fonts away.
    if os.getpid() == owner:
        shutil.rmtree(folder, ignore_errors=True)


def _small_png(pixels: bytes, width_px: int) -> bytes:
    """Few inks make a small palette: a third of the bytes in the owner's mail, with no colour visibly off."""
    height_px = len(pixels) // (4 * width_px)
    image = Image.frombytes("RGBA", (width_px, height_px), pixels).convert("RGB")
    out = io.BytesIO()
    image.quantize(PNG_COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(out, "PNG")
    return out.getvalue()


_NOISE: Final = re.compile(
    r"<!--.*?-->|<!DOCTYPE.*?>|<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<defs>\s*</defs>", re.DOTALL
)
_STYLE: Final = re.compile(r' style="([^"]*)"')
# Hundredths of a point are finer than any screen or printer.
_OUTLINE: Final = re.compile(r' d="[^"]*"')
_FINE: Final = re.compile(r"(\.\d\d)\d+")
_ROOT: Final = re.compile(r"<svg ([^>]*)>")


def _plain_svg(svg: str, title: str, words: str) -> str:
    """The SVG with title and description, without what a strict content policy would refuse (inline style)."""
    svg = _STYLE.sub(_as_attributes, _NOISE.sub("", svg))
    svg = _OUTLINE.sub(lambda outline: _FINE.sub(r"\1", outline[0]), svg)
    head = f"<title>{escape(title)}</title>\n <desc>{escape(words)}</desc>"
    svg = _ROOT.sub(lambda root: f'<svg role="img" stroke-linejoin="round" {root[1]}>\n {head}', svg, count=1)
    return re.sub(r"\n\s*\n+", "\n", svg)


def _as_attributes(style: re.Match[str]) -> str:
    pairs = (part.split(":", 1) for part in style[1].split(";") if part.strip())
    return "".join(f' {name.strip()}="{value.strip()}"' for name, value in pairs)
