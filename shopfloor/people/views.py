"""People: accounts, PINs, passwords and qualifications; and the shop's settings."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.accounts import save_person, set_password, unlock
from quality.errors import PinRefused, QualityError
from quality.models import Person
from quality.passwords import let_address_try, waiting_addresses, wrong_passwords
from quality.pins import is_locked, set_pin
from quality.rights import Right, has_right
from routing.languages import Language, spoken_in
from routing.models import Shop
from routing.turnstile import writing
from shopfloor.access import needs, signed_in, the_person
from shopfloor.people.forms import PersonForm, PinForm, ShopForm, qualification_rows
from shopfloor.people.matrix import MARKS, matrix
from shopfloor.people.roster import roster
from shopfloor.secret_forms import PasswordForm
from shopfloor.tables import csv_file, xlsx_file

EDITS_PEOPLE = needs(Right.EDIT_PEOPLE)
SHOWN_CHANGES = 50


@require_safe
@EDITS_PEOPLE
def people(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    context = {"roster": roster(now=now, today=timezone.localdate(now)), "addresses": waiting_addresses(now)}
    return render(request, "people/list.html", context)


@require_POST
@EDITS_PEOPLE
def let_try(request: HttpRequest, pk: int) -> HttpResponse:
    """Lift the wait of an address; sent twice it says the same."""
    address = let_address_try(pk=pk)
    if address:
        said = _("Passwords from {address} are looked at again.").format(address=address)
    else:
        said = _("Passwords from this address are looked at again.")
    messages.success(request, said)
    return redirect("people:list")


@require_safe
@EDITS_PEOPLE
def qualification_matrix(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    return render(request, "people/matrix.html", {"matrix": matrix(today=today), "today": today, "marks": MARKS})


@require_safe
@EDITS_PEOPLE
def matrix_csv(request: HttpRequest) -> HttpResponse:
    return csv_file("qualifications", *_matrix_table())


@require_safe
@EDITS_PEOPLE
def matrix_xlsx(request: HttpRequest) -> HttpResponse:
    return xlsx_file("qualifications", *_matrix_table())


def _matrix_table() -> tuple[list[str], list[list[str]]]:
    """In English, as every file."""
    with spoken_in(Language.ENGLISH):
        found = matrix(today=timezone.localdate())
        rows = [[line.person.name, *(cell.words if cell.mark else "" for cell in line.cells)] for line in found.lines]
    return ["Person", *(column.station.name for column in found.columns)], rows


@require_http_methods(["GET", "POST"])
@EDITS_PEOPLE
def new_person(request: HttpRequest) -> HttpResponse:
    return _edit(request, Person())


@require_http_methods(["GET", "POST"])
@EDITS_PEOPLE
def person(request: HttpRequest, pk: int) -> HttpResponse:
    return _edit(request, the_person(pk, editor=signed_in(request)))


@require_POST
@EDITS_PEOPLE
def pin(request: HttpRequest, pk: int) -> HttpResponse:
    who = the_person(pk, editor=signed_in(request))
    form = PinForm(request.POST)
    if form.is_valid():
        try:
            set_pin(person=who, pin=form.cleaned_data["pin"], by=signed_in(request), at=timezone.now())
        except PinRefused as refused:
            form.add_error("pin", refused.message)
        else:
            messages.success(request, _("{name} has a new PIN.").format(name=who.name))
            return redirect("people:person", pk)
    return _page(request, who, pin_form=form, status=422)


@require_POST
@EDITS_PEOPLE
def password(request: HttpRequest, pk: int) -> HttpResponse:
    who = the_person(pk, editor=signed_in(request))
    if who.pk == signed_in(request).pk:  # who stands at a screen that was left open does not take the account over
        return redirect("signin:password")
    form = PasswordForm(request.POST, person=who)
    if form.is_valid():
        set_password(person=who, password=form.cleaned_data["password"], by=signed_in(request), at=timezone.now())
        messages.success(request, _("{name} has a new password.").format(name=who.name))
        return redirect("people:person", pk)
    return _page(request, who, password_form=form, status=422)


@require_POST
@EDITS_PEOPLE
def unlock_person(request: HttpRequest, pk: int) -> HttpResponse:
    who = the_person(pk, editor=signed_in(request))
    unlock(person=who, by=signed_in(request), at=timezone.now())
    messages.success(request, _("{name} may try again.").format(name=who.name))
    return redirect("people:person", pk)


@require_http_methods(["GET", "POST"])
@EDITS_PEOPLE
def shop_settings(request: HttpRequest) -> HttpResponse:
    """The shop's settings: everybody who edits people sees them, an administrator changes them."""
    may_edit = has_right(signed_in(request), Right.EDIT_SHOP)
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(
            _("Your role may not {right}. Ask an administrator.").format(right=_(Right.EDIT_SHOP.value))
        )
    form = ShopForm(request.POST if request.method == "POST" else None, instance=Shop.current())
    if request.method == "POST" and form.is_valid():
        with writing():
            form.save()
        messages.success(
            request, _("The settings are saved. Drums released before keep the spec they were released with.")
        )
        return redirect("people:shop")
    status = 422 if request.method == "POST" else 200
    return render(request, "people/shop.html", {"form": form, "may_edit": may_edit}, status=status)


def _edit(request: HttpRequest, who: Person) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    is_new = not who.pk
    form = PersonForm(data, instance=who, editor=signed_in(request))
    rows = qualification_rows(who, data)
    if data is None or not (form.is_valid() and all(row.is_valid() for row in rows)):
        return _page(request, who, form=form, rows=rows, status=200 if data is None else 422)
    editor, now = signed_in(request), timezone.now()
    today, version = timezone.localdate(now), form.cleaned_data["version"] or 0

    def qualifications(saved: Person) -> bool:
        return sum(row.save(saved, today=today, by=editor, at=now) for row in rows) > 0

    try:
        saved = save_person(person=form.save(commit=False), version=version, by=editor, at=now, also=qualifications)
    except QualityError as error:
        form.add_error(None, error.message)
        return _page(request, who, form=form, rows=rows, status=409)
    said = _("{name} is saved.").format(name=saved.name)
    if is_new:
        said += " " + _("Next, set a PIN for the floor or a password for the office.")
    messages.success(request, said)
    return redirect("people:person", saved.pk)


def _page(request: HttpRequest, who: Person, *, status: int, **forms: Any) -> HttpResponse:
    stored = Person.objects.filter(pk=who.pk).first() or Person()  # what was typed wrongly is no title
    context = {
        "person": stored,
        "is_locked": is_locked(stored, timezone.now()),
        "wrong_passwords": wrong_passwords(stored) if stored.pk else 0,
        "changes": stored.account_changes.all()[:SHOWN_CHANGES] if stored.pk else [],
        "has_password": bool(stored.pk) and stored.has_usable_password(),
        "form": forms.pop("form", None) or PersonForm(instance=who, editor=signed_in(request)),
        "rows": forms.pop("rows", None) or qualification_rows(who),
        "pin_form": PinForm(),
        "password_form": PasswordForm(person=who),
        "is_own": stored.pk == signed_in(request).pk,
    }
    return render(request, "people/person.html", context | forms, status=status)
