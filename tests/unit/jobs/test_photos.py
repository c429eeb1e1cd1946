"""Photos: what is taken in, what is refused with which words, and what is left of them when they are shown."""

import io
import struct
import threading
import time
import zlib
from datetime import datetime

import pytest
from PIL import Image, ImageChops, ImageCms, ImageFile, ImageOps, ImageStat

from jobs import photos
from jobs.photos import CheckedPhoto, PhotoRefused, check_upload, render

ORIENTATION, MAKER, TIME_CHANGED = 0x0112, 0x010F, 0x0132
EXIF_IFD, TIME_TAKEN, TIME_DIGITIZED = 0x8769, 0x9003, 0x9004
GPS_IFD, LATITUDE_REF, LATITUDE = 0x8825, 1, 2
SECRETS = [
    b"Secret maker",
    b"Secret comment",
    b"Secret rights",
    b"2026:05:04",
    b"Exif",
    b"ns.adobe.com",
    b"ICC_PROFILE",
]


def picture(width=60, height=40):
    """Four quarters of different grey and a red corner: no turn or mirror of it looks like another."""
    image = Image.new("RGB", (width, height), (230, 230, 230))
    image.paste((20, 20, 20), (0, 0, width // 2, height // 2))
    image.paste((120, 120, 120), (width // 2, 0, width, height // 2))
    image.paste((200, 40, 40), (0, height // 2, width // 2, height))
    return image


def encoded(image, kind="JPEG", **options):
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def decoded(data):
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def difference(one, other):
    """Mean difference of the levels, the worst of the channels."""
    return max(ImageStat.Stat(ImageChops.difference(one.convert("RGB"), other.convert("RGB"))).mean)


def exif(**tags):
    notes = Image.Exif()
    notes[MAKER] = "Secret maker"
    notes.get_ifd(GPS_IFD).update({LATITUDE_REF: "N", LATITUDE: (44.0, 58.0, 12.0)})
    if "orientation" in tags:
        notes[ORIENTATION] = tags["orientation"]
    if "changed" in tags:
        notes[TIME_CHANGED] = tags["changed"]
    for name, tag in [("taken", TIME_TAKEN), ("digitized", TIME_DIGITIZED)]:
        if name in tags:
            notes.get_ifd(EXIF_IFD)[tag] = tags[name]
    return notes


def as_stored(upright, orientation):
    """The picture that Pillow's own turning makes upright: what a phone held that way stores."""
    for stored in [upright.copy(), *(upright.transpose(turn) for turn in Image.Transpose)]:
        stored.getexif()[ORIENTATION] = orientation
        turned = ImageOps.exif_transpose(stored)
        if turned.size == upright.size and difference(turned, upright) == 0:
            return stored
    raise AssertionError(f"no picture for orientation {orientation}")


def jpeg_segments(data):
    """The markers of a JPEG file with their content, up to the first scan."""
    at, found = 2, []
    while data[at + 1] != 0xDA:
        size = struct.unpack(">H", data[at + 2 : at + 4])[0]
        found.append((data[at + 1], data[at + 4 : at + 2 + size]))
        at += 2 + size
    return found


def jpeg_that_claims(width, height):
    """A small JPEG whose header says it is this large."""
    data = encoded(picture())
    at = data.index(b"\xff\xc0")
    return data[: at + 5] + struct.pack(">HH", height, width) + data[at + 9 :]


def png_that_claims(width, height):
    data = bytearray(encoded(picture(), "PNG"))
    data[16:24] = struct.pack(">II", width, height)
    data[29:33] = struct.pack(">I", zlib.crc32(bytes(data[12:29])))
    return bytes(data)


@pytest.mark.parametrize(
    ("kind", "name"), [("JPEG", "JPEG"), ("PNG", "PNG"), ("WEBP", "WEBP"), ("HEIF", "HEIC"), ("AVIF", "AVIF")]
)
def test_the_formats_of_phones_are_taken_in_and_shown(kind, name):
    data = encoded(picture(640, 480), kind)

    assert check_upload(data) == CheckedPhoto(name, 640, 480, None)
    assert difference(decoded(render(data, long_side_px=640)), picture(640, 480)) < 3


def test_the_two_pictures_in_one_file_that_some_phones_send_count_as_jpeg():
    data = encoded(picture(640, 480), "MPO", save_all=True, append_images=[picture(64, 48)])

    assert check_upload(data) == CheckedPhoto("JPEG", 640, 480, None)
    assert decoded(render(data, long_side_px=160)).size == (160, 120)


def test_a_photo_with_a_film_behind_it_is_taken_in():
    film = b"\x00\x00\x00\x18ftypmp42" + b"\xff\xda\x00\x02" * 1000

    assert check_upload(encoded(picture()) + film).format == "JPEG"


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "JPEG2000", "PDF", "ICO"])
def test_other_formats_are_refused_with_those_that_are_taken(kind):
    with pytest.raises(PhotoRefused, match="JPEG, PNG, WebP, HEIC or AVIF"):
        check_upload(encoded(picture(), kind))


@pytest.mark.parametrize("data", [b"a", b"<svg onload='x'/>", b"%!PS-Adobe", b"PK\x03\x04" + bytes(200)])
def test_what_is_no_picture_is_refused_in_words(data):
    with pytest.raises(PhotoRefused, match="not a photo we can read"):
        check_upload(data)


def test_an_empty_file_is_refused_in_words():
    with pytest.raises(PhotoRefused, match="empty"):
        check_upload(b"")


def test_too_many_bytes_are_refused_before_anything_is_read(settings):
    settings.PHOTO_MAX_BYTES = 2_000_000

    with pytest.raises(PhotoRefused, match="larger than 2 MB"):
        check_upload(encoded(picture()) + bytes(2_000_000))
    assert check_upload(encoded(picture()) + bytes(1_000_000)).format == "JPEG"


@pytest.mark.parametrize(
    "take_in", [check_upload, lambda data: render(data, long_side_px=400)], ids=["check", "render"]
)
@pytest.mark.parametrize(
    "data",
    [
        jpeg_that_claims(9000, 6700),
        jpeg_that_claims(65_000, 65_000),
        png_that_claims(9000, 6700),
        png_that_claims(7300, 7200),
        png_that_claims(2_000_000_000, 2),
    ],
    ids=["60 MP JPEG", "4 GP JPEG", "60 MP PNG", "just too many", "very long"],
)
def test_too_many_pixels_are_refused_quickly_and_without_decoding(data, take_in, monkeypatch):
    decodings = []
    monkeypatch.setattr(ImageFile.ImageFile, "load", lambda image: decodings.append(image))
    begin = time.perf_counter()

    with pytest.raises(PhotoRefused, match="more than 52 megapixels"):
        take_in(data)

    assert decodings == []
    assert time.perf_counter() - begin < 1


def test_the_bomb_warning_is_a_refusal_where_warnings_are_not_errors(recwarn):
    with pytest.raises(PhotoRefused, match="more than 52 megapixels"):
        check_upload(png_that_claims(9000, 6700))


@pytest.mark.parametrize(("width", "height"), [(8064, 6048), (8160, 6120)], ids=["48 MP", "50 MP"])
def test_the_largest_photos_of_phones_are_taken_in_and_shown(width, height):
    shade = Image.linear_gradient("L").resize((width, height))
    data = encoded(Image.merge("RGB", (shade, shade, shade)), quality=85)

    checked = check_upload(data)
    shown = decoded(render(data, long_side_px=photos.LARGE_PX))

    assert (checked.width_px, checked.height_px) == (width, height)
    assert shown.size == (1600, 1200)
    assert shown.getpixel((800, 1190))[0] - shown.getpixel((800, 10))[0] > 230


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF", "AVIF"])
@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9])
def test_a_photo_cut_short_is_refused_with_the_request_to_send_it_again(kind, kept):
    image = Image.effect_noise((400, 300), 80).convert("RGB")
    data = encoded(image, kind)

    with pytest.raises(PhotoRefused, match="send it again"):
        check_upload(data[: int(len(data) * kept)])


@pytest.mark.parametrize("options", [{}, {"progressive": True}], ids=["baseline", "progressive"])
def test_a_jpeg_that_lacks_its_last_byte_is_refused(options):
    data = encoded(Image.effect_noise((800, 600), 80), **options)

    assert check_upload(data).width_px == 800
    with pytest.raises(PhotoRefused, match="did not arrive whole"):
        check_upload(data[:-1])


def test_a_jpeg_of_endless_scans_is_refused_quickly():
    data = encoded(Image.new("L", (7000, 7000), 128), progressive=True)
    last_scan = data[data.rindex(b"\xff\xda") : -2]
    bomb = data[:-2] + last_scan * 2000 + b"\xff\xd9"
    begin = time.perf_counter()

    with pytest.raises(PhotoRefused, match="broken"):
        check_upload(bomb)

    assert time.perf_counter() - begin < 1


def test_text_that_unpacks_to_far_more_than_it_is_cannot_fill_the_memory():
    text = zlib.compress(bytes(60_000_000), 9)
    chunk = b"zTXtnote\x00\x00" + text
    packed = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    data = encoded(picture(), "PNG")

    with pytest.raises(PhotoRefused):
        check_upload(data[:33] + packed + data[33:])


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "AVIF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_comes_out_upright_however_the_phone_was_held(kind, orientation):
    upright = picture(600, 400)
    stored = as_stored(upright, orientation)
    data = encoded(stored, kind, exif=exif(orientation=orientation))

    checked = check_upload(data)
    shown = decoded(render(data, long_side_px=600))

    assert (checked.width_px, checked.height_px) == (600, 400) == shown.size
    assert difference(shown, upright) < 4


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF", "AVIF"])
def test_nothing_but_the_picture_is_left_of_a_photo(kind):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    notes = exif(orientation=1, taken="2026:05:04 10:20:30")
    xmp = b"<x:xmpmeta xmlns:x='ns.adobe.com'>Secret rights</x:xmpmeta>"
    options = {"comment": b"Secret comment", "xmp": xmp} if kind == "JPEG" else {}
    data = encoded(picture(640, 480), kind, exif=notes, icc_profile=profile, **options)
    assert b"Secret maker" in data
    assert check_upload(data).taken_at == datetime(2026, 5, 4, 10, 20, 30)  # noqa: DTZ001

    shown = render(data, long_side_px=400)

    assert not [secret for secret in SECRETS if secret in shown]
    markers = jpeg_segments(shown)
    assert [(marker, content[:5]) for marker, content in markers if marker >= 0xE0] == [(0xE0, b"JFIF\x00")]
    assert dict(decoded(shown).getexif()) == {}
    assert 0xC2 in [marker for marker, _ in markers], "progressive"


def test_the_comment_and_the_gps_position_that_a_plain_save_would_keep_are_gone():
    data = encoded(picture(), comment=b"Secret comment", exif=exif())
    assert b"Secret comment" in encoded(decoded(data)), "the trap is still there"

    shown = render(data, long_side_px=400)

    assert b"Secret" not in shown
    assert decoded(shown).getexif().get_ifd(GPS_IFD) == {}


@pytest.mark.parametrize(
    ("width", "height", "side", "size"),
    [
        (4000, 3000, 1600, (1600, 1200)),
        (3000, 4000, 400, (300, 400)),
        (300, 200, 1600, (300, 200)),
        (5000, 2, 400, (400, 1)),
    ],
)
def test_a_photo_is_made_smaller_but_never_larger(width, height, side, size):
    assert decoded(render(encoded(picture(width, height)), long_side_px=side)).size == size


def test_a_long_side_of_nothing_is_refused():
    with pytest.raises(ValueError, match="long_side_px"):
        render(encoded(picture()), long_side_px=0)


@pytest.mark.parametrize(
    ("image", "colour"),
    [
        (Image.new("RGBA", (64, 64), (0, 0, 0, 0)), (255, 255, 255)),
        (Image.new("LA", (64, 64), (0, 128)), (127, 127, 127)),
        (Image.new("1", (64, 64), 1), (255, 255, 255)),
        (Image.new("L", (64, 64), 77), (77, 77, 77)),
        (Image.new("I;16", (64, 64), 0x4D00), (77, 77, 77)),
        (Image.new("RGB", (64, 64), (200, 40, 90)).quantize(4), (200, 40, 90)),
    ],
    ids=["clear", "half clear grey", "black and white", "grey", "16-bit grey", "palette"],
)
def test_pictures_of_every_kind_keep_their_tone(image, colour):
    shown = decoded(render(encoded(image, "PNG"), long_side_px=32))

    assert shown.mode == "RGB"
    assert shown.getpixel((16, 16)) == pytest.approx(colour, abs=3)


def test_a_palette_with_a_clear_colour_lies_on_white():
    image = Image.new("P", (64, 64), 0)
    image.putpalette([0, 0, 0, 10, 20, 30])

    shown = decoded(render(encoded(image, "PNG", transparency=0), long_side_px=32))

    assert shown.getpixel((16, 16)) == (255, 255, 255)


def test_a_print_shops_colours_come_out_as_colours():
    shown = decoded(render(encoded(picture(64, 64).convert("CMYK")), long_side_px=64))

    assert difference(shown, picture(64, 64)) < 8


def test_colours_are_brought_from_the_photos_own_profile_to_srgb():
    red_and_blue_swapped = (
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
        .tobytes()
        .replace(b"rXYZ", b"????")
        .replace(b"bXYZ", b"rXYZ")
        .replace(b"????", b"bXYZ")
    )
    data = encoded(Image.new("RGB", (64, 64), (255, 0, 0)), icc_profile=red_and_blue_swapped)

    shown = decoded(render(data, long_side_px=64))

    assert shown.getpixel((32, 32)) == pytest.approx((0, 0, 255), abs=6)


@pytest.mark.parametrize("profile", [b"nonsense", b"\x00" * 200])
def test_a_broken_colour_profile_does_not_cost_the_photo(profile):
    shown = decoded(render(encoded(picture(64, 64), icc_profile=profile), long_side_px=64))

    assert difference(shown, picture(64, 64)) < 4


@pytest.mark.parametrize(
    ("tags", "taken_at"),
    [
        ({"taken": "2026:05:04 10:20:30"}, datetime(2026, 5, 4, 10, 20, 30)),  # noqa: DTZ001
        ({"digitized": "2026:05:04 10:20:30"}, datetime(2026, 5, 4, 10, 20, 30)),  # noqa: DTZ001
        ({"taken": "2026:05:04 10:20:30", "digitized": "2026:06:01 00:00:00"}, datetime(2026, 5, 4, 10, 20, 30)),  # noqa: DTZ001
        ({"changed": "2026:05:04 10:20:30"}, None),
        ({"taken": "0000:00:00 00:00:00"}, None),
        ({"taken": "yesterday"}, None),
        ({}, None),
    ],
)
def test_the_time_taken_is_the_cameras_own_or_unknown(tags, taken_at):
    assert check_upload(encoded(picture(), exif=exif(**tags))).taken_at == taken_at


@pytest.mark.parametrize("notes", [b"Exif\x00\x00MM\x00*\x00\x00\x00\xff", b"Exif\x00\x00garbage", b"Exif\x00\x00"])
@pytest.mark.filterwarnings("ignore:Corrupt EXIF")
def test_broken_notes_do_not_cost_the_photo(notes):
    data = encoded(picture(), exif=notes)

    assert check_upload(data) == CheckedPhoto("JPEG", 60, 40, None)
    assert decoded(render(data, long_side_px=60)).size == (60, 40)


def test_no_more_than_two_photos_are_decoded_at_once(monkeypatch):
    at_once, most, lock = [0], [0], threading.Lock()
    load = ImageFile.ImageFile.load

    def slow_load(image):
        with lock:
            at_once[0] += 1
            most[0] = max(most[0], at_once[0])
        time.sleep(0.05)
        try:
            return load(image)
        finally:
            with lock:
                at_once[0] -= 1

    monkeypatch.setattr(ImageFile.ImageFile, "load", slow_load)
    data, done = encoded(picture(), "PNG"), []
    threads = [threading.Thread(target=lambda: done.append(check_upload(data))) for _ in range(6)]

    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(10)

    assert len(done) == 6
    assert most[0] == 2


def test_a_refusal_gives_its_turn_to_the_next():
    for _ in range(5):
        with pytest.raises(PhotoRefused):
            check_upload(b"nothing")

    assert check_upload(encoded(picture())).format == "JPEG"
