"""Run pytest against real servers: `python -m tests.support.run all|sqlite|postgres [pytest arguments]`.

`all` runs everything on the embedded default and all that touches the database once more on PostgreSQL, cut into
parts. Two of them run side by side, except for what measures time: that has the machine for itself afterwards.
What takes long and is the same for every part is done once before: migrating, compiling the plan engine.
Everything lives in a folder of its own and is gone afterwards; the developer's own data is not touched.
What was not run is said loudly at the end, skipped tests included; with CI=true it is a failure.
"""

import importlib
import os
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

from tests.support.services import NotHere, chromium, postgres, redis

ROOT = Path(__file__).resolve().parents[2]
NOTHING_COLLECTED = 5
WIDTH = 78
KEPT = {"PATH", "HOME", "LANG", "CI", "TMPDIR", "NUMBA_CACHE_DIR", "MPLCONFIGDIR"}
NAMES = {"sqlite": "SQLite", "postgres": "PostgreSQL"}
SPEED = "tests/benchmarks"
# Benchmarks of what plans and odds are worth: they count, and give the same figures however busy the machine is.
UNTIMED = [f"{SPEED}/test_{name}.py" for name in (
    "dates_held", "later_bookings", "plan_forecast_calibration", "plan_psplib"
)]  # fmt: skip
TIMED = [SPEED, *(f"--ignore={file}" for file in UNTIMED)]
ON_DATABASE = "--touching-database"
PROCESSES = ("tests/browser", "tests/faults")
WITHOUT_PROCESSES = [f"--ignore={folder}" for folder in (SPEED, *PROCESSES)]
COMPILING = "from estimates.calc.plan.warming import warm_up; warm_up()"
MIGRATING = """
import django
from django.core.management import call_command
from django.db import connection
django.setup()
call_command("migrate", verbosity=0)
call_command("createcachetable", verbosity=0)
connection.close()
"""
# Longest first, so that no long one is left over for the end.
PARTS = [
    ("sqlite", "", WITHOUT_PROCESSES),
    ("sqlite", "processes", list(PROCESSES)),
    ("postgres", "", [ON_DATABASE, *WITHOUT_PROCESSES]),
    ("postgres", "processes", [ON_DATABASE, *PROCESSES]),
    ("sqlite", "worth", UNTIMED),
]


@dataclass
class Result:
    name: str
    code: int = 0
    closing_line: str = ""
    kept_output: bytes = b""
    not_run: list[str] = field(default_factory=list)


@dataclass
class Ground:
    """What the parts of a run stand on: of each database what the environment says of it, or why it is not here."""

    databases: dict[str, dict[str, str]]
    not_here: dict[str, NotHere] = field(default_factory=dict)


def main() -> int:
    database, arguments = sys.argv[1], sys.argv[2:]
    is_whole = database == "all" and not arguments
    with ExitStack() as stack:
        # Short: a unix socket's path may have 107 bytes.
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cw-", ignore_cleanup_errors=True)))
        os.environ["NUMBA_CACHE_DIR"] = str(folder / "compiled")  # the plan engine is compiled once for all runs
        os.environ["MPLCONFIGDIR"] = str(folder / "matplotlib")
        ground = _ground(stack, folder, list(NAMES) if database == "all" else [database])
        if is_whole:
            _prepare(ground, folder)
            results = [
                *_side_by_side(ground),
                _run(ground, "sqlite", TIMED, part="speed"),
                _run(ground, "postgres", [ON_DATABASE, *TIMED], part="speed"),
            ]
        else:
            results = [_run(ground, "sqlite", arguments)] if database in {"all", "sqlite"} else []
            if database in {"all", "postgres"}:
                results.append(_run(ground, "postgres", [ON_DATABASE, *arguments]))
    return _summary(results, _missing_parts(), is_whole=is_whole)


def _ground(stack: ExitStack, folder: Path, names: list[str]) -> Ground:
    ground = Ground({name: {} for name in names})
    if "postgres" in names:
        try:
            ground.databases["postgres"] = {"DATABASE_URL": stack.enter_context(postgres(folder))}
        except NotHere as reason:
            ground.not_here["postgres"] = reason
    return ground


def _prepare(ground: Ground, folder: Path) -> None:
    """Migrates each database once and names it to the parts as their template; meanwhile compiles the plan engine."""
    templates = {"sqlite": f"sqlite://{folder}/template.sqlite3"}
    if "postgres" not in ground.not_here:
        url = ground.databases["postgres"]["DATABASE_URL"]
        with psycopg.connect(url, autocommit=True) as server:
            server.execute("CREATE DATABASE template_migrated")
        templates["postgres"] = url.replace("/postgres?", "/template_migrated?")
    with ThreadPoolExecutor(max_workers=2) as pool:
        work = [pool.submit(_python, folder, COMPILING)]
        for name, url in templates.items():
            work.append(pool.submit(_python, folder, MIGRATING, DATABASE_URL=url))
            template = url.removeprefix("sqlite://") if name == "sqlite" else "template_migrated"
            ground.databases[name]["TEST_TEMPLATE"] = template
        for each in work:
            each.result()


def _python(folder: Path, script: str, **env: str) -> None:
    environment = _environment(folder) | {"DEMO": "1", "VAR_DIR": str(folder / "var"), "LOG_LEVEL": "WARNING"}
    environment |= {"DJANGO_SETTINGS_MODULE": "shopfloor.settings"} | env
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", script],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(f"{script} failed:\n{done.stdout}{done.stderr}")


def _side_by_side(ground: Ground) -> list[Result]:
    """The first part's output comes as it is written, that of the others once all before them are complete."""
    # Two processors are busy with two parts: with three, all of it took a minute longer.
    with ThreadPoolExecutor(max_workers=min(2, os.cpu_count() or 1)) as pool:
        runs = [
            pool.submit(_run, ground, database, arguments, part=part, is_quiet=number > 0)
            for number, (database, part, arguments) in enumerate(PARTS)
        ]
        results = []
        for run in runs:
            results.append(run.result())
            _write(results[-1].kept_output)
    return results


def _run(ground: Ground, database: str, arguments: list[str], *, part: str = "", is_quiet: bool = False) -> Result:
    result = Result(NAMES[database])
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="cw-", ignore_cleanup_errors=True)))
        environment = _environment(folder) | ground.databases[database]
        try:
            if database in ground.not_here:
                raise ground.not_here[database]
            environment["REDIS_URL"], server = stack.enter_context(redis(folder))
            result.name += f" and {server}"
        except NotHere as reason:
            result.not_run.append(f"everything on {result.name}: {reason}")
            return result
        _pytest(result, arguments, environment, is_quiet=is_quiet)
        skipped = folder / "not-run.txt"
        if skipped.exists():
            result.not_run += [f"{line} ({result.name})" for line in skipped.read_text(encoding="utf-8").splitlines()]
    result.name += f", {part}" if part else ""
    return result


def _environment(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name in KEPT}
    return kept | {"TEST_FOLDER": str(folder), "PYTHONUNBUFFERED": "1"}


def _pytest(result: Result, arguments: list[str], environment: dict[str, str], *, is_quiet: bool) -> None:
    """Notes exit code and closing line; what it prints passes through as it comes, or is kept for later."""
    command = [sys.executable, "-m", "pytest", *(["--color=yes"] if sys.stdout.isatty() else []), *arguments]
    output = f"\nTests on {result.name}: pytest {' '.join(arguments)}\n".encode()
    written = 0
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as process:
        while True:
            if not is_quiet:
                _write(output[written:])
                written = len(output)
            if not (part := os.read(process.stdout.fileno(), 65536)):
                break
            output += part
    result.kept_output = output if is_quiet else b""
    result.closing_line = [line for line in output.decode(errors="replace").splitlines() if line.strip()][-1]
    result.code = process.returncode
    if result.code == NOTHING_COLLECTED and "deselected" in result.closing_line:
        result.code = 0  # none of those asked for touches the database


def _write(output: bytes) -> None:
    sys.stdout.buffer.write(output)
    sys.stdout.buffer.flush()


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
