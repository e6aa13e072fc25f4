"""The kinds of recipes, what a list of each shows, and which rows belong to one: a table, so that one screen edits all.

Its words are marked here and said in a language where they are shown.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model
from django.utils.translation import gettext_noop as _

from routing.models import (
    Drawdown,
    DrumModel,
    EdgeProfile,
    Finish,
    FinishCoat,
    Fitting,
    Glue,
    GluePart,
    HardwareSet,
    LayUp,
    LayUpPlate,
    Part,
    Plate,
    PressCycle,
    ProductLine,
    Species,
    Station,
    WrapSheet,
)


@dataclass(frozen=True, slots=True)
class Rows:
    """A table of rows under a recipe: the plates of a lay-up, the coats of a finish."""

    model: type[Model]
    title: str
    fields: tuple[str, ...]
    extra: int = 3


@dataclass(frozen=True, slots=True)
class Recipe:
    slug: str
    model: type[Model]
    many: str
    add: str
    new: str
    none: str
    about: str
    columns: tuple[tuple[str, str], ...]  # (heading, attribute)
    rows: tuple[Rows, ...] = ()
    related: tuple[str, ...] = ()
    prefetch: tuple[str, ...] = ()
    exclude: tuple[str, ...] = field(default=("id",))

    def queryset(self) -> Any:
        found = self.model._default_manager.all()
        if self.related:
            found = found.select_related(*self.related)
        return found.prefetch_related(*self.prefetch) if self.prefetch else found


RECIPES: dict[str, Recipe] = {
    recipe.slug: recipe
    for recipe in (
        Recipe(
            "drums",
            DrumModel,
            _("Drum models"),
            _("Add a drum model"),
            _("New drum model"),
            _("No drum models yet."),
            _("What can be ordered: role and size, and the recipes it is made by."),
            ((_("Drum"), "__str__"), (_("Code"), "code"), (_("Lay-up"), "lay_up"), (_("Hardware"), "hardware")),
            related=("line", "lay_up", "hardware"),
        ),
        Recipe(
            "lines",
            ProductLine,
            _("Lines"),
            _("Add a line"),
            _("New line"),
            _("No lines yet."),
            _("Families of drums that share a kind of finish."),
            ((_("Line"), "name"), (_("Finish"), "get_finish_kind_display")),
        ),
        Recipe(
            "lay-ups",
            LayUp,
            _("Lay-ups"),
            _("Add a lay-up"),
            _("New lay-up"),
            _("No lay-ups yet."),
            _("Plates from the outside of the shell to the inside, their seams, glue and press cycle."),
            (
                (_("Lay-up"), "name"),
                (_("Wall, mm"), "wall_mm"),
                (_("Veneers"), "veneers"),
                (_("Seam"), "get_seam_kind_display"),
            ),
            rows=(Rows(LayUpPlate, _("Plates, outside to inside"), ("position", "plate", "face_grain")),),
            prefetch=("plates__plate",),
        ),
        Recipe(
            "plates",
            Plate,
            _("Plates"),
            _("Add a plate"),
            _("New plate"),
            _("No plates yet."),
            _("Plates as bought: thickness, veneers, wood and sheet size."),
            (
                (_("Plate"), "name"),
                (_("Thickness, mm"), "thickness_mm"),
                (_("Veneers"), "veneers"),
                (_("Wood"), "species"),
                (_("Sheet, mm"), "stock_length_mm"),
            ),
            related=("species",),
        ),
        Recipe(
            "woods",
            Species,
            _("Woods"),
            _("Add a wood"),
            _("New wood"),
            _("No woods yet."),
            _("Density and movement of each wood, with the source of the values."),
            ((_("Wood"), "name"), (_("Specific gravity"), "specific_gravity"), (_("Source"), "note")),
        ),
        Recipe(
            "glues",
            Glue,
            _("Glues"),
            _("Add a glue"),
            _("New glue"),
            _("No glues yet."),
            _("Mix, spread and clocks; the data sheet of the product has the last word."),
            (
                (_("Glue"), "name"),
                (_("Spread, g/m²"), "spread_g_per_m2"),
                (_("Pot life at 20 °C, min"), "pot_life_min_at_20c"),
            ),
            rows=(Rows(GluePart, _("Mix by weight"), ("position", "name", "parts_by_weight"), extra=2),),
        ),
        Recipe(
            "press-cycles",
            PressCycle,
            _("Press cycles"),
            _("Add a press cycle"),
            _("New press cycle"),
            _("No press cycles yet."),
            _("Pressure, temperature, time and the rest before trimming."),
            (
                (_("Cycle"), "name"),
                (_("Pressure, N/mm²"), "pressure_n_per_mm2"),
                (_("Temperature, °C"), "temperature_c"),
                (_("Rest, h"), "rest_h"),
            ),
        ),
        Recipe(
            "edges",
            EdgeProfile,
            _("Bearing edges"),
            _("Add a bearing edge"),
            _("New bearing edge"),
            _("No bearing edges yet."),
            _("Profiles; all angles are measured from the head plane."),
            ((_("Edge"), "name"), (_("Shape"), "get_shape_display"), (_("Apex from outside, mm"), "apex_offset_mm")),
        ),
        Recipe(
            "finishes",
            Finish,
            _("Finishes"),
            _("Add a finish"),
            _("New finish"),
            _("No finishes yet."),
            _("Coats in the order they go on, with their dwells; or the wrap."),
            ((_("Finish"), "name"), (_("Kind"), "get_kind_display"), (_("Gloss, GU"), "gloss_target_gu")),
            rows=(
                Rows(
                    FinishCoat,
                    _("Coats, in order"),
                    (
                        "position",
                        "name",
                        "stage",
                        "surface",
                        "wet_film_um",
                        "volume_solids_pct",
                        "transfer_efficiency",
                        "thinning_pct",
                        "grit_before",
                        "base_dwell_h",
                        "film_forming_min_c",
                    ),
                ),
                Rows(Drawdown, _("Drawdowns: test cards of blends"), ("gloss_base_pct", "gloss_gu"), extra=2),
            ),
        ),
        Recipe(
            "wraps",
            WrapSheet,
            _("Wrap sheets"),
            _("Add a wrap sheet"),
            _("New wrap sheet"),
            _("No wrap sheets yet."),
            _("Sheet sizes, overlap and adhesive."),
            ((_("Wrap"), "name"), (_("Thickness, mm"), "thickness_mm"), (_("Sheet length, mm"), "sheet_length_mm")),
        ),
        Recipe(
            "hardware",
            HardwareSet,
            _("Hardware sets"),
            _("Add a hardware set"),
            _("New hardware set"),
            _("No hardware sets yet."),
            _("Lugs, hoops and rods of a role, the fittings with their holes, and the parts list."),
            (
                (_("Set"), "name"),
                (_("Role"), "get_role_display"),
                (_("Lugs per head"), "lugs_per_head"),
                (_("Lug"), "lug_name"),
            ),
            rows=(
                Rows(
                    Fitting,
                    _("Fittings and their holes"),
                    (
                        "name",
                        "kind",
                        "pieces",
                        "angles_deg",
                        "holes",
                        "footprint_round_mm",
                        "footprint_axial_mm",
                        "height_fraction",
                        "height_mm",
                    ),
                    extra=2,
                ),
                Rows(
                    Part,
                    _("Parts list of one drum"),
                    ("position", "name", "bag", "quantity", "unit_mass_g", "mass_tolerance_pct", "spare"),
                ),
            ),
        ),
        Recipe(
            "stations",
            Station,
            _("Stations"),
            _("Add a station"),
            _("New station"),
            _("No stations yet."),
            _("Where work is done, with the caution that is shown there."),
            (
                (_("Station"), "name"),
                (_("Code"), "code"),
                (_("Kind"), "get_kind_display"),
                (_("Place on the board"), "position"),
                (_("Shells at once"), "places"),
                (_("Work on a shell, min"), "work_min"),
                (_("Change-over, min"), "setup_min"),
            ),
        ),
    )
}
