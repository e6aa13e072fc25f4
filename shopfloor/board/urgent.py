"""The first shells of each station, each as one short line of the board.

A full board has more than a hundred of them, is built after every tap and sent to every screen that looks on: they are
read in two queries that touch no other shell, and written without a template. The page stays light whatever stands in them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from html import escape

from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.urls import reverse
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.utils.html import conditional_escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from routing.kits import size_and_role
from routing.models import DrumModel, DwellKind, OperationState
from shopfloor.ring_images import ring_code, rings_at
from shopfloor.templatetags.shop import age, day_month
from shopfloor.work_in_process import why_held

SHOWN_PER_STATION = 12
MOST_BYTES = 20_600  # of all lines and heads together; the page around them has some 4 kB
HEAD_BYTES = 380  # of each station
MOST_WORDS = 40  # of what is wrong with a held shell: its page says the rest
_PLACE = "SERIAL"
NO_BREAK = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class BoardRow:
    """A shell as the board names it."""

    serial: str
    drum: str
    order: str
    due: date
    state: str  # ready, in_work, drying, on_hold
    ring: str  # the states of its steps, as the address of its ring
    doing: str  # in words: “waits 5 h”, “in work, Ada”, “curing until Fri 14:10”, “on hold: split”


# Of each station so many steps along the index of queues, whatever stands behind them.
_FIRST = (
    "SELECT * FROM (SELECT id, station_id, shell_id, position, state, not_before, ready_at, due, started_by_name, paused_at "
    "FROM routing_operation WHERE station_id = %s "
    "AND state IN ('ready', 'in_work', 'on_hold') ORDER BY due, ready_at, id LIMIT %s) AS first_{}"
)
_ASKED = """
    SELECT step.station_id, step.state, step.not_before, step.ready_at, step.due, step.started_by_name,
        step.paused_at IS NOT NULL,
        CASE WHEN step.not_before > %s THEN (
            SELECT before.dwell_kind FROM routing_operation before
            WHERE before.shell_id = step.shell_id AND before.position < step.position AND before.state = 'done'
            ORDER BY before.position DESC LIMIT 1
        ) END,
        step.shell_id, step.position, shell.serial, model.nominal_diameter_in, model.nominal_depth_in, model.role, kit.number, problem.text, defect.name
    FROM ({}) AS step
    JOIN routing_shell shell ON shell.id = step.shell_id
    JOIN routing_drummodel model ON model.id = shell.model_id
    JOIN routing_kitorder kit ON kit.id = shell.order_id
    LEFT JOIN quality_problem problem ON problem.shell_id = shell.id AND problem.state = 'open'
    LEFT JOIN quality_defect defect ON defect.id = problem.defect_id
    ORDER BY step.station_id, step.due, step.ready_at, step.id
"""


# Every step of a shell as its place and the first letter of its state, in no order: “1d,2d,3r,4w”.
_JOINED = {
    "sqlite": "group_concat(position || substr(state, 1, 1))",
    "postgresql": "string_agg(position || substr(state, 1, 1), ',')",
}
_STEPS = "SELECT shell_id, {} FROM routing_operation WHERE shell_id IN ({}) GROUP BY shell_id"
_STATES = {str(state)[0]: str(state) for state in OperationState}


def most_urgent(stations: Sequence[int], now: datetime) -> dict[int, list[BoardRow]]:
    """For each station its first shells in the order they should be worked: due first, then oldest. Two queries."""
    if not stations:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(
            _ASKED.format(" UNION ALL ".join(_FIRST.format(n) for n in range(len(stations)))),
            [
                connection.ops.adapt_datetimefield_value(now),
                *(n for station in stations for n in (station, SHOWN_PER_STATION)),
            ],
        )
        found = cursor.fetchall()
        steps = _steps_of(cursor, {row[8] for row in found})
    rows: dict[int, list[BoardRow]] = defaultdict(list)
    drum = lru_cache(_drum)
    held, worked_by, paused_by, waits_for = (
        _("on hold"),
        _("in work, {name}"),
        _("in work, {name}, paused"),
        _("waits {time}"),
    )
    for row in found:
        station, state, not_before, ready_at, due, who, paused, dwell = row[:8]
        shell, position, serial, diameter_in, depth_in, role, number, text, defect = row[8:]
        until = _moment(not_before)
        drying = state == OperationState.READY and until is not None and until > now
        if drying and until is not None:
            doing = _("{dwell} until {time}").format(
                dwell=_(DwellKind(dwell or DwellKind.CURE).label), time=_soon(until, now)
            )
        elif state == OperationState.ON_HOLD:
            doing = f"{held}: {_short(why_held(text, defect or ''))}" if text else held
        elif state == OperationState.IN_WORK:
            doing = (paused_by if paused else worked_by).format(name=_short(who))
        else:
            since = _moment(ready_at)
            doing = (waits_for.format(time=age(since, now)) if since else _("waits")).replace(" ", NO_BREAK)
        rows[station].append(
            BoardRow(
                serial,
                drum(diameter_in, depth_in, role),
                number,
                due,
                "drying" if drying else state,
                _ring(steps[shell], position, drying),
                doing,
            )
        )
    return rows


def _steps_of(cursor: CursorWrapper, shells: Iterable[int]) -> dict[int, str]:
    listed = ",".join(map(str, shells))
    if not listed:
        return {}
    cursor.execute(_STEPS.format(_JOINED[connection.vendor], listed))
    return dict(cursor.fetchall())


def lines(rows: Mapping[int, Sequence[BoardRow]], today: date, *, stations: int) -> dict[int, tuple[SafeString, ...]]:
    """The rows as HTML: as many of each station as a light page has room for, the same number of each."""
    rings = rings_at()
    before, after = reverse("trace:shell", args=[_PLACE]).split(_PLACE)
    late, in_time = conditional_escape(_("late, {day}")), conditional_escape(_("due {day}"))

    @lru_cache
    def day(due: date) -> str:
        written = day_month(due)
        return f"<b>{late.format(day=written)}</b>" if due < today else in_time.format(day=written)

    def line(row: BoardRow) -> str:
        held = " class=on_hold" if row.state == OperationState.ON_HOLD else ""
        return (
            f'<li{held}><img src={rings}{row.ring} alt><a href="{before}{escape(row.serial)}{after}">{escape(row.drum)}</a> {escape(row.doing)}'
            f"<i>{escape(row.order)}, {day(row.due)}</i>"
        )

    written = {station: [line(row) for row in shells] for station, shells in rows.items()}
    room = MOST_BYTES - HEAD_BYTES * stations
    shown = SHOWN_PER_STATION
    while shown and sum(len(each.encode()) for every in written.values() for each in every[:shown]) > room:
        shown -= 1
    return {station: tuple(map(mark_safe, every[:shown])) for station, every in written.items()}


@lru_cache(maxsize=4096)
def _ring(steps: str, position: int, drying: bool) -> str:
    """As ``shopfloor.rings.ring_states`` has it: the step whose dwell runs is drying, not done, and the next one waits."""
    states = {int(step[:-1]): _STATES[step[-1]] for step in steps.split(",")}
    route = sorted(states)
    before = next((place for place in reversed(route) if place < position), None)
    if drying and before is not None and states[before] == OperationState.DONE:
        states[before], states[position] = "drying", str(OperationState.WAITING)
    return ring_code(states[place] for place in route)


def _drum(diameter_in: float, depth_in: float, role: str) -> str:
    model = DrumModel(nominal_diameter_in=diameter_in, nominal_depth_in=depth_in, role=role)
    return size_and_role(model)


def _moment(value: datetime | None) -> datetime | None:
    """A time as either database gives it: SQLite leaves the zone away, which is always UTC."""
    return value.replace(tzinfo=UTC) if value is not None and value.tzinfo is None else value


def _short(words: str) -> str:
    return words if len(words) <= MOST_WORDS else f"{words[: MOST_WORDS - 1]}…"


def _soon(when: datetime, now: datetime) -> str:
    """The time of day; with the day of the week within six days, else with the date."""
    zone = timezone.get_current_timezone()
    local, today = when.astimezone(zone), now.astimezone(zone).date()
    if local.date() == today:
        return f"{local:%H:%M}"
    day = date_format(local, "D") if local.date() - today < timedelta(days=6) else day_month(local.date())
    return f"{day} {local:%H:%M}"
