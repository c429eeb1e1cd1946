"""Signing in, throttled."""

from typing import Any

from django.contrib.admin.forms import AdminAuthenticationForm
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from jobs import throttle

FAILURES_AN_ACCOUNT = 10
FAILURES_AN_ADDRESS = 30


class ThrottledSignIn(AuthenticationForm):
    """Sign in by name and password. After too many failures it refuses for a while, right or wrong."""

    error_messages = {
        "invalid_login": "Name and password do not fit together. Please try again.",
        "inactive": "Name and password do not fit together. Please try again.",
        "too_many": "Too many tries. Please wait ten minutes, or ask your manager for a new password.",
    }

    request: HttpRequest

    def clean(self) -> dict[str, Any]:
        account = self.cleaned_data.get("username", "").casefold()
        # Only what the server itself saw: anybody can write a forwarding header.
        address = self.request.META["REMOTE_ADDR"]
        if throttle.is_used_up("sign-in-account", account, limit=FAILURES_AN_ACCOUNT) or throttle.is_used_up(
            "sign-in-address", address, limit=FAILURES_AN_ADDRESS
        ):
            raise ValidationError(self.error_messages["too_many"], code="too_many")
        try:
            cleaned = super().clean()
        except ValidationError:
            throttle.is_too_many("sign-in-account", account, limit=FAILURES_AN_ACCOUNT)
            throttle.is_too_many("sign-in-address", address, limit=FAILURES_AN_ADDRESS)
            raise
        throttle.forget("sign-in-account", account, limit=FAILURES_AN_ACCOUNT)
        return cleaned


class AdminSignIn(ThrottledSignIn, AdminAuthenticationForm):
    """The same for the register of the shop."""
