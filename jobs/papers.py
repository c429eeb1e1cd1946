"""HTML to paper: PDF by WeasyPrint, from the project's own files alone; and the drying record of a job."""

import base64
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from django.conf import settings
from django.template.loader import render_to_string

from jobs.charts.drying_data import chart_words
from jobs.charts.moisture_plan import plan_words
from jobs.drying_pictures import chart_of, draw_chart, draw_plan_picture, plan_of
from jobs.drying_sheet import read_drying
from jobs.models import Job

PNG_DATA = "data:image/png;base64,"


def render_drying_record(job: Job, *, now: datetime) -> bytes:
    """The drying record: stations with their readings and charts, the air, the equipment; as things stand now."""
    sheet = read_drying(job, now=now)
    for row in sheet.stations:
        row.station.job = job
    read = [row for row in sheet.stations if row.readings]
    context = {
        "job": job,
        "shop": job.shop,
        "sheet": sheet,
        "now": now,
        "charts": [
            (
                row,
                png_address(draw_chart(row.station, "png", now=now)),
                chart_words(chart_of(row.station, sheet.limits, now=now)),
            )
            for row in read
        ],
        "plans": [
            (png_address(draw_plan_picture(job, layer, "png")), plan_words(plan_of(job, layer)))
            for layer, _ in sheet.layers
        ],
        "owners": job.coach.owners.order_by("pk"),
        "findings": job.findings.filter(is_booked=False).order_by("number"),
    }
    return as_pdf(render_to_string("pdf/drying_record.html", context))


def as_pdf(html: str) -> bytes:
    """A paper from its HTML: PDF, tagged for readers (PDF/UA-1).

    Only the project's own static files, and pictures that stand in the HTML itself, are read while it is drawn.
    """
    from weasyprint import HTML  # heavy, and needs system libraries that the rest does not
    from weasyprint.urls import URLFetcher

    class StaticFilesOnly(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            check_address(url)
            return super().fetch(url, headers)

    document = HTML(string=html, base_url=_base_url(), url_fetcher=StaticFilesOnly(allowed_protocols={"file", "data"}))
    pdf: bytes = document.write_pdf(pdf_variant="pdf/ua-1")
    return pdf


def check_address(url: str) -> None:
    """Raises ValueError unless the address is of a file below the static folder, or is a PNG itself."""
    if url.startswith(PNG_DATA):
        return
    parts = urlsplit(url)
    path = Path(url2pathname(parts.path)).resolve()
    if parts.scheme != "file" or parts.netloc or not path.is_relative_to(_static_folder()):
        raise ValueError(f"a paper may read static files only, got {url[:200]!r}")


def png_address(png: bytes) -> str:
    """A PNG as an address that holds the picture itself."""
    return PNG_DATA + base64.b64encode(png).decode("ascii")


def _static_folder() -> Path:
    folder: Path = settings.BASE_DIR / "static"
    return folder.resolve()


def _base_url() -> str:
    return f"{_static_folder().as_uri()}/"
