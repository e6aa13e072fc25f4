"""The holes of a released shell as page, drawing file and program."""

from __future__ import annotations

import io

import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from ezdxf.filemanagement import read as ezdxf_read

from routing.models import ShellSpec
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def test_the_page_lists_every_hole_and_the_files_hold_them_all(shop: SmallShop, office: Client) -> None:
    shell = shop.released()[0]
    holes = ShellSpec.objects.get(shell=shell).results["drilling"]["holes"]
    page = office.get(reverse("holes:holes", args=[shell.serial])).content.decode()
    assert "Run a program dry" in page
    assert all(f"{hole['arc_mm']:.1f}" in page for hole in holes)
    answer = office.get(reverse("holes:dxf", args=[shell.serial]))
    assert answer["Content-Disposition"] == f'attachment; filename="holes-{shell.serial}-r1.dxf"'
    drawing = ezdxf_read(io.StringIO(answer.content.decode()))
    assert drawing.dxfversion == "AC1009"
    circles = drawing.modelspace().query('CIRCLE[layer=="HOLES"]')
    assert len(circles) >= len(holes)
    program = office.get(reverse("holes:program", args=[shell.serial])).content.decode()
    assert sum("G81" in line for line in program.splitlines()) == len(holes)


def test_strangers_and_unknown_drums(shop: SmallShop, client: Client, office: Client) -> None:
    shell = shop.released()[0]
    for name in ("holes", "dxf", "template", "program"):
        assert client.get(reverse(f"holes:{name}", args=[shell.serial])).status_code == 302
        assert office.get(reverse(f"holes:{name}", args=["SS2600099X"])).status_code == 404
        assert office.post(reverse(f"holes:{name}", args=[shell.serial])).status_code == 405


@pytest.mark.parametrize(("paper", "width_mm"), [("A4", 297.0), ("Letter", 279.4)])
def test_the_paper_template_is_at_true_scale(shop: SmallShop, office: Client, paper: str, width_mm: float) -> None:
    shell = shop.released()[0]
    answer = office.get(reverse("holes:template", args=[shell.serial]), {"paper": paper})
    assert answer["Content-Type"] == "application/pdf"
    pdf = pypdf.PdfReader(io.BytesIO(answer.content))
    assert float(pdf.pages[0].mediabox.width) == pytest.approx(width_mm / 25.4 * 72, abs=0.5)
    # 1107 mm of circumference on sheets that lie across: four are too few.
    assert len(pdf.pages) == 5
    assert shell.serial in pdf.pages[0].extract_text()
