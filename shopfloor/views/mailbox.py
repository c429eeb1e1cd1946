"""The demo's mailbox, where a person plays the owner."""

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopfloor.mailbox import read_mailbox


@require_safe
@login_not_required
def mailbox(request: HttpRequest) -> HttpResponse:
    """Every mail of the demo, open to all who run it; anywhere else there is no such page."""
    if not settings.DEMO:
        raise Http404
    mails = read_mailbox(settings.MAILBOX_DIR, site_url=settings.SITE_URL)
    return render(request, "shopfloor/mailbox.html", {"mails": mails})
