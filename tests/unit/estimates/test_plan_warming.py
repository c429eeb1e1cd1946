"""What a process does before the first question is asked of the plan."""

import os
import subprocess
import sys

SETTLE = """
import gc
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
