"""Signing in to the office screens."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django_htmx.http import HttpResponseClientRefresh
from django_htmx.middleware import HtmxDetails


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "User name and password do not fit. Try again, or ask a supervisor to set a new password.",
        "inactive": "This account is closed. Ask a supervisor.",
    }
    username = forms.CharField(
        label="User name",
        widget=forms.TextInput(
            attrs={"autofocus": True, "autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )


class OfficeSignIn(LoginView):
    template_name = "signin/office.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "options", "post"]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        # A page that refreshes a part of itself after its session ended: it is loaded anew, and comes here as a whole.
        if cast(HtmxDetails, request.htmx):  # type: ignore[attr-defined]
            return HttpResponseClientRefresh()
        return super().dispatch(request, *args, **kwargs)

    def form_invalid(self, form: Any) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)
