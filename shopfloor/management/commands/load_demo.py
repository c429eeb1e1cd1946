"""Load the invented shop into an empty database and write down where to look."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from jobs.models import Owner, Shop
from shopfloor.demo import scenario
from shopfloor.demo.telling import Demo
from updates.links import make_link


class Command(BaseCommand):
    help = "Load the demo shop. Only for a database that holds no shop, and only with DEMO=1."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demo has known passwords; it is loaded only with DEMO=1.")
        if Shop.objects.exists():
            raise CommandError("This database already holds a shop; the demo is loaded into an empty one.")
        demo = scenario.load(timezone.now())
        text = self._addresses(demo)
        (settings.VAR_DIR / "addresses.txt").write_text(text, encoding="utf-8")
        self.stdout.write(text)

    def _addresses(self, demo: Demo) -> str:
        waiting = demo.jobs["waiting"]
        owner: Owner = waiting.deciders()[0]
        link = make_link(job=waiting, owner=owner, now=timezone.now())
        sign_in = settings.SITE_URL + reverse("jobs:sign-in")
        mailbox = settings.SITE_URL + reverse("shopfloor:mailbox")
        return (
            f"Sign in      {sign_in}\n"
            f"  manager    wren      password {scenario.PASSWORD}\n"
            f"  technician tobias    password {scenario.PASSWORD}\n"
            f"Owner's link {link}\n"
            f"  ({owner.name} has a question to answer)\n"
            f"Mailbox      {mailbox}\n"
        )
