"""Compiled with numba where it is installed; the same functions in plain Python where it is not."""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

F = TypeVar("F", bound=Callable[..., Any])

numba: Any
try:
    import numba
except ImportError:  # slower by two orders of magnitude, same answers
    numba = None

# PLAN_ENGINE=plain: for tests of the plain engine on a machine that has the compiler.
IS_COMPILED = numba is not None and os.environ.get("PLAN_ENGINE") != "plain"


def compiled(function: F) -> F:
    """Compile on first use, keep the machine code on disk, let other threads run meanwhile."""
    if not IS_COMPILED:
        return function
    # Wrappers for callers outside take a tenth of the compiling: none for C, and for Python only where it may call.
    is_inner = function.__name__.startswith("_")
    dispatcher = numba.njit(
        cache=True, nogil=True, error_model="numpy", no_cfunc_wrapper=True, no_cpython_wrapper=is_inner
    )(function)
    resolve = dispatcher.get_call_template

    def resolve_plainly(types: Any, keywords: Any) -> Any:
        # Called with the constant 0 or a variable, a function would be compiled twice.
        return resolve(tuple(numba.types.unliteral(each) for each in types), keywords)

    dispatcher.get_call_template = resolve_plainly
    wrapped: F = dispatcher
    return wrapped


def _keep_code_by_content() -> None:
    """A folder for each state of the sources: numba looks only at the file of a function, not at those it calls."""
    folder = os.environ.get("NUMBA_CACHE_DIR")
    if folder:
        sources = sorted(Path(__file__).parent.glob("*.py"))
        content = hashlib.sha256(b"".join(source.read_bytes() for source in sources)).hexdigest()
        numba.config.CACHE_DIR = str(Path(folder) / content[:12])


if IS_COMPILED:
    _keep_code_by_content()
