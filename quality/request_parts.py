"""The parts a customer gets sent: only what is on the drum's own list; off the shelf and back to it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import CustomerRequest, Person, RequestLine
from quality.request_facts import as_built_parts
from quality.stock import put_back
from routing.history import Stamp
from routing.models import RecordKind, Shell

MOST_OF_ONE_PART = 400
Part = tuple[str, str]  # the bag, empty for loose parts, and the part's name


def lines_of(shell: Shell, parts: Mapping[Part, int]) -> dict[Part, int]:
    """What is to be sent, in the order of the drum's parts list. Only what is on that list can be sent."""
    listed = [(part.bag, part.name) for part in as_built_parts(shell).parts]
    for bag, name in parts:
        if (bag, name) not in listed:
            words = _("“{part}” is not on the parts list of {serial}; choose from the list.")
            raise QualityError("unknown_part", words.format(part=name, serial=shell.serial))
    wanted = {part: parts[part] for part in listed if parts.get(part)}
    for (__, name), quantity in wanted.items():
        if not 1 <= quantity <= MOST_OF_ONE_PART:
            words = _("Send 1 to {most} of “{part}”, in whole pieces.")
            raise QualityError("quantity", words.format(most=MOST_OF_ONE_PART, part=name))
    return wanted


def set_lines(request: CustomerRequest, lines: Mapping[Part, int]) -> None:
    request.lines.all().delete()
    RequestLine.objects.bulk_create(
        [
            RequestLine(request=request, bag_name=bag, part_name=name, quantity=quantity)
            for (bag, name), quantity in lines.items()
        ]
    )


def pieces_of(request: CustomerRequest) -> dict[str, int]:
    """How many of each part, whichever bag they belong in: the shelf has one row of a name."""
    pieces: dict[str, int] = {}
    for line in request.lines.all():
        pieces[line.part_name] = pieces.get(line.part_name, 0) + line.quantity
    return pieces


def put_back_picked(request: CustomerRequest, person: Person, stamp: Stamp) -> dict[str, int]:
    """Give what was picked last back to the shelf; nothing when it was picked before the shelf was told of it."""
    picked = request.events.filter(record__kind=RecordKind.PICKED).select_related("record").last()
    if picked is None or "taken" not in picked.record.body:
        return {}
    return put_back(
        pieces_of(request), request=request, reason=f"{what_for(request)}, back", person=person, stamp=stamp
    )


def what_for(request: CustomerRequest) -> str:
    return f"{request.number} for {request.shell.serial}"


def told(lines: Mapping[Part, int]) -> list[dict[str, Any]]:
    return [{"bag": bag, "part": name, "quantity": quantity} for (bag, name), quantity in lines.items()]
