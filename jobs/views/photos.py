"""Photos for the people of the shop. Owners see theirs through their own pages."""

from pathlib import PurePath

from django.http import FileResponse, Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from jobs.models import Finding, Photo
from jobs.views.access import person_of

SHOWN = ("small", "large")


@require_safe
@cache_control(private=True, max_age=3600)
def photo(request: HttpRequest, photo_id: int, size: str) -> FileResponse:
    """The small or the large picture; the original, as it came from the phone, only as a manager's download."""
    person = person_of(request)
    stored = get_object_or_404(Photo, pk=photo_id, finding__in=Finding.objects.visible_to(person))
    if size == "original" and person.is_manager:
        name = f"finding-{stored.finding_id}-photo-{stored.position}{PurePath(str(stored.original)).suffix}"
        return _send(stored, size, as_attachment=True, filename=name, content_type="application/octet-stream")
    if size not in SHOWN or not stored.is_ready:
        raise Http404
    return _send(stored, size, filename=f"photo-{stored.pk}-{size}.jpg", content_type="image/jpeg")


def _send(stored: Photo, size: str, *, filename: str, content_type: str, as_attachment: bool = False) -> FileResponse:
    try:
        file = getattr(stored, size).open("rb")
    except FileNotFoundError:
        raise Http404 from None
    response = FileResponse(file, as_attachment=as_attachment, filename=filename, content_type=content_type)
    response["X-Content-Type-Options"] = "nosniff"
    return response
