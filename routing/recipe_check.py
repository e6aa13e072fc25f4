"""Whether the drums of the recipe book can still be made after a change to it."""

from __future__ import annotations

from routing.freezing import drum_inputs
from routing.kits import drum_name
from routing.models import DrumModel, Finish, Shop
from routing.spec_words import spoken
from routing.specs.errors import SpecError
from routing.specs.sheet import compute_sheet

# The rows that the recipes of a drum model consist of.
RECIPE_ROWS = ("hardware__parts", "hardware__fittings", "lay_up__plates__plate__species", "lay_up__glue__mix")


def unmakeable_models() -> dict[int, str]:
    """For each model in use that no drum can be made from, by its id, the reason. A model is tried in one finish of its kind."""
    shop = Shop.current()
    finish_of_kind: dict[str, Finish] = {}
    for finish in (
        Finish.objects.filter(is_active=True)
        .select_related("wrap")
        .prefetch_related("coats", "drawdowns")
        .order_by("-pk")
    ):
        finish_of_kind[finish.kind] = finish
    reasons: dict[int, str] = {}
    for model in recipe_models():
        if model.line.finish_kind not in finish_of_kind:
            continue
        try:
            compute_sheet(drum_inputs(model, finish_of_kind[model.line.finish_kind], shop))
        except SpecError as error:
            reasons[model.pk] = f"{drum_name(model)}: {spoken(error.message)}"
    return reasons


def recipe_models() -> list[DrumModel]:
    """The models in use with everything their specs are computed from, in a fixed number of queries."""
    return list(
        DrumModel.objects.filter(is_active=True)
        .select_related("line", "hardware", "lay_up__glue", "lay_up__press_cycle", "batter_edge", "resonant_edge")
        .prefetch_related(*RECIPE_ROWS)
    )
