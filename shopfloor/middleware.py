"""Headers for every page."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control


def private_pages(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """No page of a job is kept by a browser or a proxy unless its view says so; robots stay out."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if not response.has_header("Cache-Control"):
            patch_cache_control(response, no_store=True)
        response["X-Robots-Tag"] = "noindex"
        response["Permissions-Policy"] = "camera=(self), geolocation=(), microphone=()"
        return response

    return middleware
