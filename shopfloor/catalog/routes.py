"""Routes: one for each role and kind of finish. A change makes the next revision; released shells keep theirs."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_http_methods, require_safe

from quality.rights import Right, has_right
from routing.models import RouteStep, RouteTemplate
from routing.models.recipes import FINISH_CHOICES, ROLE_CHOICES
from routing.turnstile import writing
from shopfloor.access import needs, signed_in
from shopfloor.catalog.forms import RouteForm, StepFormSet

CHANGED_MEANWHILE = gettext_noop(
    "Somebody changed this route meanwhile. This is the newest revision; make your change on it."
)


@require_safe
@needs(Right.SEE_RECIPES)
def route_list(request: HttpRequest) -> HttpResponse:
    current = {
        (template.role, template.finish_kind): template
        for template in RouteTemplate.objects.filter(is_current=True).prefetch_related("steps__station")
    }
    rows = [
        {
            "role": role,
            "role_name": role_name,
            "finish": finish,
            "finish_name": finish_name,
            "route": current.get((role, finish)),
        }
        for role, role_name in ROLE_CHOICES
        for finish, finish_name in FINISH_CHOICES
    ]
    may_edit = has_right(signed_in(request), Right.EDIT_RECIPES)
    return render(request, "catalog/routes.html", {"rows": rows, "may_edit": may_edit})


@require_http_methods(["GET", "POST"])
@needs(Right.EDIT_RECIPES)
def route(request: HttpRequest, role: str, finish_kind: str) -> HttpResponse:
    if role not in dict(ROLE_CHOICES) or finish_kind not in dict(FINISH_CHOICES):
        raise Http404(_("There is no such route."))
    found = RouteTemplate.objects.filter(role=role, finish_kind=finish_kind, is_current=True).first()
    template = found or RouteTemplate(role=role, finish_kind=finish_kind, revision=0)
    data = request.POST if request.method == "POST" else None
    form = RouteForm(data, instance=RouteTemplate(), initial={"note": ""})
    steps = StepFormSet(data, instance=template, prefix="steps")
    if data is not None and data.get("revision", "") != str(template.revision):
        # What was sent names steps of a revision that is in force no more.
        steps = StepFormSet(instance=template, prefix="steps")
        form.add_error(None, _(CHANGED_MEANWHILE))
    elif data is not None and form.is_valid() & steps.is_valid():
        note = form.cleaned_data["note"]
        saved = _save_revision(role, finish_kind, template.revision, note, steps.kept_steps())
        if saved is not None:
            said = _("The route {finish} {role}, revision {revision} is in force for orders released from now on.")
            finish_word, role_word = _(saved.get_finish_kind_display()), _(saved.get_role_display())
            messages.success(request, said.format(finish=finish_word, role=role_word, revision=saved.revision))
            return redirect("catalog:routes")
        form.add_error(None, _(CHANGED_MEANWHILE))
    return render(
        request,
        "catalog/route.html",
        {"template": template, "form": form, "steps": steps},
        status=422 if data is not None else 200,
    )


def _save_revision(role: str, finish_kind: str, seen: int, note: str, steps: list[RouteStep]) -> RouteTemplate | None:
    """Put the next revision in force; None when ``seen`` is not the newest revision any more."""
    with writing():
        newest = (
            RouteTemplate.objects.select_for_update()
            .filter(role=role, finish_kind=finish_kind)
            .order_by("-revision")
            .first()
        )
        if (newest.revision if newest else 0) != seen:
            return None
        RouteTemplate.objects.filter(role=role, finish_kind=finish_kind, is_current=True).update(is_current=False)
        template = RouteTemplate.objects.create(
            role=role,
            finish_kind=finish_kind,
            revision=(newest.revision if newest else 0) + 1,
            created_at=timezone.now(),
            note=note,
        )
        for step in steps:
            step.template = template
        RouteStep.objects.bulk_create(steps)
    return template
