"""Print every kind of journal entry and what the worker does about it."""

from typing import Any

from django.core.management.base import BaseCommand

from jobs.journal import KINDS


class Command(BaseCommand):
    help = "Print every kind of journal entry with the reactions that answer it."

    def handle(self, *args: Any, **options: Any) -> None:
        for kind in sorted(KINDS.values(), key=lambda each: each.name):
            self.stdout.write(f"{kind.name}: {kind.words}")
            for name, function in kind.reactions.items():
                self.stdout.write(f"    -> {name} ({function.__module__}.{function.__name__})")
