from functools import cache
from io import BytesIO

import pytest
from PIL import Image, ImageChops, ImageStat

from shopfloor.demo.drawing import KINDS, draw_photo

SMALL = {"width_px": 320, "height_px": 240}


@cache
def drawn(kind):
    """Drawing takes half a second, whatever the size: the canvas is always large. Once for all."""
    return draw_photo(kind, seed=2, **SMALL)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_decodes_at_the_asked_size_and_carries_no_metadata(kind):
    photo = Image.open(BytesIO(drawn(kind)))
    photo.load()

    assert (photo.format, photo.mode, photo.size) == ("JPEG", "RGB", (320, 240))
    assert not photo.getexif()
    assert "comment" not in photo.info


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_gives_the_same_bytes_and_another_seed_another_scene(kind):
    first = drawn(kind)
    again = draw_photo(kind, seed=2, **SMALL)
    other = draw_photo(kind, seed=1, **SMALL)

    assert first == again
    assert first != other
    difference = ImageChops.difference(Image.open(BytesIO(first)), Image.open(BytesIO(other)))
    assert max(high for _, high in difference.getextrema()) > 60, "more than the grain must differ"


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_is_neither_black_nor_burnt_out_nor_flat(kind):
    grey = Image.open(BytesIO(drawn(kind))).convert("L")

    light = ImageStat.Stat(grey)

    assert 50 < light.mean[0] < 215
    assert light.stddev[0] > 12


def test_an_upright_picture_is_drawn_upright():
    photo = Image.open(BytesIO(draw_photo("mould", seed=1, width_px=300, height_px=400)))

    assert photo.size == (300, 400)


def test_an_unknown_kind_is_refused_in_words():
    with pytest.raises(ValueError, match=r"kind must be one of wet_insulation, .*; got 'sunset'"):
        draw_photo("sunset", seed=1)


def test_a_picture_without_area_is_refused_in_words():
    with pytest.raises(ValueError, match="width_px and height_px must be at least 1"):
        draw_photo("mould", seed=1, width_px=0)


def test_every_kind_of_finding_has_a_picture():
    from jobs.models import Finding

    assert {kind for kind, _ in Finding._meta.get_field("kind").choices} <= set(KINDS)
