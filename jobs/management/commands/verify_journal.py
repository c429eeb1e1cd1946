"""Check the hash chain of every job's journal and say where it breaks."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from jobs.journal import first_break
from jobs.models import Job


class Command(BaseCommand):
    help = "Check the hash chain of every job's journal; fails naming each first entry that does not fit."

    def handle(self, *args: Any, **options: Any) -> None:
        jobs = list(Job.objects.select_related("coach").order_by("pk"))
        broken = [(job, entry) for job in jobs if (entry := first_break(job))]
        if broken:
            lines = [f"{job}: entry {entry.number} ({entry.kind}) does not fit the chain." for job, entry in broken]
            raise CommandError("\n".join(lines))
        self.stdout.write(f"The journals of {len(jobs)} jobs are whole.")
