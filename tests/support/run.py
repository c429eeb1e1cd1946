"""Run pytest against real servers: `python -m tests.support.run sqlite|postgres [pytest arguments]`.

Everything lives in a folder of its own and is gone afterwards; the developer's own data is not touched.
What the machine cannot provide is said loudly at the end; with CI=true it is a failure.
"""

import importlib
import os
import subprocess
import sys
import tempfile
from contextlib import ExitStack
from pathlib import Path

from tests.support.services import NotHere, chromium, postgres, redis

ROOT = Path(__file__).resolve().parents[2]


def main() -> int:
    database, arguments = sys.argv[1], sys.argv[2:]
    missing = _missing_parts()
    with ExitStack() as stack:
        # Short: a unix socket's path may have 107 bytes.
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cw-", ignore_cleanup_errors=True)))
        environment = _environment(folder)
        environment["REDIS_URL"], server = stack.enter_context(redis(folder))
        print(f"Broker: {server}", flush=True)
        if database == "postgres":
            try:
                environment["DATABASE_URL"] = stack.enter_context(postgres(folder))
            except NotHere as reason:
                return _loudly([*missing, f"everything on PostgreSQL: {reason}"], 0)
        subprocess.run([sys.executable, "manage.py", "collectstatic", "--noinput", "-v0"], env=environment, check=True)
        code = subprocess.run([sys.executable, "-m", "pytest", *arguments], env=environment, check=False).returncode
    return _loudly(missing, code)


def _environment(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name in {"PATH", "HOME", "LANG", "CI", "TMPDIR"}}
    return kept | {
        "DEMO": "1",
        "VAR_DIR": str(folder / "var"),
        "SECRET_KEY": "only-for-tests-" + "x" * 50,
        "PYTHONPATH": str(ROOT),
        "PYTHONDONTWRITEBYTECODE": "1",
        "LOG_LEVEL": "WARNING",
    }


def _missing_parts() -> list[str]:
    missing = []
    if chromium() is None:
        missing.append("browser tests: no Chromium found (Debian: apt-get install chromium-headless-shell)")
    try:
        importlib.import_module("weasyprint")
    except OSError as error:
        missing.append(f"papers: WeasyPrint finds no Pango ({error})")
    return missing


def _loudly(missing: list[str], code: int) -> int:
    if missing:
        print("\n" + "=" * 78)
        for part in missing:
            print(f"NOT RUN: {part}")
        print("=" * 78, flush=True)
    return code or (1 if missing and os.environ.get("CI") == "true" else 0)


if __name__ == "__main__":
    sys.exit(main())
