"""Who is asking, and where they go next."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

from jobs.models import Job, Person

View = Callable[..., HttpResponse]


def person_of(request: HttpRequest) -> Person:
    """The signed-in person; nobody else gets past LoginRequiredMiddleware."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user


def manager_required(view: View) -> View:
    """403 for anybody but a manager. Which shop's, the view's own look-up says."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not person_of(request).is_manager:
            raise PermissionDenied
        return view(request, *args, **kwargs)

    return guarded


def back_to(request: HttpRequest, job: Job) -> HttpResponseRedirect:
    """To the page of ours that the form named, else to the coach's page."""
    page = request.POST.get("next", "")
    if url_has_allowed_host_and_scheme(page, allowed_hosts={request.get_host()}, require_https=request.is_secure()):
        return HttpResponseRedirect(page)
    return redirect("jobs:job-detail", job_id=job.pk)
