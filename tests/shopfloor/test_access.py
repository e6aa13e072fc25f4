"""What every address answers to everybody: one table, and a test that no address is missing from it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from quality.api_keys import make_key
from quality.lot_hold import hold_glue_batch
from quality.made_here import begin_lot
from quality.models import (
    CheckPoint,
    Defect,
    GlueBatch,
    KeyOpens,
    LotRoute,
    LotRouteStep,
    MadeLot,
    MaterialLot,
    Person,
    Role,
)
from quality.requests import take_request
from routing.models import Closure, CuttingJob, Glue, Plan, ProductLine, Shell, TravelerPrint
from shopfloor.qr import card_token
from tests.shopfloor.tablets import Clock, Tablet, make_tablet, sign_through
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

# An empty form is sent with POST: 422 and 409 say that the person may, but not this. 302 sends a stranger to sign in.
DESK = """
                               stranger worker final_checker supervisor office administrator
GET  home                           200    302           302        302    302           302
GET  glossary                       200    200           200        200    200           200
GET  manifest                       200    200           200        200    200           200
GET  ring                           200    200           200        200    200           200
GET  guide:index                    200    200           200        200    200           200
GET  guide:page                     200    200           200        200    200           200
GET  guide:card                     200    200           200        200    200           200
GET  start:steps                    302    403           403        200    403           200
POST start:skip                     302    403           403        302    403           302
POST start:stations                 302    403           403        302    403           302
POST start:recipes                  302    403           403        302    403           302
GET  start:round                    302    403           403        404    403           404
POST start:begin                    302    403           403        404    403           404
POST start:traced                   302    403           403        404    403           404
POST start:leave                    302    403           403        404    403           404
GET  start:anew                     302    403           403        403    403           404
POST start:anew                     302    403           403        403    403           404
GET  signin:office                  200    302           302        302    302           302
POST signin:office                  422    302           302        302    302           302
GET  signin:password                302    200           200        200    200           200
POST signin:password                302    422           422        422    422           422
POST signin:out                     302    302           302        302    302           302
GET  board:board                    302    200           200        200    200           200
GET  board:kits                     302    200           200        200    200           200
GET  board:age                      302    200           200        200    200           200
GET  board:wall                     302    200           200        200    200           200
GET  board:ahead                    302    200           200        200    200           200
GET  board:station                  302    200           200        200    200           200
GET  orders:list                    302    403           403        200    200           200
GET  orders:new                     302    403           403        200    200           200
POST orders:new                     302    403           403        422    422           422
GET  orders:import                  302    403           403        200    200           200
POST orders:import                  302    403           403        422    422           422
POST orders:confirm_import          302    403           403        422    422           422
GET  orders:order                   302    403           403        200    200           200
GET  orders:kit                     302    403           403        200    200           200
GET  orders:edit                    302    403           403        200    200           200
POST orders:edit                    302    403           403        422    422           422
POST orders:delete                  302    403           403        302    302           302
POST orders:release                 302    403           403        302    403           302
POST orders:ship                    302    403           403        409    403           409
GET  cutting:plan                   302    403           403        200    200           200
POST cutting:plan                   302    403           403        422    422           422
GET  cutting:job                    302    403           403        200    200           200
POST cutting:stop                   302    403           403        302    302           302
GET  catalog:index                  302    403           403        200    200           200
GET  catalog:list                   302    403           403        200    200           200
GET  catalog:new                    302    403           403        200    403           200
POST catalog:new                    302    403           403        422    403           422
GET  catalog:recipe                 302    403           403        200    403           200
POST catalog:recipe                 302    403           403        422    403           422
GET  catalog:routes                 302    403           403        200    200           200
GET  catalog:route                  302    403           403        200    403           200
POST catalog:route                  302    403           403        422    403           422
GET  catalog:checks                 302    403           403        200    200           200
GET  catalog:new_check              302    403           403        200    403           200
POST catalog:new_check              302    403           403        422    403           422
GET  catalog:check                  302    403           403        200    403           200
POST catalog:check                  302    403           403        422    403           422
GET  catalog:defects                302    403           403        200    200           200
GET  catalog:new_defect             302    403           403        200    403           200
POST catalog:new_defect             302    403           403        422    403           422
GET  catalog:defect                 302    403           403        200    403           200
POST catalog:defect                 302    403           403        422    403           422
GET  bench:bench                    302    403           403        200    200           200
POST bench:save                     302    403           403        422    403           422
POST travelers:print_shell          302    403           403        302    403           302
GET  travelers:preview              302    403           403        200    403           200
POST travelers:print_order          302    403           403        422    403           422
GET  travelers:ahead                302    403           403        200    403           200
GET  travelers:print                302    403           403        200    403           200
GET  travelers:file                 302    403           403        302    403           302
POST travelers:print_selection      302    403           403        422    403           422
GET  trace:seals                    302    200           200        200    200           200
GET  trace:seals_pdf                302    200           200        200    200           200
POST trace:seal_now                 302    403           403        302    403           302
POST trace:check_seals              302    403           403        302    403           302
GET  made_here:list                 302    403           403        200    200           200
POST made_here:begin                302    403           403        422    422           422
GET  made_here:new_route            302    403           403        200    403           200
POST made_here:new_route            302    403           403        422    403           422
GET  made_here:route                302    403           403        200    403           200
POST made_here:route                302    403           403        422    403           422
GET  figures:overview               302    403           403        200    200           200
GET  figures:yields_file            302    403           403        200    200           200
GET  figures:findings               302    403           403        200    200           200
GET  figures:findings_file          302    403           403        200    200           200
GET  figures:check                  302    403           403        200    200           200
GET  figures:check_file             302    403           403        200    200           200
GET  packing:list                   302    200           200        200    200           200
GET  packing:order                  302    200           200        200    200           200
GET  packing:order_list             302    200           200        200    200           200
GET  packing:drum                   302    200           200        200    200           200
POST packing:bag                    302    422           422        422    403           403
GET  packing:drum_list              302    200           200        200    200           200
GET  packing:label                  302    409           409        409    409           409
GET  packing:shortages              302    200           200        200    200           200
GET  packing:shelf                  302    200           200        200    200           200
POST packing:count                  302    403           403        422    422           422
POST packing:receive                302    403           403        422    422           422
GET  people:matrix                  302    403           403        200    403           200
GET  people:matrix_csv              302    403           403        200    403           200
GET  people:matrix_xlsx             302    403           403        200    403           200
GET  trace:search                   302    200           200        200    200           200
GET  trace:person                   302    200           200        200    200           200
GET  trace:shell                    302    200           200        200    200           200
GET  trace:photo                    302    404           404        404    404           404
GET  trace:json                     302    200           200        200    200           200
GET  trace:pdf                      302    200           200        200    200           200
POST trace:settle                   302    403           403        422    403           422
POST trace:rework                   302    403           403        422    403           422
POST trace:use_as_is                302    403           403        422    403           422
POST trace:regrade                  302    403           403        422    403           422
POST trace:scrap                    302    403           403        422    403           422
POST trace:reissue                  302    403           403        422    403           422
POST trace:withdraw                 302    403           403        409    403           409
GET  certificate:pdf                302    200           200        200    200           200
GET  recall:find                    302    200           200        200    200           200
GET  recall:csv                     302    422           422        422    422           422
GET  recall:xlsx                    302    422           422        422    422           422
GET  late:find                      302    403           403        200    403           403
GET  late:shell                     302    403           403        200    403           403
POST late:shell                     302    403           403        422    403           403
GET  holes:holes                    302    200           200        200    200           200
GET  holes:dxf                      302    200           200        200    200           200
GET  holes:template                 302    200           200        200    200           200
GET  holes:program                  302    200           200        200    200           200
GET  materials:list                 302    403           403        200    200           200
GET  materials:new                  302    403           403        200    200           200
POST materials:new                  302    403           403        422    422           422
GET  materials:lot                  302    403           403        200    200           200
POST materials:state                302    403           403        422    422           422
GET  materials:batches              302    403           403        200    200           200
GET  materials:batch                302    403           403        200    200           200
POST materials:hold_lot             302    403           403        422    422           422
POST materials:hold_batch           302    403           403        422    422           422
GET  materials:hold                 302    403           403        200    200           200
GET  materials:hold_csv             302    403           403        200    200           200
GET  materials:hold_xlsx            302    403           403        200    200           200
POST materials:release              302    403           403        422    403           422
GET  api:keys                       302    403           403        403    403           200
GET  api:new_key                    302    403           403        403    403           200
POST api:new_key                    302    403           403        403    403           422
GET  api:key                        302    403           403        403    403           200
POST api:key                        302    403           403        403    403           422
POST api:revoke                     302    403           403        403    403           302
GET  api:calendar                   200    200           200        200    200           200
GET  api:openapi                    200    200           200        200    200           200
GET  api:orders                     401    401           401        401    401           401
GET  api:order                      401    401           401        401    401           401
GET  api:shells                     401    401           401        401    401           401
GET  api:shell                      401    401           401        401    401           401
GET  api:story                      401    401           401        401    401           401
GET  api:sign_offs                  401    401           401        401    401           401
GET  api:figures                    401    401           401        401    401           401
GET  api:nothing                    401    401           401        401    401           401
GET  plan:home                      302    403           403        200    403           200
POST plan:make                      302    403           403        422    403           422
POST plan:stop                      302    403           403        302    403           302
GET  plan:picture                   302    200           200        200    200           200
GET  plan:picture_pdf               302    422           422        422    422           422
GET  plan:work_lists                302    200           200        200    200           200
GET  plan:work_list                 302    200           200        200    200           200
GET  plan:work_list_pdf             302    422           422        422    422           422
GET  plan:what_if                   302    403           403        200    403           200
POST plan:weight                    302    403           403        302    403           302
GET  requests:list                  302    403           403        200    200           200
GET  requests:file                  302    403           403        200    200           200
GET  requests:causes                302    403           403        200    200           200
GET  requests:find                  302    403           403        422    422           422
GET  requests:drum                  302    403           403        200    200           200
POST requests:drum                  302    403           403        422    422           422
GET  requests:request               302    403           403        200    200           200
GET  requests:note                  302    403           403        422    422           422
POST requests:change                302    403           403        422    422           422
POST requests:pick                  302    403           403        422    422           422
POST requests:send                  302    403           403        409    409           409
POST requests:answer                302    403           403        422    422           422
POST requests:reopen                302    403           403        422    422           422
POST requests:forget                302    403           403        409    409           409
GET  requests:companion             302    403           403        200    200           200
POST requests:companion             302    403           403        422    422           422
GET  exports:page                   302    403           403        200    200           200
GET  exports:file                   302    403           403        200    200           200
GET  hours:page                     302    403           403        200    403           200
GET  hours:person                   302    403           403        200    403           200
POST hours:away_today               302    403           403        302    403           302
POST hours:add                      302    403           403        422    403           422
GET  hours:change                   302    403           403        200    403           200
POST hours:change                   302    403           403        422    403           422
POST hours:remove                   302    403           403        409    403           409
GET  cartons:list                   302    200           200        200    200           200
GET  cartons:order                  302    200           200        200    200           200
GET  cartons:packing_list           302    422           422        422    422           422
GET  cartons:labels                 302    422           422        422    422           422
GET  cartons:label                  302    422           422        422    422           422
POST cartons:close                  302    422           422        422    403           403
POST cartons:open                   302    422           422        422    403           403
GET  people:list                    302    403           403        200    403           200
POST people:let_try                 302    403           403        302    403           302
GET  people:new                     302    403           403        200    403           200
POST people:new                     302    403           403        422    403           422
GET  people:shop                    302    403           403        200    403           200
POST people:shop                    302    403           403        403    403           422
GET  people:person                  302    403           403        200    403           200
POST people:person                  302    403           403        422    403           422
POST people:pin                     302    403           403        422    403           422
POST people:password                302    403           403        422    403           422
POST people:unlock                  302    403           403        302    403           302
GET  tablets:list                   302    403           403        200    403           200
GET  tablets:new                    302    403           403        200    403           200
POST tablets:new                    302    403           403        422    403           422
POST tablets:here                   302    403           403        422    403           422
GET  tablets:tablet                 302    403           403        200    403           200
POST tablets:tablet                 302    403           403        422    403           422
POST tablets:unlock                 302    403           403        302    403           302
POST tablets:revoke                 302    403           403        302    403           302
GET  health:live                    200    200           200        200    200           200
GET  health:ready                   200    200           200        200    200           200
GET  scan:scan                      302    302           302        302    302           302
GET  scan:shell                     302    302           302        302    302           302
POST card:print                     302    403           200        200    200           200
GET  card:public                    200    200           200        200    200           200
"""

# At a tablet only the PIN counts. Nobody gets past it who signs no steps, so "office" is a worker who moved there; at
# the stranger's nobody is signed in. A browser that is no tablet of the shop gets 403 for all of it.
TABLET = """
                               stranger worker final_checker supervisor office administrator
GET  floor:stations                 200    200           200        200    200           200
GET  floor:tablet_worker            200    200           200        200    200           200
GET  floor:enrol                    200    200           200        200    200           200
POST floor:enrol                    302    302           302        302    302           302
GET  floor:sign_in                  200    200           200        200    200           200
GET  floor:enter_pin                200    200           200        200    200           200
POST floor:enter_pin                422    422           422        422    422           422
GET  floor:rack                     302    200           200        200    302           302
GET  floor:rack_sign                302    302           302        302    302           302
POST floor:rack_sign                302    422           422        422    302           302
GET  floor:photo                    302    404           404        404    302           302
GET  floor:room                     302    200           200        200    302           302
POST floor:room                     302    422           422        422    302           302
POST floor:sign_out                 302    302           302        302    302           302
GET  floor:queue                    302    200           200        200    302           302
GET  floor:step                     302    200           200        200    302           302
GET  floor:bags                     302    200           200        200    302           302
POST floor:bags                     302    422           422        422    302           302
GET  floor:bag_label                302    409           409        409    302           302
GET  floor:made_here                302    200           200        200    302           302
POST floor:sign_made_here           302    422           422        422    302           302
GET  floor:glue                     302    200           200        200    302           302
POST floor:mix                      302    422           422        422    302           302
POST floor:used_up                  302    302           302        302    302           302
POST floor:sign                     302    422           422        422    302           302
POST floor:start                    302    422           422        422    302           302
POST floor:pause                    302    422           422        422    302           302
POST floor:problem                  302    422           422        422    302           302
POST floor:withdraw                 302    422           422        422    302           302
POST floor:settle                   302    422           422        422    302           302
POST floor:rework                   302    422           422        422    302           302
POST floor:thickness                302    422           422        422    302           302
"""
# What a browser that is no tablet gets all the same: the page to become one, and a script that says nothing.
NOT_A_TABLET = {("GET", "floor:enrol"): 200, ("POST", "floor:enrol"): 422, ("GET", "floor:tablet_worker"): 200}
# These answer a stranger with 302 for another reason than to sign in.
NOT_TO_SIGN_IN = {"signin:out", "scan:scan", "scan:shell"}

Row = tuple[str, str, dict[str, int]]


def rows(table: str) -> list[Row]:
    head, *lines = [line.split() for line in table.strip().splitlines()]
    return [(method, name, dict(zip(head, map(int, answers), strict=True))) for method, name, *answers in lines]


def names(resolver: URLResolver, namespace: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from names(pattern, f"{pattern.namespace}:" if pattern.namespace else namespace)
        else:
            yield f"{namespace}{pattern.name}", pattern


EVERY_ROW = rows(DESK) + rows(TABLET)
ADDRESSES = dict(names(get_resolver()))


SCREENS = list(dict.fromkeys(name.partition(":")[0] for _, name, _ in rows(DESK)))


@pytest.fixture
def things(shop: SmallShop) -> dict[str, Any]:
    """What stands in an address, by the name it has there. K-1 is in work, K-2 a draft."""
    made, checked = shop.released(quantity=2)
    shop.order("K-2")
    sign_through(shop, checked, 7)
    CheckPoint.objects.create(code="seam", station=shop.stations["cut"], text="Seams closed")
    lot = MaterialLot.objects.create(code="P-1", kind="plate", name="Birch 3.0", received_on=date(2026, 10, 1))
    batch = GlueBatch.objects.create(
        code="G-261102-1",
        glue=Glue.objects.get(),
        mixed_by=shop.worker,
        mixed_at=shop.clock,
        temperature_c=20,
        pot_life_min=180,
        use_until=shop.clock,
    )
    hold = hold_glue_batch(batch=batch, reason="too old", person=shop.supervisor, stamp=shop.stamp(shop.supervisor))
    tablet = make_tablet(Client(), name="Elsewhere", stations=["press"])
    ruler = Person.objects.create(username="keys", name="Keys", role=Role.ADMINISTRATOR)
    key, secret = make_key(name="calendar", opens=KeyOpens.CALENDAR, by=ruler, at=timezone.now())
    asked = take_request(
        serial=made.serial, kind="question", said="how thick", person=shop.supervisor, stamp=shop.stamp(shop.supervisor)
    )
    return {
        "asked": asked.number,
        "key": key.pk,
        "secret": secret,
        "rest": "elsewhere",
        "tablet": tablet.pk,
        "lugs": "lugs",
        "closures": "closures",
        "closure": Closure.objects.create(first=date(2026, 12, 24), last=date(2027, 1, 1), reason="winter").pk,
        "made": _made_here(shop).pk,
        "defect": Defect.objects.create(code="D1", name="dent").pk,
        "lot": lot.pk,
        "batch": batch.pk,
        "hold": hold.pk,
        "print": TravelerPrint.objects.create(paper="A4", copies={}, printed_at=timezone.now()).pk,
        "plan": CuttingJob.objects.create(asked={}, progress={}, started_at=shop.clock, heard_at=shop.clock).pk,
        "made_plan": Plan.objects.create(made_at=shop.clock, heard_at=shop.clock).pk,
        "press": "press",
        "serial": made.serial,
        "checked": checked.serial,
        "carton": 1,
        "token": card_token(checked.serial),
        "number": "K-2",
        "pk": shop.checker.pk,
        "line": ProductLine.objects.get().pk,
        "kind": "lines",
        "csv": "csv",
        "orders": "orders",
        "code": "cut",
        "who": "worker",
        "steps": "5dr7w",
        "check": "seam",
        "position": 1,
        "place": 1,
        "role": "snare",
        "finish_kind": "lacquer",
    }


def _made_here(shop: SmallShop) -> MadeLot:
    route = LotRoute.objects.create(code="lugs", name="lug, prepared", kind="hardware")
    LotRouteStep.objects.create(route=route, position=1, title="Clean", station=shop.stations["press"])
    return begin_lot(route=route, quantity=5, person=shop.supervisor, stamp=shop.stamp(shop.supervisor))


def address(name: str, things: dict[str, Any]) -> str:
    other = {
        "certificate:pdf": {"serial": "checked"},
        "card:public": {"serial": "checked"},
        "card:print": {"serial": "checked"},
    }
    other |= {"figures:check": {"code": "check"}, "figures:check_file": {"code": "check", "kind": "csv"}}
    other |= {name: {"kind": "csv"} for name in ("figures:yields_file", "figures:findings_file")}
    other |= {"made_here:route": {"code": "lugs"}, "floor:sign_made_here": {"pk": "made", "code": "press"}}
    other |= {"exports:file": {"what": "orders", "kind": "csv"}}
    other |= {"catalog:defect": {"pk": "defect"}}
    other |= {f"hours:{name}": {"kind": "closures", "pk": "closure"} for name in ("add", "change", "remove")}
    other |= {name: {"pk": "key"} for name in ("api:key", "api:revoke")}
    other |= {"catalog:check": {"code": "check"}, "catalog:recipe": {"pk": "line"}}
    other |= {name: {"pk": "lot"} for name in ("materials:lot", "materials:state", "materials:hold_lot")}
    other |= {f"materials:{name}": {"pk": "hold"} for name in ("hold", "hold_csv", "hold_xlsx", "release")}
    other |= {"materials:hold_batch": {"pk": "batch"}}
    other |= {"materials:batch": {"pk": "batch"}, "floor:used_up": {"pk": "batch", "code": "press"}}
    other |= {name: {"code": "press"} for name in ("floor:glue", "floor:mix", "floor:made_here")}
    other |= {f"tablets:{name}": {"pk": "tablet"} for name in ("tablet", "unlock", "revoke")}
    other |= {name: {"number": "asked"} for name in ADDRESSES if name.startswith("requests:")}
    other |= {"requests:file": {"kind": "csv"}, "requests:drum": {"serial": "serial"}}
    other |= {"plan:stop": {"pk": "made_plan"}, "plan:weight": {"number": "number"}}
    other |= {name: {"pk": "print"} for name in ("travelers:print", "travelers:file")}
    other |= {name: {"pk": "plan"} for name in ("cutting:job", "cutting:stop")}
    wanted = ADDRESSES[name].pattern.converters
    return reverse(name, kwargs={part: things[other.get(name, {}).get(part, part)] for part in wanted})


def ask(client: Client, method: str, where: str) -> Any:
    """The answer; what it changed is undone."""
    with transaction.atomic():
        answer = getattr(client, method.lower())(where)
        transaction.set_rollback(True)
    return answer


def leads_to_sign_in(answer: Any) -> bool:
    return answer.status_code == 302 and "/sign-in/" in answer["Location"]


@pytest.mark.parametrize("screen", SCREENS)
def test_a_screen_answers_each_role_at_a_desk_as_the_table_says(
    shop: SmallShop, things: dict[str, Any], screen: str
) -> None:
    desks = {role: Client() for role in Role}
    for role, desk in desks.items():
        who = Person.objects.filter(role=role).first()
        desk.force_login(who or Person.objects.create(username=role.value, name=role.label, role=role))
    expected, found = {}, {}
    for method, name, answers in rows(DESK):
        if name.partition(":")[0] != screen:
            continue
        where = address(name, things)
        stranger = ask(Client(), method, where)
        assert leads_to_sign_in(stranger) == (stranger.status_code == 302 and name not in NOT_TO_SIGN_IN), name
        expected[method, name] = answers
        found[method, name] = {"stranger": stranger.status_code} | {
            role.value: ask(desk, method, where).status_code for role, desk in desks.items()
        }
    assert found == expected


@pytest.mark.parametrize("role", list(Role))
def test_the_floor_answers_each_role_at_a_tablet_as_the_table_says(
    shop: SmallShop, things: dict[str, Any], clock: Clock, role: Role
) -> None:
    tablet = Tablet("cut")
    who = Person.objects.filter(role=role).exclude(pin="").first() or shop.worker
    assert tablet.sign_in(who).status_code == 302
    Person.objects.filter(pk=who.pk).update(role=role)
    kept = tablet.client.cookies.output()
    for method, name, expected in rows(TABLET):
        answer = ask(tablet.client, method, address(name, things))
        assert answer.status_code == expected[role.value], f"{method} {name}"
        tablet.client.cookies.load(kept.replace("Set-Cookie: ", ""))  # signing out or being sent away undone


def test_the_floor_answers_strangers_as_the_table_says(shop: SmallShop, things: dict[str, Any], clock: Clock) -> None:
    tablet = Tablet("cut")
    for method, name, expected in rows(TABLET):
        assert ask(tablet.client, method, address(name, things)).status_code == expected["stranger"], f"{method} {name}"


def test_a_browser_that_is_no_tablet_sees_nothing_of_the_floor(
    shop: SmallShop, things: dict[str, Any], supervisor: Client
) -> None:
    for method, name, _ in rows(TABLET):
        for browser in (Client(), supervisor):
            answer = ask(browser, method, address(name, things))
            assert answer.status_code == NOT_A_TABLET.get((method, name), 403), f"{method} {name}"
            if answer.status_code == 403:
                assert "This device is not a tablet of the shop" in answer.content.decode(), f"{method} {name}"
                assert things["serial"] not in answer.content.decode()


def test_no_address_is_missing_from_the_tables() -> None:
    assert {name for _, name, _ in EVERY_ROW} == set(ADDRESSES)


def test_a_method_that_is_not_in_the_tables_is_refused(shop: SmallShop, things: dict[str, Any], clock: Clock) -> None:
    ruler = Client()
    ruler.force_login(Person.objects.create(username="ada", name="Ada", role=Role.ADMINISTRATOR))
    in_table = {(method, name) for method, name, _ in EVERY_ROW}
    for name in ADDRESSES:
        where = address(name, things)
        # The sign-in sends whoever is signed in on to the start, whatever was asked.
        client = Client() if name == "signin:office" else ruler
        for method in ("GET", "POST", "PUT", "PATCH", "DELETE"):
            if (method, name) not in in_table:
                assert ask(client, method, where).status_code == 405, f"{method} {where}"


def test_nothing_is_sent_without_the_forms_own_secret(shop: SmallShop, things: dict[str, Any]) -> None:
    """Another page in the same browser can send no form here (cross-site request forgery)."""
    careful = Client(enforce_csrf_checks=True)
    careful.force_login(shop.supervisor)
    for method, name, _ in EVERY_ROW:
        if method == "POST":
            assert careful.post(address(name, things)).status_code == 403, name
    assert Shell.objects.count() == 2


def test_strangers_leave_no_trace(shop: SmallShop, things: dict[str, Any]) -> None:
    before = {shell.pk: shell.chain_head for shell in Shell.objects.all()}
    for method, name, _ in EVERY_ROW:
        getattr(Client(), method.lower())(address(name, things))
    assert {shell.pk: shell.chain_head for shell in Shell.objects.all()} == before
