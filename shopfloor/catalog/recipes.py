"""The kinds of recipes, what a list of each shows, and which rows belong to one: a table, so that one screen edits all."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model

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
    one: str
    many: str
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
            "drum model",
            "Drum models",
            "What can be ordered: role and size, and the recipes it is made by.",
            (("Drum", "__str__"), ("Code", "code"), ("Lay-up", "lay_up"), ("Hardware", "hardware")),
            related=("line", "lay_up", "hardware"),
        ),
        Recipe(
            "lines",
            ProductLine,
            "line",
            "Lines",
            "Families of drums that share a kind of finish.",
            (("Line", "name"), ("Finish", "get_finish_kind_display")),
        ),
        Recipe(
            "lay-ups",
            LayUp,
            "lay-up",
            "Lay-ups",
            "Plates from the outside of the shell to the inside, their seams, glue and press cycle.",
            (("Lay-up", "name"), ("Wall, mm", "wall_mm"), ("Veneers", "veneers"), ("Seam", "get_seam_kind_display")),
            rows=(Rows(LayUpPlate, "Plates, outside to inside", ("position", "plate", "face_grain")),),
            prefetch=("plates__plate",),
        ),
        Recipe(
            "plates",
            Plate,
            "plate",
            "Plates",
            "Plates as bought: thickness, veneers, wood and sheet size.",
            (
                ("Plate", "name"),
                ("Thickness, mm", "thickness_mm"),
                ("Veneers", "veneers"),
                ("Wood", "species"),
                ("Sheet, mm", "stock_length_mm"),
            ),
            related=("species",),
        ),
        Recipe(
            "woods",
            Species,
            "wood",
            "Woods",
            "Density and movement of each wood, with the source of the values.",
            (("Wood", "name"), ("Specific gravity", "specific_gravity"), ("Source", "note")),
        ),
        Recipe(
            "glues",
            Glue,
            "glue",
            "Glues",
            "Mix, spread and clocks; the data sheet of the product has the last word.",
            (("Glue", "name"), ("Spread, g/m²", "spread_g_per_m2"), ("Pot life at 20 °C, min", "pot_life_min_at_20c")),
            rows=(Rows(GluePart, "Mix by weight", ("position", "name", "parts_by_weight"), extra=2),),
        ),
        Recipe(
            "press-cycles",
            PressCycle,
            "press cycle",
            "Press cycles",
            "Pressure, temperature, time and the rest before trimming.",
            (
                ("Cycle", "name"),
                ("Pressure, N/mm²", "pressure_n_per_mm2"),
                ("Temperature, °C", "temperature_c"),
                ("Rest, h", "rest_h"),
            ),
        ),
        Recipe(
            "edges",
            EdgeProfile,
            "bearing edge",
            "Bearing edges",
            "Profiles; all angles are measured from the head plane.",
            (("Edge", "name"), ("Shape", "get_shape_display"), ("Apex from outside, mm", "apex_offset_mm")),
        ),
        Recipe(
            "finishes",
            Finish,
            "finish",
            "Finishes",
            "Coats in the order they go on, with their dwells; or the wrap.",
            (("Finish", "name"), ("Kind", "get_kind_display"), ("Gloss, GU", "gloss_target_gu")),
            rows=(
                Rows(
                    FinishCoat,
                    "Coats, in order",
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
                Rows(Drawdown, "Drawdowns: test cards of blends", ("gloss_base_pct", "gloss_gu"), extra=2),
            ),
        ),
        Recipe(
            "wraps",
            WrapSheet,
            "wrap sheet",
            "Wrap sheets",
            "Sheet sizes, overlap and adhesive.",
            (("Wrap", "name"), ("Thickness, mm", "thickness_mm"), ("Sheet length, mm", "sheet_length_mm")),
        ),
        Recipe(
            "hardware",
            HardwareSet,
            "hardware set",
            "Hardware sets",
            "Lugs, hoops and rods of a role, the fittings with their holes, and the parts list.",
            (("Set", "name"), ("Role", "get_role_display"), ("Lugs per head", "lugs_per_head"), ("Lug", "lug_name")),
            rows=(
                Rows(
                    Fitting,
                    "Fittings and their holes",
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
                    "Parts list of one drum",
                    ("position", "name", "bag", "quantity", "unit_mass_g", "mass_tolerance_pct", "spare"),
                ),
            ),
        ),
        Recipe(
            "stations",
            Station,
            "station",
            "Stations",
            "Where work is done, with the caution that is shown there.",
            (
                ("Station", "name"),
                ("Code", "code"),
                ("Kind", "get_kind_display"),
                ("Place on the board", "position"),
                ("Shells at once", "places"),
                ("Work on a shell, min", "work_min"),
                ("Change-over, min", "setup_min"),
            ),
        ),
    )
}
