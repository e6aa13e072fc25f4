"""The sign over the door, on the start page and the page of words."""

from __future__ import annotations

# A kit in work, its drums at their true relative size: (nominal inches, steps done, the present one)
SIGN = [
    (diameter, [*[("done", "")] * done, (present, ""), *[("waiting", "")] * (11 - done)])
    for diameter, done, present in [
        (22, 4, "drying"),
        (16, 6, "in_work"),
        (12, 9, "ready"),
        (10, 11, "done"),
        (14, 7, "ready"),
    ]
]
