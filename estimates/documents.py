"""The shop's papers as PDF."""

from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from django.conf import settings
from django.template.loader import render_to_string

from estimates.models import Revision
from estimates.sheet import read_sheet


def render_revision(revision: Revision) -> bytes:
    """The paper "agreed work" of a revision: PDF, tagged for readers (PDF/UA-1).

    Only the project's own static files can be read while it is drawn.
    """
    html = render_to_string("pdf/agreed_work.html", _context(revision))
    return _as_pdf(html)


def _context(revision: Revision) -> dict[str, Any]:
    job = revision.job
    owners = [ownership.owner for ownership in job.coach.ownerships.select_related("owner").order_by("pk")]
    return {"sheet": read_sheet(revision), "revision": revision, "job": job, "shop": job.shop, "owners": owners}


def _as_pdf(html: str) -> bytes:
    from weasyprint import HTML  # heavy, and needs system libraries that the rest does not
    from weasyprint.urls import URLFetcher

    class StaticFilesOnly(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            check_static(url)
            return super().fetch(url, headers)

    document = HTML(string=html, base_url=_base_url(), url_fetcher=StaticFilesOnly(allowed_protocols={"file"}))
    pdf: bytes = document.write_pdf(pdf_variant="pdf/ua-1")
    return pdf


def check_static(url: str) -> None:
    """Raises ValueError unless the address is of a file below the static folder."""
    parts = urlsplit(url)
    path = Path(url2pathname(parts.path)).resolve()
    if parts.scheme != "file" or parts.netloc or not path.is_relative_to(_static_folder()):
        raise ValueError(f"a paper may read static files only, got {url!r}")


def _static_folder() -> Path:
    folder: Path = settings.BASE_DIR / "static"
    return folder.resolve()


def _base_url() -> str:
    return f"{_static_folder().as_uri()}/"
