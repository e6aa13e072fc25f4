"""Order books written for tests."""

from __future__ import annotations

from datetime import date

HEADER = "order number,customer,customer reference,due date,drum code,finish,quantity,note"
TODAY = date(2026, 11, 2)


def row(**changes: str) -> str:
    cells = {
        "number": "K-1",
        "customer": "Tarn Valley Band",
        "reference": "PO 77",
        "due": "2026-12-24",
        "drum": "",
        "finish": "",
        "quantity": "1",
        "note": "",
    } | changes
    return ",".join(f'"{cell}"' if "," in cell else cell for cell in cells.values())


def file(*rows: str) -> str:
    return "\n".join([HEADER, *rows]) + "\n"
