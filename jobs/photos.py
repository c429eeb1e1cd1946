"""Photos from phones: check what comes in, make what is shown. Bytes in, bytes out.

An upload is anything at all until it has been decoded, so every fault a decoder can raise becomes one
`PhotoRefused`, in words for whoever sent it. What is shown is always drawn anew: upright, in sRGB, and without
anything else that was in the file.
"""

import io
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime

import pillow_heif
from django.conf import settings
from PIL import Image, ImageCms, ImageFile, UnidentifiedImageError

LARGE_PX = 1600
SMALL_PX = 400
JPEG_QUALITY = 82
# 50-megapixel phones stay just under it.
MAX_PIXELS = 52_000_000
# Progressive photos have about ten scans. Every scan costs a pass over the whole picture, however few its bytes.
MAX_SCANS = 100
# A large picture takes some hundred megabytes while it is decoded; the others wait for their turn.
DECODING = threading.BoundedSemaphore(2)

# Multi-picture files of phones open as JPEG. Listing "MPO" would break the search for every other format.
FORMATS = ("JPEG", "PNG", "WEBP", "HEIF", "AVIF")
NAMES = {"MPO": "JPEG", "HEIF": "HEIC"}
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
LYING = {5, 6, 7, 8}
EXIF_IFD, ORIENTATION, TIME_TAKEN, TIME_DIGITIZED = 0x8769, 0x0112, 0x9003, 0x9004
PROFILE_MODES = {"RGB ": "RGB", "GRAY": "L", "CMYK": "CMYK"}
# How the files begin: enough to tell a photo cut short from what never was one.
BEGINNING = re.compile(rb"\xff\xd8|\x89PNG|RIFF....WEBP|....ftyp(hei|hev|mif|msf|avi)", re.DOTALL)
NEXT_MARKER = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")
START_OF_IMAGE, START_OF_SCAN, END_OF_IMAGE = 0xD8, 0xDA, 0xD9

EMPTY = "This photo is empty. Please choose or take it again."
NO_PHOTO = "This file is not a photo we can read. Please send a JPEG, PNG, WebP, HEIC or AVIF picture."
TOO_MANY_PIXELS = "This photo has more than 52 megapixels. Please take it again in the camera's usual size."
BROKEN = "This photo is broken or did not arrive whole. Please send it again, or take it once more."

pillow_heif.register_heif_opener(thumbnails=False)
# For every user of Pillow in this process: whatever is larger is announced as a bomb, twice that is refused.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS


class PhotoRefused(Exception):
    """The upload is not a photo we can use; the text says why and what to do."""


@dataclass(frozen=True)
class CheckedPhoto:
    """What an accepted upload is. The size is that of the upright picture; the time is the camera's, without zone."""

    format: str
    width_px: int
    height_px: int
    taken_at: datetime | None


def check_upload(data: bytes) -> CheckedPhoto:
    """Decode an upload once, a JPEG at an eighth of its size, and say what it is.

    format: JPEG, PNG, WEBP, HEIC or AVIF. Raises PhotoRefused for anything else, for what is empty, too large in
    bytes or pixels, broken or cut short. May wait while two other photos are being decoded.
    """
    with _opened(data) as image:
        width_px, height_px = image.size
        orientation, taken_at = _orientation(image), _taken_at(image)
        image.draft(None, (1, 1))
        image.load()
        if orientation in LYING:
            width_px, height_px = height_px, width_px
        name = image.format or ""
        return CheckedPhoto(NAMES.get(name, name), width_px, height_px, taken_at)


def render(data: bytes, *, long_side_px: int) -> bytes:
    """A progressive JPEG of the photo: upright, sRGB, at most long_side_px [px] on its long side, nothing else in it.

    Raises PhotoRefused as `check_upload` does, ValueError if long_side_px is not above 0.
    May wait while two other photos are being decoded.
    """
    if not long_side_px > 0:
        raise ValueError(f"long_side_px must be above 0, got {long_side_px!r}")
    with _opened(data) as opened:
        orientation = _orientation(opened)
        image = _resizable(opened)
        # First smaller, then all the rest: turning would decode the picture in full size.
        # With this gap the error against a full resize is invisible (46 dB) and a JPEG is never decoded whole.
        image.thumbnail((long_side_px, long_side_px), Image.Resampling.LANCZOS, reducing_gap=1.1)
        shown = _in_srgb(image)
        if orientation in TURNS:
            shown = shown.transpose(TURNS[orientation])
        shown.info.clear()  # the JPEG comment would be written again
        file = io.BytesIO()
        shown.save(file, "JPEG", quality=JPEG_QUALITY, progressive=True, optimize=True)
        return file.getvalue()


@contextmanager
def _opened(data: bytes) -> Iterator[ImageFile.ImageFile]:
    """The picture, its header read and found fit to decode; whatever goes wrong inside is a PhotoRefused."""
    _check_bytes(data)
    with DECODING:
        try:
            with Image.open(io.BytesIO(data), formats=FORMATS) as image:
                _check_pixels(image)
                yield image
        except PhotoRefused:
            raise
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise PhotoRefused(TOO_MANY_PIXELS) from None
        except UnidentifiedImageError:
            raise PhotoRefused(BROKEN if BEGINNING.match(data) else NO_PHOTO) from None
        except Exception as error:
            # Decoders answer broken files with nearly any class of error, SyntaxError and MemoryError among them.
            raise PhotoRefused(BROKEN) from error


def _check_bytes(data: bytes) -> None:
    if not data:
        raise PhotoRefused(EMPTY)
    if len(data) > settings.PHOTO_MAX_BYTES:
        most_mb = settings.PHOTO_MAX_BYTES // 1_000_000
        raise PhotoRefused(f"This photo is larger than {most_mb} MB. Please send a smaller one.")
    if _scan_count(data) > MAX_SCANS:
        raise PhotoRefused(BROKEN)


def _check_pixels(image: Image.Image) -> None:
    if image.width * image.height > MAX_PIXELS:
        raise PhotoRefused(TOO_MANY_PIXELS)


def _scan_count(data: bytes) -> int:
    """How many scans the first picture of a JPEG file has, to MAX_SCANS + 1; 0 for other files."""
    if not data.startswith(b"\xff\xd8"):
        return 0
    scans, at = 0, 0
    # Only where a marker can stand: the same two bytes may be anything inside a segment or a trailing film.
    while scans <= MAX_SCANS and (marker := NEXT_MARKER.search(data, at)):
        kind, at = marker[0][-1], marker.end()
        if kind == END_OF_IMAGE:
            break
        if kind != START_OF_IMAGE:
            at += int.from_bytes(data[at : at + 2], "big")
        scans += kind == START_OF_SCAN
    return scans


def _orientation(image: Image.Image) -> int:
    # Broken notes about a photo are no reason to lose it.
    with suppress(Exception):
        return int(image.getexif().get(ORIENTATION, 1))
    return 1


def _taken_at(image: Image.Image) -> datetime | None:
    with suppress(Exception):
        notes = image.getexif().get_ifd(EXIF_IFD)
        text = str(notes.get(TIME_TAKEN) or notes.get(TIME_DIGITIZED))
        # The camera's own clock: which zone it stood in is for whoever knows the shop to say.
        return datetime.strptime(text.strip("\x00 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 - cameras write no zone
    return None


def _resizable(image: Image.Image) -> Image.Image:
    """The picture in a mode that can be made smaller smoothly; those of nearly all photos are left alone."""
    if image.mode in {"RGB", "L", "CMYK", "YCbCr", "RGBA", "LA"}:
        return image
    if image.mode.startswith("I"):
        # 16-bit grey; a plain conversion would clip all but the darkest to white.
        return image.convert("I").point(lambda level: level * (1 / 256)).convert("L")
    plain = image.convert("RGBA" if image.has_transparency_data else "RGB")
    plain.info = dict(image.info)
    return plain


def _in_srgb(image: Image.Image) -> Image.Image:
    """The picture in RGB on white, its colours brought from its own profile to sRGB."""
    profile = image.info.get("icc_profile")
    if image.mode in {"RGBA", "LA"}:
        image = _on_white(image)
    if profile:
        # Wide-gamut phones: the colour of a stain is evidence. A profile that cannot be read is left out.
        with suppress(Exception):
            own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            matching = image.convert(PROFILE_MODES[own.profile.xcolor_space])
            turned = ImageCms.profileToProfile(matching, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
            if turned is not None:
                return turned
    return image.convert("RGB")


def _on_white(image: Image.Image) -> Image.Image:
    clear = image.convert("RGBA")
    white = Image.new("RGBA", clear.size, "white")
    return Image.alpha_composite(white, clear).convert("RGB")
