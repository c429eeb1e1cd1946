"""HTML to paper: PDF by WeasyPrint, from the project's own files and the pictures in the HTML alone."""

import base64
import threading
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from django.conf import settings

PNG_DATA = "data:image/png;base64,"
JPEG_DATA = "data:image/jpeg;base64,"
SVG_DATA = "data:image/svg+xml;base64,"
# A paper full of photos takes some hundred megabytes while it is drawn; the others wait for their turn.
DRAWING = threading.BoundedSemaphore(1)


def as_pdf(html: str) -> bytes:
    """A paper from its HTML: PDF, tagged for readers (PDF/UA-1).

    Only the project's own static files, and pictures that stand in the HTML itself, are read while it is drawn.
    May wait while another paper is being drawn.
    """
    from weasyprint import HTML  # heavy, and needs system libraries that the rest does not
    from weasyprint.urls import URLFetcher

    class StaticFilesOnly(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            check_address(url)
            return super().fetch(url, headers)

    with DRAWING:
        fetcher = StaticFilesOnly(allowed_protocols={"file", "data"})
        document = HTML(string=html, base_url=_base_url(), url_fetcher=fetcher)
        pdf: bytes = document.write_pdf(font_config=_fonts(), pdf_variant="pdf/ua-1")
        return pdf


@cache
def _fonts() -> Any:
    """The style sheets' fonts, unpacked once a process: that takes a fifth of the time a short paper takes."""
    from weasyprint.text.fonts import FontConfiguration

    return FontConfiguration()


def check_address(url: str) -> None:
    """Raises ValueError unless the address is of a file below the static folder, or is a picture itself."""
    if url.startswith((PNG_DATA, JPEG_DATA, SVG_DATA)):
        return
    parts = urlsplit(url)
    path = Path(url2pathname(parts.path)).resolve()
    if parts.scheme != "file" or parts.netloc or not path.is_relative_to(_static_folder()):
        raise ValueError(f"a paper may read static files only, got {url[:200]!r}")


def png_address(png: bytes) -> str:
    """A PNG as an address that holds the picture itself."""
    return PNG_DATA + base64.b64encode(png).decode("ascii")


def jpeg_address(jpeg: bytes) -> str:
    """A JPEG as an address that holds the picture itself."""
    return JPEG_DATA + base64.b64encode(jpeg).decode("ascii")


def svg_address(svg: str) -> str:
    """An SVG drawing as an address that holds the picture itself."""
    return SVG_DATA + base64.b64encode(svg.encode()).decode("ascii")


def _static_folder() -> Path:
    folder: Path = settings.BASE_DIR / "static"
    return folder.resolve()


def _base_url() -> str:
    return f"{_static_folder().as_uri()}/"
