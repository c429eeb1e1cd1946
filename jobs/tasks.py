"""The worker's tasks: run what the journal asks for."""

import time

from celery import shared_task
from django.utils import timezone

from jobs import journal

# Well under the task time limit; what is left is taken by the next wake-up or sweep.
SECONDS_A_TASK = 30.0


@shared_task(name="jobs.react")  # type: ignore[untyped-decorator]
def react() -> None:
    """Run due reactions until none is left. May run twice, in parallel, or die at any line."""
    started = time.monotonic()
    while time.monotonic() - started < SECONDS_A_TASK:
        claimed = journal.claim_next(timezone.now())
        if claimed is None:
            return
        journal.run_claimed(claimed, timezone.now())
