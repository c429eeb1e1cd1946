"""Signing in and out."""

from typing import Any

from django.contrib.auth import views
from django.http import HttpResponse

from jobs.forms import ThrottledSignIn


class SignIn(views.LoginView):
    """Name and password; 422 when they do not fit, 429 after too many tries."""

    http_method_names = ["get", "head", "post", "options"]
    authentication_form = ThrottledSignIn
    template_name = "jobs/sign_in.html"
    redirect_authenticated_user = True

    def form_invalid(self, form: Any) -> HttpResponse:
        response = super().form_invalid(form)
        response.status_code = 429 if form.has_error("__all__", "too_many") else 422
        return response


sign_in = SignIn.as_view()
sign_out = views.LogoutView.as_view()
