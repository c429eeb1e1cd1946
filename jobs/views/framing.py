"""How a coach is framed, noted by whoever has looked."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from jobs.errors import JobError
from jobs.forms.framing import FramingForm, framing_given
from jobs.models import Job
from jobs.services.framing import note_framing
from jobs.views.access import person_of


@require_http_methods(["GET", "HEAD", "POST"])
def framing_note(request: HttpRequest, job_id: int) -> HttpResponse:
    person = person_of(request)
    jobs = Job.objects.visible_to(person).select_related("shop", "coach")
    job = get_object_or_404(jobs, pk=job_id)
    form = FramingForm(request.POST if request.method == "POST" else None, coach=job.coach, shop=job.shop)
    if request.method == "POST" and form.is_valid():
        try:
            note_framing(job_id=job.pk, known=framing_given(form.cleaned_data), by=person, now=timezone.now())
        except JobError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "The framing is noted. What is priced from now on reckons with it.")
            return redirect("jobs:framing-note", job_id=job.pk)
    context = {"job": job, "shop": job.shop, "form": form}
    return render(request, "jobs/framing_note.html", context, status=422 if form.errors else 200)
