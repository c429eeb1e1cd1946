"""The layers and the order of the apps, read from the imports."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ORDER = ["jobs", "estimates", "updates", "shopfloor"]
OPEN_TO_ALL = {"shopfloor.celery", "shopfloor.htmx"}
LAYERS = {"calc": 0, "models": 1, "services": 2, "views": 3}
STANDARD_LIBRARY = __import__("sys").stdlib_module_names
NUMBERS = {"numpy", "scipy", "numba"}


def modules(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*.py") if "migrations" not in path.parts]


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.module or ""


def layer(parts: list[str]) -> str | None:
    """The layer of a module of an app by its first folder or file name, or None."""
    return parts[1] if len(parts) > 1 and parts[1] in LAYERS else None


APP_MODULES = [path for app in ORDER for path in modules(ROOT / app)]


def test_there_is_something_to_check():
    assert len(APP_MODULES) > 30


@pytest.mark.parametrize("path", APP_MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_apps_know_only_those_before_them(path):
    app = path.relative_to(ROOT).parts[0]
    later = set(ORDER[ORDER.index(app) + 1 :])

    forbidden = [name for name in imports(path) if name.split(".")[0] in later and name not in OPEN_TO_ALL]

    assert forbidden == []


@pytest.mark.parametrize(
    "path",
    [path for path in APP_MODULES if "calc" in path.relative_to(ROOT).parts],
    ids=lambda path: str(path.relative_to(ROOT)),
)
def test_calc_imports_only_the_standard_library_numbers_and_its_own_package(path):
    app = path.relative_to(ROOT).parts[0]

    foreign = [
        name
        for name in imports(path)
        if name.split(".")[0] not in STANDARD_LIBRARY | NUMBERS and not name.startswith(f"{app}.calc")
    ]

    assert foreign == []


@pytest.mark.parametrize(
    "path",
    [path for path in APP_MODULES if layer(list(path.relative_to(ROOT).with_suffix("").parts))],
    ids=lambda path: str(path.relative_to(ROOT)),
)
def test_a_layer_imports_none_above_it(path):
    own = LAYERS[layer(list(path.relative_to(ROOT).with_suffix("").parts))]

    above = [
        name
        for name in imports(path)
        if name.split(".")[0] in ORDER and (other := layer(name.split("."))) and LAYERS[other] > own
    ]

    assert above == []


@pytest.mark.parametrize(
    "path",
    [path for app in ORDER for path in modules(ROOT / app) if "views" in str(path.relative_to(ROOT))],
    ids=lambda path: str(path.relative_to(ROOT)),
)
def test_views_store_nothing_themselves(path):
    calls = [
        node.func.attr
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    ]

    assert not {"bulk_create", "create", "get_or_create", "update_or_create", "bulk_update"} & set(calls)


def test_a_module_of_the_wrong_order_would_be_caught(tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text("from estimates.models import Offer\n", encoding="utf-8")

    assert list(imports(wrong)) == ["estimates.models"]
