"""How long the papers of a job take in the web worker that draws them, and how much memory.

Nothing here fails by time or memory.
"""

import os
import time
import urllib.request
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from estimates.papers import PAPERS

pytestmark = pytest.mark.one_database
LIMIT_S, LIMIT_MB = 5.0, 400.0
SCENE = """
from importlib import import_module
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from tests.paper_scenes import photographed_coach
scene = photographed_coach()
session = import_module(settings.SESSION_ENGINE).SessionStore()
session[SESSION_KEY] = str(scene.manager.pk)
session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
session[HASH_SESSION_KEY] = scene.manager.get_session_auth_hash()
session.create()
print(scene.job.pk, settings.SESSION_COOKIE_NAME, session.session_key)
"""


def memory_mb(process_id, name):
    """VmRSS, or VmHWM: the most since the process began [MB]."""
    status = Path(f"/proc/{process_id}/status").read_text().splitlines()
    return int(next(each for each in status if each.startswith(name)).split()[1]) / 1024


def processor_s(process_ids):
    """Time that these processes have had of the processor [s]; what else the machine does is not in it."""
    stats = [Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split() for each in process_ids]
    return sum(int(each[11]) + int(each[12]) for each in stats) / os.sysconf("SC_CLK_TCK")


def test_the_papers_of_a_job_with_twenty_photos(stack, capsys):
    job, cookie, session = stack.python(SCENE).split()
    gunicorn = stack.processes["web"].pid
    workers = Path(f"/proc/{gunicorn}/task/{gunicorn}/children").read_text().split()

    def fetch(paper):
        address = f"{stack.url}/estimates/jobs/{job}/papers/{paper}.pdf"
        request = urllib.request.Request(address, headers={"Cookie": f"{cookie}={session}"})  # noqa: S310 - our own
        started = time.perf_counter()
        with urllib.request.urlopen(request, timeout=120) as response:  # noqa: S310 - our own address
            pdf = response.read()
        return time.perf_counter() - started, pdf

    lines = []
    for paper in ["condition-report", *(each for each in PAPERS if each != "condition-report")]:
        before_s = processor_s(workers)
        first_s, pdf = fetch(paper)
        first_cpu_s = processor_s(workers) - before_s
        spent_s = min(fetch(paper)[0] for _ in range(3))
        pages = len(PdfReader(BytesIO(pdf)).pages)
        peak_mb = max(memory_mb(each, "VmHWM") for each in workers)
        lines.append(
            f"{paper}: {pages} pages, {len(pdf) / 1e6:.1f} MB, first {first_s:.2f} s "
            f"({first_cpu_s:.2f} s of the processor), then {spent_s:.2f} s, "
            f"{first_s / LIMIT_S:.2f} of the limit of {LIMIT_S:g} s; a web worker at most {peak_mb:.0f} MB, "
            f"{peak_mb / LIMIT_MB:.2f} of the limit of {LIMIT_MB:g} MB"
        )
        assert pages >= (10 if paper == "condition-report" else 1)
    with capsys.disabled():
        print("\n" + "\n".join(lines))
