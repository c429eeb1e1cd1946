"""The owner's links: made, checked, withdrawn, and what they open."""

import hashlib
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from jobs.journal import record
from jobs.models import Job, Owner, Person
from updates import kinds
from updates.models import OwnerLink

TOKEN_BYTES = 32
LIFETIME = timedelta(days=120)
SESSION_KEY = "owner_links"


def make_link(*, job: Job, owner: Owner, now: datetime) -> str:
    """A new address that opens the owner's page of this job: 256 random bits, of which only the hash is kept."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    OwnerLink.objects.create(job=job, owner=owner, token_sha256=_sha256(token), made_at=now, expires_at=now + LIFETIME)
    return settings.SITE_URL + reverse("updates:link-open", args=[token])


@transaction.atomic
def withdraw_links(*, job: Job, owner: Owner, by: Person, now: datetime) -> int:
    """Close every link of this owner to this job. Returns how many were open."""
    closed = OwnerLink.objects.filter(job=job, owner=owner, withdrawn_at__isnull=True).update(withdrawn_at=now)
    record(job, kinds.LINKS_WITHDRAWN, now=now, person=by, data={"owner": owner.pk, "links": closed})
    return closed


def enter(request: HttpRequest, token: str, now: datetime) -> HttpResponseRedirect | None:
    """Exchange a token for a session and send the owner on to an address without it; None if it opens nothing."""
    link = OwnerLink.objects.select_related("job").filter(token_sha256=_sha256(token)).first()
    if link is None or not _is_open(link, now):
        return None
    OwnerLink.objects.filter(pk=link.pk).update(last_opened_at=now)
    # A signed-in person of the shop keeps that session; the owner's key is added to it.
    request.session[SESSION_KEY] = request.session.get(SESSION_KEY, {}) | {str(link.job.public_id): link.pk}
    return redirect("updates:job-story", public_id=link.job.public_id)


OwnerView = Callable[..., HttpResponseBase]


def owner_link_required(view: OwnerView) -> OwnerView:
    """Let in only the holder of an open link to the job in the address; pass the link on to the view."""

    @login_not_required
    @wraps(view)
    def guarded(request: HttpRequest, public_id: UUID, *args: Any, **kwargs: Any) -> HttpResponseBase:
        link_id = request.session.get(SESSION_KEY, {}).get(str(public_id))
        link = (
            OwnerLink.objects.select_related("job__shop", "job__coach", "owner")
            .filter(pk=link_id, job__public_id=public_id)
            .first()
        )
        if link is None or not _is_open(link, timezone.now()):
            return closed_page(request)
        return view(request, link, *args, **kwargs)

    return guarded


def closed_page(request: HttpRequest) -> HttpResponse:
    """The one answer to every link that opens nothing: wrong, withdrawn, expired, of another job."""
    return render(request, "updates/link_closed.html", status=404)


def _is_open(link: OwnerLink, now: datetime) -> bool:
    if link.withdrawn_at is not None or link.expires_at <= now:
        return False
    # Whoever no longer owns the coach no longer sees it.
    return link.job.coach.ownerships.filter(owner=link.owner_id).exists()


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
