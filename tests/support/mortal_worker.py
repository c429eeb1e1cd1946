"""A Celery worker, real but for one thing: at a place named by the environment it kills itself, once.

KILL_PLACE: dotted name of a function of ours. KILL_WHEN: before or after the call. KILL_MARKER: a file that says it
has happened, so that the worker's next child lives. KILL_REACTION: only for the reaction of that name.
The kill is SIGKILL on the process that runs the task; nothing is cleaned up.
"""

import functools
import importlib
import importlib.util
import os
import signal
import sys
from pathlib import Path
from typing import Any

import django

MARKER = Path(os.environ["KILL_MARKER"])


def arm() -> None:
    parts = os.environ["KILL_PLACE"].split(".")
    split = next(number for number in range(len(parts) - 1, 0, -1) if _is_module(".".join(parts[:number])))
    owner: Any = importlib.import_module(".".join(parts[:split]))
    for name in parts[split:-1]:
        owner = getattr(owner, name)
    original = getattr(owner, parts[-1])
    mortal = _mortal(original)
    setattr(owner, parts[-1], mortal)
    # Modules that imported the function by name hold it too.
    for module in list(sys.modules.values()):
        for name, value in list(vars(module).items()) if module else []:
            if value is original and module is not sys.modules[__name__]:
                setattr(module, name, mortal)


def _mortal(original: Any) -> Any:
    @functools.wraps(original)
    def call(*args: Any, **kwargs: Any) -> Any:
        wanted = os.environ["KILL_REACTION"]
        if wanted and getattr(args[0], "name", "") != wanted:
            return original(*args, **kwargs)
        if os.environ["KILL_WHEN"] == "before":
            _die()
        result = original(*args, **kwargs)
        _die()
        return result

    return call


def _die() -> None:
    if MARKER.exists():
        return
    MARKER.touch()
    os.kill(os.getpid(), signal.SIGKILL)


def _is_module(name: str) -> bool:
    try:
        return importlib.util.find_spec(name) is not None
    except ModuleNotFoundError:
        return False


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
    django.setup()
    arm()
    from shopfloor.celery import app

    app.worker_main(["worker", "-c", "1", "--loglevel", "WARNING"])
