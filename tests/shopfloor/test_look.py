"""The look holds its promises: contrast, no inline style or script, colours in one place, states by shape and word."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django import forms
from django.template import Context, Template

from routing.drawings import (
    control_chart,
    cutting_sheet,
    edge_profile,
    gantt,
    hole_map,
    nest_section,
    pareto,
    plate_stack,
)
from routing.drawings.common import Drawing
from routing.models import OperationState, OrderState, ShellState
from shopfloor.templatetags import shop as tags
from shopfloor.travelers import ink

ROOT = Path(__file__).parents[2]
CSS = ROOT / "static" / "css"
# A whole page without a viewport goes to paper, not to a browser: no content policy, and its page size stands in it.
TEMPLATES = [
    path
    for path in sorted((ROOT / "templates").rglob("*.html"))
    if "<!doctype" not in (text := path.read_text()) or 'name="viewport"' in text
]
PAPER = re.findall(r'css="([a-z-]+\.css)"', " ".join(path.read_text() for path in (ROOT / "shopfloor").rglob("*.py")))
PAPER_SHEETS = sorted({"paper.css", "packing-list.css", "carton-label.css", *PAPER})
SCREEN_SHEETS = sorted({path.name for path in CSS.glob("*.css")} - {"tokens.css", *PAPER_SHEETS})
DECLARATION = re.compile(r"(?:^|[{;])\s*([a-z-]+)\s*:\s*([^;{}]+)(?=[;}])", re.MULTILINE)
# What is set by name only: type, spacing, lines, corners, colours. Widths of columns and pages are each screen's own.
BY_NAME = re.compile(
    r"font(-size)?|(margin|padding)(-.+)?|(row-|column-)?gap|border(-.+)?|outline(-.+)?|text-decoration-thickness"
    r"|stroke-width|box-shadow|background(-.+)?"
)
MEASURE = re.compile(r"(?<![\w.-])-?(?:\d*\.)?\d+(?:px|rem|pt|mm|cm|in|v[wh]|ch)\b")
FINE_MEASURE = re.compile(r"(?<![\w.-])-?(?:\d*\.)?\d+(?:px|pt)\b")
COLOUR = re.compile(
    r"#[0-9a-fA-F]{3,8}\b|\b(?:rgba?|hsla?|oklch|lab|lch|color)\(|\b(?:black|white|gr[ae]y|red|green|blue)\b"
)


def tokens(selector: str) -> dict[str, str]:
    """The colours that a block of tokens.css sets, by name."""
    block = re.search(
        rf"^{re.escape(selector)} \{{(.*?)^\}}", (CSS / "tokens.css").read_text(), re.DOTALL | re.MULTILINE
    )
    assert block is not None
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block.group(1)))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_computed_as_the_guideline_says() -> None:
    """WCAG 2.2: black on white 21:1, a colour on itself 1:1; #767676 on white is the well-known 4.54:1 (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == pytest.approx(1)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", [":root", ".wall"])
@pytest.mark.parametrize("paper", ["paper", "sheet", "sunk"])
@pytest.mark.parametrize("ink", ["ink", "ink-soft", "accent", "hold", "dry", "done"])
def test_text_reaches_seven_to_one(theme: str, paper: str, ink: str) -> None:
    """WCAG 2.2, 1.4.6 (AAA): 7:1; the floor needs it in glare."""
    colours = tokens(theme)
    assert contrast(colours[ink], colours[paper]) >= 7


@pytest.mark.parametrize("theme", [":root", ".wall"])
@pytest.mark.parametrize(
    ("ink", "ground"),
    [
        ("on-accent", "accent"),
        ("on-accent", "accent-deep"),
        ("hold", "hold-wash"),
        ("dry", "dry-wash"),
        ("accent", "accent-wash"),
        ("ink", "accent-wash"),
        ("ink", "hold-wash"),
        ("ink", "dry-wash"),
        ("sheet", "done"),
    ],
)
def test_text_on_colour_reaches_seven_to_one_or_nearly(theme: str, ink: str, ground: str) -> None:
    """The chips' own colours on their washes are large or bold: 1.4.3 asks 4.5:1; the rest 7:1."""
    colours = tokens(theme)
    asked = 4.5 if ground.endswith("-wash") and ink != "ink" else 7
    assert contrast(colours[ink], colours[ground]) >= asked


@pytest.mark.parametrize("theme", [":root", ".wall"])
@pytest.mark.parametrize("paper", ["paper", "sheet", "sunk"])
@pytest.mark.parametrize("border", ["line", "focus"])
def test_what_one_can_use_has_a_visible_border(theme: str, paper: str, border: str) -> None:
    """WCAG 2.2, 1.4.11: 3:1."""
    colours = tokens(theme)
    assert contrast(colours[border], colours[paper]) >= 3


def test_the_wall_changes_every_colour() -> None:
    assert set(tokens(".wall")) == set(tokens(":root"))


def not_by_name(text: str) -> list[str]:
    """The declarations of a sheet that bring a colour or a measure of their own where there is a name for it."""
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    text = re.sub(r"^@page \{.*?^\}", "", text, flags=re.DOTALL | re.MULTILINE)  # the size of a leaf and its margins
    text = re.sub(r"@media[^{]*\{|@page \{[^{}]*\}", "", text)
    found = []
    for name, value in DECLARATION.findall(text):
        own = MEASURE if BY_NAME.fullmatch(name) else FINE_MEASURE
        if not name.startswith("--") and (own.search(value) or COLOUR.search(value)):
            found.append(f"{name}: {value.strip()}")
    return found


@pytest.mark.parametrize("sheet", [*SCREEN_SHEETS, *PAPER_SHEETS])
def test_colours_type_spaces_and_lines_are_those_of_the_tokens(sheet: str) -> None:
    assert not_by_name((CSS / sheet).read_text()) == []


@pytest.mark.parametrize(
    "wrong",
    [
        "color: #fff",
        "margin: 0 3px",
        "font: bold 13pt/1.2 var(--face-title)",
        "border: 1px solid var(--ink)",
        "border-radius: 4px",
        "gap: 0.5rem",
        "width: 34px",
        "background: white",
        "padding: calc(var(--s1) + 2mm)",
    ],
)
def test_the_check_for_tokens_can_fail(wrong: str) -> None:
    assert not_by_name(f".a {{\n  display: grid;\n  {wrong};\n}}\n") == [wrong]


def test_the_check_for_tokens_leaves_what_has_no_name() -> None:
    fine = ".a {\n  margin: 0 auto;\n  width: 12rem;\n  padding: 0.2em 10%;\n  font: 700 var(--size-m) var(--face-text);\n}"
    assert not_by_name(fine) == []


@pytest.mark.parametrize("sheet", [*SCREEN_SHEETS, *PAPER_SHEETS])
def test_every_token_that_is_used_exists(sheet: str) -> None:
    home = "paper.css" if sheet in PAPER_SHEETS else "tokens.css"
    known = set(re.findall(r"(--[a-z0-9-]+):", (CSS / home).read_text()))
    assert set(re.findall(r"var\((--[a-z0-9-]+)", (CSS / sheet).read_text())) <= known


def test_every_token_is_used() -> None:
    used = set(re.findall(r"var\((--[a-z0-9-]+)", " ".join(path.read_text() for path in CSS.glob("*.css"))))
    for home in ("paper.css", "tokens.css"):
        assert set(re.findall(r"(--[a-z0-9-]+):", (CSS / home).read_text())) <= used


def test_a_drawn_leaf_has_the_lines_and_greys_of_all_papers() -> None:
    """A traveler is drawn without a stylesheet; what it is drawn with is that of paper.css."""
    paper = dict(re.findall(r"--([a-z-]+): ([^;]+);", (CSS / "paper.css").read_text()))
    assert [paper["thin"], paper["firm"], paper["heavy"]] == [f"{line:g}pt" for line in (ink.THIN, ink.FIRM, ink.HEAVY)]
    assert [paper["hair"], paper["ink-soft"]] == [
        "#" + f"{round(grey * 15):x}" * 3 for grey in (ink.HAIR_GREY, ink.NOTE_GREY)
    ]


def test_targets_are_as_large_as_fingers_need() -> None:
    text = (CSS / "tokens.css").read_text()
    office, floor = re.findall(r"--target: (\d+)px", text)
    assert int(office) >= 44 and int(floor) >= 64


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_no_template_breaks_the_content_policy(template: Path) -> None:
    text = template.read_text()
    assert not re.search(r"<style[\s>]|\sstyle=", text), "style belongs in static/css"
    assert not re.search(r"<script(?![^>]*\ssrc=)[^>]*>", text), "scripts belong in static/js"
    assert not re.search(r"<[^>]*\son[a-z]+=", text), "no event attributes"
    assert "javascript:" not in text and "hx-on" not in text


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_every_drawing_opens_at_full_size(template: Path) -> None:
    assert not re.search(r"(svg|drawing|map|picture|chart|pareto)\|safe", template.read_text()), "write |drawings"


def test_a_drawing_opens_and_closes_without_a_script() -> None:
    one = Drawing().svg(10, 10, title="one & other", name="edge-profile")
    shown = tags.drawings(one + "\n" + one)
    assert shown.count('<details class="large"><summary><svg class="drawing edge-profile"') == 2
    assert shown.count("See it larger") == shown.count("Back to the page") == 2 and "one &amp; other" in shown
    assert tags.drawings("") == ""


@pytest.mark.parametrize(
    "kind", [control_chart, cutting_sheet, edge_profile, gantt, hole_map, nest_section, pareto, plate_stack]
)
def test_a_drawing_has_its_own_width_on_the_screen(kind: Any) -> None:
    """One unit of every drawing is as large as of every other: lines and words are alike."""
    name = kind.__name__.rpartition(".")[2].replace("_", "-")
    text = (CSS / "drawings.css").read_text()
    usual = re.search(r"--across: (\d+);", (CSS / "tokens.css").read_text())
    own = re.search(rf"\.{name}(?:,\n\.[a-z-]+)? \{{\n  --across: (\d+);", text)
    found = own or usual
    assert found is not None and float(found.group(1)) == kind.WIDTH


def test_the_look_sees_the_templates() -> None:
    assert len(TEMPLATES) > 30


@pytest.mark.parametrize("state", [*OperationState, *ShellState, *OrderState], ids=lambda state: state.value)
def test_a_state_is_a_shape_and_a_word(state: OperationState) -> None:
    chip = tags.state_chip(state.value, state.label)
    assert "<svg" in chip and chip.endswith(f"{state.label}</span>")


def test_the_states_of_a_step_have_shapes_of_their_own() -> None:
    states = [*OperationState.values, "drying"]
    shapes = {re.sub(r".*(<svg.*</svg>).*", r"\1", tags.state_chip(state, "word")) for state in states}
    rings = {tags.legend_ring(state) for state in states}
    assert len(shapes) == len(rings) == len(states)


def test_a_chip_escapes_its_word() -> None:
    assert "<script>" not in tags.state_chip("ready", "<script>")


def test_a_kit_stands_at_its_true_relative_size() -> None:
    widths = [float(re.search(r'width="([\d.]+)"', tags.drum_ring([("done", "")], d)).group(1)) for d in (22, 11)]  # type: ignore[union-attr]
    assert widths[0] == pytest.approx(2 * widths[1])


NOW = datetime(2026, 11, 2, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("back", "said"),
    [
        (timedelta(0), "0 min"),
        (timedelta(minutes=59), "59 min"),
        (timedelta(hours=1), "1 h"),
        (timedelta(hours=47), "47 h"),
        (timedelta(hours=48), "2 d"),
        (timedelta(days=-1), "0 min"),  # a tablet's clock runs ahead
    ],
)
def test_age(back: timedelta, said: str) -> None:
    assert tags.age(NOW - back, NOW) == said


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0 min"), (45, "45 min"), (60, "1 h"), (80, "1 h 20 min"), (119.6, "2 h"), (2880, "48 h")]
)
def test_hours_minutes(minutes: float, said: str) -> None:
    assert tags.hours_minutes(minutes) == said


def test_lengths_carry_their_unit() -> None:
    assert tags.mm(352.4249) == "352.4 mm"
    assert tags.mm(7.3, 2) == "7.30 mm"
    assert tags.inch(355.6) == "14 in"
    assert tags.number(12.50) == "12.5" and tags.number(None) == ""


def test_a_number_has_label_unit_and_tolerance_and_escapes_them() -> None:
    block = tags.number_block("Shell <outside>", "352.4", "mm", "± 0.5", "13 7/8 in")
    assert "Shell &lt;outside&gt;" in block and "352.4" in block and '<span class="unit">mm</span>' in block
    assert '<dd class="limits">± 0.5</dd>' in block and '<dd class="other">13 7/8 in</dd>' in block


def test_a_caution_has_its_word_and_escapes_its_text() -> None:
    assert "<strong>Caution</strong> mind &lt;hands&gt;" in tags.caution("mind <hands>")


class Sample(forms.Form):
    depth = forms.FloatField(help_text="Across the shell.")
    active = forms.BooleanField(required=False)


def test_help_and_error_are_tied_to_their_field() -> None:
    """The names in aria-describedby must exist, or a screen reader says nothing."""
    form = Sample({"depth": "deep"})
    page = Template('{% for field in form %}{% include "components/field.html" %}{% endfor %}').render(
        Context({"form": form})
    )
    described = re.search(r'aria-describedby="([^"]+)"', page)
    assert described is not None and 'aria-invalid="true"' in page
    assert {f'id="{name}"' for name in described.group(1).split()} <= set(re.findall(r'id="[^"]+"', page))
    assert "Enter a number." in page
    assert page.index('type="checkbox"') < page.index(">Active<"), "a box to tick stands before its label"
