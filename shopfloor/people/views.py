"""People: accounts, PINs, passwords and qualifications; and the shop's settings."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quality.errors import PinRefused
from quality.models import Person
from quality.pins import set_pin, unlock
from quality.rights import Right, has_right
from routing.models import Shop
from routing.turnstile import writing
from shopfloor.access import needs, signed_in, the_person
from shopfloor.people.forms import PasswordForm, PersonForm, PinForm, QualificationFormSet, ShopForm

EDITS_PEOPLE = needs(Right.EDIT_PEOPLE)


@require_safe
@EDITS_PEOPLE
def people(request: HttpRequest) -> HttpResponse:
    everyone = Person.objects.prefetch_related("qualifications__station").order_by("-is_active", "name")
    return render(request, "people/list.html", {"people": everyone, "now": timezone.now()})


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
            set_pin(person=who, pin=form.cleaned_data["pin"])
        except PinRefused as refused:
            form.add_error("pin", refused.message)
        else:
            messages.success(request, f"{who.name} has a new PIN.")
            return redirect("people:person", pk)
    return _page(request, who, pin_form=form, status=422)


@require_POST
@EDITS_PEOPLE
def password(request: HttpRequest, pk: int) -> HttpResponse:
    who = the_person(pk, editor=signed_in(request))
    form = PasswordForm(request.POST, person=who)
    if form.is_valid():
        with writing():
            who.set_password(form.cleaned_data["password"])
            who.save(update_fields=["password"])
        messages.success(request, f"{who.name} has a new password.")
        return redirect("people:person", pk)
    return _page(request, who, password_form=form, status=422)


@require_POST
@EDITS_PEOPLE
def unlock_person(request: HttpRequest, pk: int) -> HttpResponse:
    who = the_person(pk, editor=signed_in(request))
    unlock(person=who)
    messages.success(request, f"{who.name} may try again.")
    return redirect("people:person", pk)


@require_http_methods(["GET", "POST"])
@EDITS_PEOPLE
def shop_settings(request: HttpRequest) -> HttpResponse:
    """The shop's settings: everybody who edits people sees them, an administrator changes them."""
    may_edit = has_right(signed_in(request), Right.EDIT_SHOP)
    form = ShopForm(request.POST if request.method == "POST" and may_edit else None, instance=Shop.current())
    if request.method == "POST" and not may_edit:
        return render(request, "people/shop.html", {"form": form, "may_edit": False}, status=403)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(
            request, "The settings are saved. Drums released before keep the spec they were released with."
        )
        return redirect("people:shop")
    status = 422 if request.method == "POST" else 200
    return render(request, "people/shop.html", {"form": form, "may_edit": may_edit}, status=status)


def _edit(request: HttpRequest, who: Person) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    form = PersonForm(data, instance=who, editor=signed_in(request))
    rows = QualificationFormSet(data, instance=who, prefix="qualifications")
    if data is not None and form.is_valid() & rows.is_valid():
        with writing():
            saved = form.save(commit=False)
            if not saved.pk:
                saved.set_unusable_password()
            saved.save()
            rows.instance = saved
            rows.save()
        messages.success(request, f"{saved.name} is saved.")
        return redirect("people:person", saved.pk)
    return _page(request, who, form=form, rows=rows, status=422 if data is not None else 200)


def _page(request: HttpRequest, who: Person, *, status: int, **forms: Any) -> HttpResponse:
    if who.pk:
        who = Person.objects.get(pk=who.pk) if "form" not in forms else who
    context = {
        "person": who,
        "form": PersonForm(instance=who, editor=signed_in(request)),
        "rows": QualificationFormSet(instance=who, prefix="qualifications"),
        "pin_form": PinForm(),
        "password_form": PasswordForm(person=who),
        "now": timezone.now(),
    }
    return render(request, "people/person.html", context | forms, status=status)
