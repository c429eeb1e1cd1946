"""Check every job's journal, offers, decisions and revisions, and say where they break."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from estimates.records import breaks
from jobs.models import Job


class Command(BaseCommand):
    help = "Check journals, offers, decisions and revisions against their fingerprints; fails naming each break."

    def handle(self, *args: Any, **options: Any) -> None:
        jobs = list(Job.objects.select_related("coach").order_by("pk"))
        if broken := [words for job in jobs for words in breaks(job)]:
            raise CommandError("\n".join(broken))
        self.stdout.write(f"The journals of {len(jobs)} jobs are whole.")
