"""The further figures of a station: all from the frozen spec, none without a meaning."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from routing.models import StationKind
from routing.specs.jsonable import to_json
from routing.specs.sheet import compute_sheet
from routing.station_details import station_details
from routing.station_numbers import StationNumber
from tests.routing.specs.example_drums import ALL, SNARE, WRAPPED_TOM

WITHOUT = {StationKind.SAND, StationKind.FINAL_CHECK}  # their large numbers say it all


def figures(kind: StationKind, drum: Any, coat: int | None = None) -> dict[str, StationNumber]:
    found = station_details(kind, to_json(compute_sheet(drum)), to_json(drum), coat)
    return {figure.label: figure for figure in found}


@pytest.mark.parametrize("drum", ALL.values(), ids=list(ALL))
@pytest.mark.parametrize("kind", StationKind)
def test_every_figure_says_what_it_is(kind: StationKind, drum: Any) -> None:
    sheet = compute_sheet(drum)
    coats = range(len(drum.finish.coats)) if kind in (StationKind.SEAL, StationKind.FINISH) else [None]
    for coat in coats:
        found = station_details(kind, to_json(sheet), to_json(drum), coat)
        none_wanted = (
            kind in WITHOUT
            or (kind == StationKind.TUNE and sheet.tuning is None)
            or (kind == StationKind.WRAP and sheet.wrap is None)
        )
        assert bool(found) != none_wanted
        for figure in found:
            words = f"{figure.label} {figure.value} {figure.tolerance} {figure.note}"
            assert figure.label and (figure.value or figure.note)
            assert not re.search(r"\b(nan|None|inf)\b", words)


def test_the_cut_station_reads_whether_the_plates_may_be_glued() -> None:
    found = figures(StationKind.CUT, SNARE)
    assert found["Fit to glue"].value == "yes"
    assert found["Wood settles at"].unit == "% moisture"
    assert "density" not in found and "kg/m³" in found["Plate 1"].note


def test_a_mix_for_several_shells_is_that_many_times_one() -> None:
    results = to_json(compute_sheet(SNARE))
    found = figures(StationKind.PRESS, SNARE)
    assert found["Mix for 2 like this"].value == f"{results['gluing']['to_mix_g'] * 2:.0f}"
    # 30 min of pot life, 5 min until the first spread, 6 min for each: by hand from the spec's own clock.
    life = results["gluing"]["clocks"]["pot_life_min"]
    assert found["Shells from one mix, at most"].value == str(int((life - 5) // 6))


def test_each_bag_has_its_weighing_window() -> None:
    results = to_json(compute_sheet(SNARE))
    found = figures(StationKind.ASSEMBLE, SNARE)
    for bag in results["mass"]["bags"]:
        figure = found[f"Bag {bag['bag']} weighs"]
        assert figure.value == f"{bag['low_g']:.1f} … {bag['high_g']:.1f}"
        assert bag["advice"] in figure.note


def test_a_wrap_says_whether_a_head_goes_over_it() -> None:
    assert figures(StationKind.WRAP, WRAPPED_TOM)["Head fits over it"].value in {"yes", "no"}


def test_a_spec_frozen_before_a_figure_was_computed_leaves_it_out() -> None:
    old = copy.deepcopy(to_json(compute_sheet(SNARE)))
    del old["mass"]["finish_g"], old["coats"]["gloss_base_pct"]
    labels = {figure.label for figure in station_details(StationKind.PACK, old, to_json(SNARE))}
    assert "Shell" in labels and "Finish" not in labels
    for coat in range(len(SNARE.finish.coats)):
        assert station_details(StationKind.FINISH, old, to_json(SNARE), coat)
