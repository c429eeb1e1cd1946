"""What a process does before the first question is asked of the plan."""

import importlib
import os
import subprocess
import sys

from estimates.calc.plan.annealing import anneal
from estimates.calc.plan.warming import warm_up

SETTLE = """
import gc
from estimates.calc.plan.annealing import anneal
from estimates.calc.plan.warming import warm_up_aside
before = len(gc.get_objects())
warm_up_aside().join()
print(gc.get_freeze_count() / before, warm_up_aside())
"""


def test_what_a_process_begins_with_is_left_to_the_garbage_collector_no_more_and_only_once():
    plain = os.environ | {"PLAN_ENGINE": "plain"}  # nothing to compile

    run = subprocess.run([sys.executable, "-c", SETTLE], env=plain, capture_output=True, text=True, check=True)

    share, again = run.stdout.split()
    assert float(share) > 0.9
    assert again == "None"


def test_what_anneals_is_made_ready_too(monkeypatch):
    calls = []

    def counted(*arguments):
        calls.append(arguments)
        return anneal(*arguments)

    monkeypatch.setattr(importlib.import_module("estimates.calc.plan.search"), "anneal", counted)

    warm_up()

    assert calls
