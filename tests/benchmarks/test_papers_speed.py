"""How long a condition report full of photos takes, and how much memory. Nothing here fails by time or memory."""

import random
import time
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image, ImageFilter
from pypdf import PdfReader

from estimates.papers import PAPERS
from jobs.models import Photo
from jobs.papers import render_condition_report
from jobs.photos import LARGE_PX
from shopfloor.demo.telling import drain
from tests.factories import FindingFactory, PhotoFactory
from tests.scenes import mark, opened_coach, walk

LIMIT_S, LIMIT_MB = 5.0, 400.0
FINDINGS, PHOTOS_EACH = 10, 2
PROC = Path("/proc/self")


@pytest.fixture
def say(capsys):
    def print_now(text):
        with capsys.disabled():
            print(f"\n{text}")

    return print_now


@pytest.fixture
def photographed_coach(db):
    """Ten findings with two photos each, in the size of the large rendition, and stations read three times."""
    now = timezone.now().replace(second=0, microsecond=0)
    scene = opened_coach(now - timedelta(days=3))
    chance = random.Random(11)
    seen = "The batten is dark along its lower edge and the batt behind it is soaked right across. " * 3
    for number in range(FINDINGS):
        finding = FindingFactory(
            job=scene.job, seen=seen, left_mm=300.0 + 500 * number, width_mm=400.0, moisture_pct=24.0, tap_sound="dull"
        )
        for _ in range(PHOTOS_EACH):
            photo = PhotoFactory(finding=finding)
            large = ContentFile(busy_jpeg(chance), "large.jpg")
            Photo.objects.filter(pk=photo.pk).update(
                large=photo.large.field.storage.save(f"photos/{photo.pk}-large.jpg", large), small="photos/small.jpg"
            )
    stations = [mark(scene, left_mm=200.0 * number) for number in range(8)]
    for day in range(3):
        walk(scene, now - timedelta(days=2 - day), dict.fromkeys(stations, 30.0 - 3 * day))
    drain(now)
    return scene, now


def busy_jpeg(chance):
    """A photo with as much detail as wet timber has: smoothed noise, 1600 by 1200 px."""
    small = Image.frombytes("RGB", (400, 300), chance.randbytes(400 * 300 * 3))
    picture = small.resize((LARGE_PX, LARGE_PX * 3 // 4), Image.Resampling.BICUBIC).filter(ImageFilter.GaussianBlur(2))
    out = BytesIO()
    picture.save(out, "JPEG", quality=82)
    return out.getvalue()


def memory_mb(name):
    """VmRSS, or VmHWM: the most since it was last reset [MB]."""
    line = next(each for each in (PROC / "status").read_text().splitlines() if each.startswith(name))
    return int(line.split()[1]) / 1024


def reset_peak():
    (PROC / "clear_refs").write_text("5")


def test_a_condition_report_with_twenty_photos(photographed_coach, say):
    scene, now = photographed_coach
    PAPERS["warranty"].render(scene.job, now=now)  # fonts and libraries are loaded once
    before_mb = memory_mb("VmRSS")
    reset_peak()

    started, started_cpu = time.perf_counter(), time.process_time()
    pdf = render_condition_report(scene.job, now=now)
    spent_s, cpu_s = time.perf_counter() - started, time.process_time() - started_cpu
    peak_mb = memory_mb("VmHWM")

    pages = len(PdfReader(BytesIO(pdf)).pages)
    say(
        f"condition report of {pages} pages with {FINDINGS * PHOTOS_EACH} photos: {spent_s:.2f} s ({cpu_s:.2f} s of "
        f"the processor), {spent_s / LIMIT_S:.2f} of the limit of {LIMIT_S:g} s; "
        f"the whole process {peak_mb:.0f} MB at most, "
        f"{peak_mb / LIMIT_MB:.2f} of the limit of {LIMIT_MB:g} MB, {peak_mb - before_mb:.0f} MB more than before; "
        f"the file {len(pdf) / 1e6:.1f} MB"
    )
    assert pages >= 10


@pytest.mark.parametrize("paper", [each for each in PAPERS if each != "condition-report"])
def test_the_other_papers_of_that_job(paper, photographed_coach, say):
    scene, now = photographed_coach
    PAPERS["warranty"].render(scene.job, now=now)

    started = time.perf_counter()
    pdf = PAPERS[paper].render(scene.job, now=now)

    say(f"{paper}: {time.perf_counter() - started:.2f} s, {len(PdfReader(BytesIO(pdf)).pages)} pages")
    assert pdf.startswith(b"%PDF")
