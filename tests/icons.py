"""The icons of the program, drawn anew: ``.venv/bin/python -m tests.icons``. A ring in work, as the screens draw it.

The maskable one keeps its ring inside the middle four fifths, since a tablet may cut the rest off:
https://www.w3.org/TR/appmanifest/#icon-masks
"""

from __future__ import annotations

import re
from pathlib import Path

import pypdfium2
from PIL import Image
from weasyprint import HTML

from routing.drawings.ring import RingSegment, ring_svg

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "static" / "icons"
STATES = ["done"] * 5 + ["in_work"] + ["waiting"] * 3
INK, PAPER = "ink", "paper"
PT_PER_PX = 0.75


def main() -> None:
    (FOLDER / "ring.svg").write_text(ring(INK) + "\n", encoding="utf-8")
    for name, size, part in (
        ("tablet-192", 192, 0.86),
        ("tablet-512", 512, 0.86),
        ("tablet-maskable-512", 512, 0.66),
    ):
        path = FOLDER / f"{name}.png"
        drawn(size, part).quantize(64).save(path, optimize=True)
        print(f"{path.name}: {size} × {size}, {path.stat().st_size} bytes")


def token(name: str) -> str:
    text = (ROOT / "static" / "css" / "tokens.css").read_text(encoding="utf-8")
    found = re.search(rf"--{name}: (#[0-9a-f]{{6}});", text)
    assert found is not None, f"tokens.css has no --{name}"
    return found[1]


def ring(ink: str) -> str:
    return ring_svg([RingSegment(state) for state in STATES], title="ring").replace("currentColor", token(ink))


def drawn(size: int, part: float) -> Image.Image:
    """The ring on paper, ``part`` of the icon wide, drawn four times as large and made small."""
    style = f"@page {{ size: {size}px; margin: 0; background: {token(PAPER)} }} svg {{ position: absolute; "
    place = f"left: {size * (1 - part) / 2}px; top: {size * (1 - part) / 2}px; width: {size * part}px; height: {size * part}px }}"
    pdf = HTML(string=f"<style>{style}{place}</style>{ring(INK)}").write_pdf()
    large: Image.Image = pypdfium2.PdfDocument(pdf)[0].render(scale=4 / PT_PER_PX).to_pil()
    return large.convert("RGB").resize((size, size))


if __name__ == "__main__":
    main()
