"""The guide: one page for each kind of work."""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

from shopfloor.guide.desk_pages import OFFICE, SUPERVISOR
from shopfloor.guide.floor_pages import CHECKER, WORKER

SAFETY = _(
    "Cautions stand on each step: read them first. Local codes, the makers' data sheets and licensed practice come before "
    "anything a screen says. Not sure? Stop and ask."
)

GUIDES = {guide.key: guide for guide in (WORKER, CHECKER, SUPERVISOR, OFFICE)}
