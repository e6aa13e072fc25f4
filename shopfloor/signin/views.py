"""Signing in to the office screens, and one's own password for them."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop
from django.views.decorators.http import require_http_methods
from django_htmx.http import HttpResponseClientRefresh
from django_htmx.middleware import HtmxDetails

from quality.accounts import change_own_password
from quality.models import Person, Role
from quality.passwords import MustWait, one_try
from routing.errors import LostRace
from shopfloor.access import needs_sign_in, signed_in
from shopfloor.addresses import client_address
from shopfloor.known_browsers import keep, mark_of
from shopfloor.secret_forms import PasswordForm, secret
from shopfloor.security_log import present_password_was_wrong


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": gettext_lazy(
            "User name and password do not fit. Try again, or ask a supervisor to set a new password."
        ),
        "inactive": gettext_lazy("This account is closed. Ask a supervisor."),
    }
    username = forms.CharField(
        label=gettext_lazy("User name"),
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
        return _with_wait(self.render_to_response(self.get_context_data(form=form)), form.must_wait)


NOT_THEIRS = gettext_noop("This is not your present password.")


class OwnPasswordForm(PasswordForm):
    """The present one is asked for again: somebody may stand at a screen that another left open."""

    present = secret(gettext_lazy("Your present password"), autocomplete="current-password")
    field_order = ("present", "password", "password_again")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("password") and cleaned["password"] == cleaned.get("present"):
            self.add_error("password", _("This is the present one; choose another."))
        return cleaned


@require_http_methods(["GET", "POST"])
@needs_sign_in
def own_password(request: HttpRequest) -> HttpResponse:
    """Wrong tries at the present password count like those of a sign-in."""
    who = signed_in(request)
    is_administrator = who.role == Role.ADMINISTRATOR
    form = OwnPasswordForm(request.POST if request.method == "POST" else None, person=who)
    status, wait = 422 if request.method == "POST" else 200, None
    if form.is_valid():
        try:
            if _is_theirs(request, who, form.cleaned_data["present"]):
                change_own_password(person=who, password=form.cleaned_data["password"], at=timezone.now())
                update_session_auth_hash(request, who)
                messages.success(
                    request, _("You have a new password. You are signed out at every other office screen.")
                )
                return redirect("home")
            form.add_error("present", _not_theirs(is_administrator))
        except MustWait as error:
            wait = error
            form.add_error(None, error.message)
        except LostRace as error:
            status = 409
            form.add_error(None, error.message)
    context = {"form": form, "is_administrator": is_administrator}
    response = render(request, "signin/password.html", context, status=status)
    return response if wait is None else _with_wait(response, wait)


def _not_theirs(is_administrator: bool) -> str:
    if is_administrator:
        helps = _("If it is forgotten, another administrator sets a new one.")
    else:
        helps = _("If it is forgotten, a supervisor sets a new one.")
    return f"{_(NOT_THEIRS)} {helps}"


def _is_theirs(request: HttpRequest, who: Person, password: str) -> bool:
    username, address = who.username, client_address(request)
    browser = mark_of(request, username)
    with one_try(username=username, address=address, browser=browser, at=timezone.now(), wrong=_(NOT_THEIRS)) as right:
        if is_right := who.check_password(password):
            right()
        else:
            present_password_was_wrong(request, who)
    return is_right


def _with_wait(response: HttpResponse, wait: MustWait | None) -> HttpResponse:
    """As a refusal: 429 says how long nothing is looked at."""
    response.status_code = 422 if wait is None else 429
    if wait is not None:
        response["Retry-After"] = str(max(1, wait.seconds))
    return response
