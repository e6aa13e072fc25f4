"""A shell's spec frozen again: after a change of the recipe, after plates were measured, as another drum."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _

from routing.actions import GONE_STATES, OPEN_STATES
from routing.errors import NotAllowedNow
from routing.freezing import drum_inputs
from routing.history import Stamp, add_record, lock_shell, recorded_tap, spec_body
from routing.models import Operation, RecordKind, Shell, ShellSpec, Shop, StationKind
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json, to_json
from routing.specs.layup import RemainingCutList, remaining_cut_list
from routing.specs.sheet import FORMULA_VERSION, SpecSheet, compute_sheet
from routing.turnstile import writing


def reissue_spec(*, serial: str, inputs: DrumInputs, reason: str, stamp: Stamp) -> ShellSpec:
    """Freeze a new revision of a shell's spec. Paper of an older revision is recognised from then on.

    The route of the shell stays as it is. Raises NotAllowedNow for a shell that left the shop or without a reason,
    SpecError when no drum can be made from the inputs.
    """
    if not reason.strip():
        raise NotAllowedNow("reason_missing", _("Say why the spec is issued again."))
    sheet = compute_sheet(inputs)
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.REISSUED):
            return ShellSpec.objects.get(shell=shell, revision=earlier.body["revision"])
        return issue_spec(shell, inputs, sheet, reason, stamp)


def enter_plate_thickness(*, serial: str, measured_mm: Mapping[int, float], stamp: Stamp) -> ShellSpec:
    """Issue a shell's spec again with plate thicknesses measured at the cut station, so that every length follows.

    ``measured_mm`` maps the place of a plate (1 is the outermost) to its thickness. Only while the cut is not signed.
    Raises NotAllowedNow, and SpecError for a thickness that can't be.
    """
    if not measured_mm:
        raise NotAllowedNow("nothing_measured", _("Enter the thickness of at least one plate."))
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.REISSUED):
            return ShellSpec.objects.get(shell=shell, revision=earlier.body["revision"])
        cut = shell.operations.filter(station__kind=StationKind.CUT).select_related("station").first()
        if cut is None or cut.state not in OPEN_STATES:
            raise NotAllowedNow(
                "cut_is_over", _("The plates of {serial} are not at the cut station now.").format(serial=serial)
            )
        frozen = ShellSpec.objects.get(shell=shell, revision=shell.spec_revision)
        inputs = from_json(DrumInputs, frozen.inputs)
        for place in measured_mm:
            if not 1 <= place <= len(inputs.plates):
                raise NotAllowedNow(
                    "no_such_plate",
                    _("{serial} has {plates} plates; there is no plate {place}.").format(
                        serial=serial, plates=len(inputs.plates), place=place
                    ),
                )
        plates = tuple(
            replace(plate, measured_thickness_mm=measured_mm.get(place, plate.measured_thickness_mm))
            for place, plate in enumerate(inputs.plates, start=1)
        )
        inputs = replace(inputs, plates=plates)
        said = ", ".join(f"plate {place}: {value:g} mm" for place, value in sorted(measured_mm.items()))
        return issue_spec(shell, inputs, compute_sheet(inputs), f"measured at the cut station, {said}", stamp)


def cut_list_after(before: ShellSpec, after: ShellSpec, already_cut: Iterable[int] = ()) -> RemainingCutList:
    """What a measurement changed: the lengths still to be cut, and which of the plates cut already are now wrong."""
    inputs = from_json(DrumInputs, after.inputs)
    cut_as = {plate["position"]: plate["blank_length_mm"] for plate in before.results["layup"]["plates"]}
    return remaining_cut_list(
        after.results["layup"]["outside_diameter_mm"],
        inputs.plates,
        inputs.seam,
        {place: cut_as[place] for place in already_cut if place in cut_as},
        height_mm=after.results["cutting"]["pressed_height_mm"],
    )


def issue_spec(
    shell: Shell,
    inputs: DrumInputs,
    sheet: SpecSheet,
    reason: str,
    stamp: Stamp,
    *,
    operation: Operation | None = None,
    body: Mapping[str, Any] | None = None,
) -> ShellSpec:
    """Freeze the next revision of a locked shell's spec. ``body`` is what its record says besides."""
    if shell.state in GONE_STATES:
        raise NotAllowedNow(
            "shell_gone",
            _("{serial} is {state}; its spec can't be issued again.").format(
                serial=shell.serial, state=_(shell.get_state_display())
            ),
        )
    shell.spec_revision += 1
    shell.save(update_fields=["spec_revision"])
    spec = ShellSpec.objects.create(
        shell=shell,
        revision=shell.spec_revision,
        formula_version=FORMULA_VERSION,
        inputs=to_json(inputs),
        results=to_json(sheet),
        reason=reason.strip()[:200],
        issued_at=stamp.received_at,
        issued_by_id=stamp.person_id,
    )
    add_record(
        shell,
        RecordKind.REISSUED,
        stamp,
        operation=operation,
        body={
            "revision": spec.revision,
            "reason": spec.reason,
            **spec_body(spec.inputs, spec.results, shell.model_id, shell.finish_id),
            **(body or {}),
        },
    )
    return spec


def current_inputs(shell: Shell) -> DrumInputs:
    """What the recipe book says today about this shell's drum; for a re-issue."""
    return drum_inputs(shell.model, shell.finish, Shop.current())
