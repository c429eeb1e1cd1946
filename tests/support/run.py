"""Run pytest against real servers: `python -m tests.support.run all|sqlite|postgres [pytest arguments]`.

`all` runs everything on the embedded default, then all that touches the database once more on PostgreSQL.
Everything lives in a folder of its own and is gone afterwards; the developer's own data is not touched.
What was not run is said loudly at the end, skipped tests included; with CI=true it is a failure.
"""

import importlib
import os
import re
import subprocess
import sys
import tempfile
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from tests.support.services import NotHere, chromium, postgres, redis

ROOT = Path(__file__).resolve().parents[2]
NOTHING_COLLECTED = 5
WIDTH = 78


@dataclass
class Result:
    name: str
    code: int = 0
    closing_line: str = ""
    not_run: list[str] = field(default_factory=list)


def main() -> int:
    database, arguments = sys.argv[1], sys.argv[2:]
    results = [_run("sqlite", arguments)] if database in {"all", "sqlite"} else []
    if database in {"all", "postgres"}:
        results.append(_run("postgres", ["--touching-database", *arguments]))
    return _summary(results, _missing_parts(), is_whole=database == "all" and not arguments)


def _run(database: str, arguments: list[str]) -> Result:
    result = Result({"sqlite": "SQLite", "postgres": "PostgreSQL"}[database])
    with ExitStack() as stack:
        # Short: a unix socket's path may have 107 bytes.
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cw-", ignore_cleanup_errors=True)))
        environment = _environment(folder)
        try:
            environment["REDIS_URL"], server = stack.enter_context(redis(folder))
            result.name += f" and {server}"
            if database == "postgres":
                environment["DATABASE_URL"] = stack.enter_context(postgres(folder))
        except NotHere as reason:
            result.not_run.append(f"everything on {result.name}: {reason}")
            return result
        print(f"\nTests on {result.name}", flush=True)
        result.code, result.closing_line = _pytest(arguments, environment)
        skipped = folder / "not-run.txt"
        if skipped.exists():
            result.not_run += [f"{line} ({result.name})" for line in skipped.read_text(encoding="utf-8").splitlines()]
    return result


def _environment(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name in {"PATH", "HOME", "LANG", "CI", "TMPDIR"}}
    return kept | {"TEST_FOLDER": str(folder), "PYTHONDONTWRITEBYTECODE": "1", "PYTHONUNBUFFERED": "1"}


def _pytest(arguments: list[str], environment: dict[str, str]) -> tuple[int, str]:
    """Its exit code and its closing line; all it prints passes through as it comes."""
    command = [sys.executable, "-m", "pytest", *(["--color=yes"] if sys.stdout.isatty() else []), *arguments]
    tail = b""
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as process:
        while part := os.read(process.stdout.fileno(), 65536):
            sys.stdout.buffer.write(part)
            sys.stdout.buffer.flush()
            tail = (tail + part)[-4000:]
    lines = [line for line in tail.decode(errors="replace").splitlines() if line.strip()]
    code = process.returncode
    return (0 if code == NOTHING_COLLECTED and "deselected" in lines[-1] else code), lines[-1] if lines else ""


def _missing_parts() -> list[str]:
    missing = []
    if chromium() is None:
        missing.append("browser tests: no Chromium found (Debian: apt-get install chromium-headless-shell)")
    try:
        importlib.import_module("weasyprint")
    except OSError as error:
        missing.append(f"papers: WeasyPrint finds no Pango ({error})")
    return missing


def _summary(results: list[Result], missing: list[str], *, is_whole: bool) -> int:
    """The last thing said: how each run closed, what was not run, and one word for it all."""
    not_run = missing + [line for result in results for line in result.not_run]
    is_strict = os.environ.get("CI") == "true"
    has_failed = any(result.code for result in results)
    print()
    for result in results:
        closing = re.sub(r"\x1b\[[0-9;]*m", "", result.closing_line).strip("= ")
        print(f"{result.name}: {closing or 'not run'}")
    if not_run:
        print("=" * WIDTH)
        for line in not_run:
            print(f"NOT RUN: {line}")
        print("=" * WIDTH)
    if has_failed or (not_run and is_strict):
        print("FAILED: tests failed." if has_failed else "FAILED: with CI=true everything has to run.", flush=True)
        return 1
    if not_run:
        print("PASSED, but not everything was run.", flush=True)
    else:
        print("PASSED: everything was run." if is_whole else "PASSED: the part that was asked for.", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
