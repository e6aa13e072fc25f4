"""Fill an empty shop with what ten tablets need: ``python -m tests.faults.filling TABLETS`` prints it as JSON.

Run in a process of its own, with the environment of the shop that is to be broken.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any

OWN_SHELLS = 2  # that nobody else taps
SHARED_SHELLS = 3  # that everybody fights for
CSRF = "c" * 32
STATION = "cut"


def fill(tablets: int) -> dict[str, Any]:
    """The shells, and for each tablet who stands there and the cookies of a browser that is signed in."""
    from django.http import HttpResponse
    from django.utils import timezone

    from quality.models import CheckPoint
    from quality.tablets import enrol_here
    from routing.models import Shop
    from shopfloor.tablet_station import binding_of, keep_key
    from shopfloor.worker_token import WorkerAtTablet, keep_worker
    from tests.small_shop import person, small_shop

    shop = small_shop()
    shop.clock = timezone.now()
    settings = Shop.current()
    settings.floor_idle_minutes, settings.withdraw_minutes = 480, 120
    settings.save()
    station = shop.stations[STATION]
    points = [
        CheckPoint.objects.create(
            code=f"length-{place}",
            station=station,
            position=place,
            kind="measured",
            unit="mm",
            text=f"Length {place}",
            nominal=500,
            minus=500,
            plus=500,
        ).pk
        for place in (1, 2, 3)
    ]
    shells = shop.released(quantity=SHARED_SHELLS + OWN_SHELLS * tablets)
    serials = [shell.serial for shell in shells]
    filled: dict[str, Any] = {"points": points, "shared": serials[:SHARED_SHELLS], "tablets": []}
    for number in range(tablets):
        worker = person(f"tapper-{number}", stations=[station])
        tablet, key = enrol_here(name=f"Tablet {number}", stations=[station], by=shop.supervisor, at=timezone.now())
        answer = HttpResponse()
        keep_key(answer, key)
        keep_worker(answer, WorkerAtTablet(worker, timezone.now()), device=binding_of(tablet), secure=False)
        cookies = {name: morsel.coded_value for name, morsel in answer.cookies.items()}
        own = serials[SHARED_SHELLS + OWN_SHELLS * number :][:OWN_SHELLS]
        filled["tablets"].append({"cookies": cookies | {"csrftoken": CSRF}, "own": own})
    return filled


def main() -> int:
    os.environ["DJANGO_SETTINGS_MODULE"] = "shopfloor.settings"
    import django

    django.setup()
    print(json.dumps(fill(int(sys.argv[1]))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
