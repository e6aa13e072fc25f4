"""Signing in to the office screens."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django_htmx.http import HttpResponseClientRefresh
from django_htmx.middleware import HtmxDetails

from quality.passwords import MustWait, one_try
from shopfloor.addresses import client_address
from shopfloor.known_browsers import keep, mark_of


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "User name and password do not fit. Try again, or ask a supervisor to set a new password.",
        "inactive": "This account is closed. Ask a supervisor.",
    }
    username = forms.CharField(
        label="User name",
        max_length=40,
        widget=forms.TextInput(
            attrs={"autofocus": True, "autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    must_wait: MustWait | None = None

    def clean(self) -> dict[str, Any]:
        """Look at the password only when no wait runs for the account or the address."""
        username, request = self.cleaned_data.get("username"), self.request
        if not username or not self.cleaned_data.get("password") or request is None:
            return self.cleaned_data
        wrong: forms.ValidationError | None = None
        try:
            with one_try(
                username=username,
                address=client_address(request),
                browser=mark_of(request, username),
                at=timezone.now(),
            ) as right:
                try:
                    super().clean()
                    right()
                except forms.ValidationError as error:
                    wrong = error
        except MustWait as wait:
            self.must_wait = wait
            raise forms.ValidationError(wait.message, code="wait") from wait
        if wrong is not None:
            raise wrong
        return self.cleaned_data


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

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        keep(self.request, response, form.get_user().username)
        return response

    def form_invalid(self, form: Any) -> HttpResponse:
        wait = form.must_wait
        response = self.render_to_response(self.get_context_data(form=form), status=422 if wait is None else 429)
        if wait is not None:
            response["Retry-After"] = str(max(1, wait.seconds))
        return response
