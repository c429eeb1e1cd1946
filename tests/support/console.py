"""Runs scripts in a stack's environment, one a line, as `manage.py shell -c` would, but starts Django only once.

Reads JSON strings, writes for each one JSON list: what the script printed, and the traceback if it failed.
"""

import contextlib
import io
import json
import os
import sys
import traceback

import django


def main() -> None:
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # whatever else writes there must not pass for an answer
    django.setup()
    from django.db import connections

    for line in sys.stdin:
        printed, fault = io.StringIO(), ""
        try:
            with contextlib.redirect_stdout(printed):
                exec(json.loads(line), {})  # noqa: S102 - the tests' own scripts
        except Exception:  # noqa: BLE001
            fault = traceback.format_exc()
        connections.close_all()  # so that no script keeps a lock or an old view of the rows
        answers.write(json.dumps([printed.getvalue(), fault]) + "\n")
        answers.flush()


if __name__ == "__main__":
    main()
