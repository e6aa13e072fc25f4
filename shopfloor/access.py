"""The only doors to the screens and to the objects they show.

A view is guarded by ``needs(Right…)``, or by ``needs_sign_in`` where every role may; an object reaches it through one of the functions here, which return it or raise
404 or 403.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _

from quality.models import Person, Role
from quality.rights import Right, has_right
from routing.models import KitOrder, Shell, Station
from routing.prepared import Prepared
from routing.specs.errors import SpecError
from shopfloor.typed_serial import clean_serial, unknown_serial

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponseBase]


_SHELL = Prepared(
    lambda serial: (
        Shell.objects.select_related("order", "line", "model__line", "finish").filter(serial=serial).order_by()
    )
)


def signed_in(request: HttpRequest) -> Person:
    """The person signed in to the office screens. Only for views behind ``needs`` or ``needs_sign_in``."""
    if not isinstance(request.user, Person):
        raise PermissionDenied(_("Sign in first."))
    return request.user


def may_not(right: Right) -> str:
    """What somebody without a right is told."""
    return _("Your role may not {right}. Ask a supervisor.").format(right=_(right.value))


def needs(right: Right) -> Callable[[View[P]], View[P]]:
    """Strangers are sent to the sign-in page, people without the right see a 403 page that says which right is missing."""

    def decorate(view: View[P]) -> View[P]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if not has_right(request.user, right):
                raise PermissionDenied(may_not(right))
            return view(request, *args, **kwargs)

        return cast(View[P], guarded)

    return decorate


def needs_sign_in(view: View[P]) -> View[P]:
    """For what everybody does for themselves, whatever their role."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        return view(request, *args, **kwargs)

    return cast(View[P], guarded)


def the_order(number: str) -> KitOrder:
    return get_object_or_404(KitOrder, number=number)


def the_serial(serial: str) -> str:
    """A serial number as it is stored. For whoever looks the shell up with a lock anyway."""
    try:
        return clean_serial(serial)
    except SpecError as error:
        raise Http404(error.message) from error


def the_shell(serial: str) -> Shell:
    """The shell of a serial number; a mistyped one and an unknown one are told apart."""
    clean = the_serial(serial)
    shell = _SHELL.first(serial=clean)
    if shell is None:
        raise Http404(unknown_serial(clean))
    return shell


def the_station(code: str) -> Station:
    return get_object_or_404(Station, code=code)


def the_person(pk: int, *, editor: Person) -> Person:
    """The account of a person for somebody who edits it. An administrator's is for administrators only."""
    person = get_object_or_404(Person, pk=pk)
    if person.role == Role.ADMINISTRATOR and not has_right(editor, Right.EDIT_SHOP):
        raise PermissionDenied(_("Only an administrator changes an administrator's account."))
    return person
