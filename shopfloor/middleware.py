"""What every request and every page goes through."""

from collections.abc import Callable
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control

GetResponse = Callable[[HttpRequest], HttpResponse]


def client_address(get_response: GetResponse) -> GetResponse:
    """Behind the proxy, REMOTE_ADDR becomes the address that the proxy saw.

    Else every owner and technician would share the proxy's: one throttle for all, and its address on each decision.
    The last entry of X-Forwarded-For is the proxy's own; those before it are the client's word and count for nothing.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        if settings.BEHIND_PROXY:
            seen = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
            if _is_address(seen):
                request.META["REMOTE_ADDR"] = seen
        return get_response(request)

    return middleware


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True


def private_pages(get_response: GetResponse) -> GetResponse:
    """No page of a job is kept by a browser or a proxy unless its view says so; robots stay out."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if not response.has_header("Cache-Control"):
            patch_cache_control(response, no_store=True)
        response["X-Robots-Tag"] = "noindex"
        response["Permissions-Policy"] = "camera=(self), geolocation=(), microphone=()"
        return response

    return middleware
