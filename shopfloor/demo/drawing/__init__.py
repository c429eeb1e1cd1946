"""Photos for the demo shop, drawn by code: each looks like what it shows, and none is of anybody's coach."""

from collections.abc import Callable
from random import Random

from shopfloor.demo.drawing import bay_scenes, camera, hidden_scenes, skin_scenes, wall_scenes
from shopfloor.demo.drawing.paint import Picture

SCENES: dict[str, Callable[[Random], Picture]] = {
    "wet_insulation": wall_scenes.wet_insulation,
    "stained_framing": wall_scenes.stained_framing,
    "rotten_framing": wall_scenes.rotten_framing,
    "loose_decking": hidden_scenes.loose_decking,
    "loose_skin": skin_scenes.loose_skin,
    "failed_seal": skin_scenes.failed_seal,
    "exposed_wire": hidden_scenes.exposed_wire,
    "mould": wall_scenes.mould,
    "corrosion": skin_scenes.corrosion,
    "other": skin_scenes.other,
    "coach": bay_scenes.coach,
    "dry_framing": wall_scenes.dry_framing,
    "new_skin": skin_scenes.new_skin,
    "drying": bay_scenes.drying,
}
KINDS = tuple(SCENES)


def draw_photo(kind: str, *, seed: int, width_px: int = 1600, height_px: int = 1200) -> bytes:
    """A JPEG that shows what the kind names; the same seed gives the same picture.

    width_px, height_px: size of the JPEG [px].
    Raises ValueError if the kind has no picture, or a side is below one pixel.
    """
    if kind not in SCENES:
        raise ValueError(f"kind must be one of {', '.join(KINDS)}; got {kind!r}")
    if width_px < 1 or height_px < 1:
        raise ValueError(f"width_px and height_px must be at least 1, got {width_px} x {height_px}")
    rng = Random(f"{kind} {seed}")
    return camera.taken(SCENES[kind](rng), rng, (width_px, height_px))
