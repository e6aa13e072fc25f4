"""What each role may do: the one table. docs/roles.md shows it to people, tests hold both together."""

from __future__ import annotations

from enum import StrEnum

from django.utils.translation import gettext as _

from quality.errors import NotQualified
from quality.models import Person, Role


class Right(StrEnum):
    SIGN_STEPS = "sign steps on the floor"
    SIGN_FINAL_CHECK = "sign the final check"
    REPORT_PROBLEM = "report a problem (holds the shell)"
    SETTLE_PROBLEM = "release a shell from hold"
    WITHDRAW_ANY = "withdraw any signature, with a reason"
    ENTER_LATE = "enter signatures from paper"
    SEE_BOARD = "see the board"
    SEE_TRACE = "look up a serial number and its story"
    SEE_ORDERS = "see orders"
    EDIT_ORDERS = "enter and import orders"
    RELEASE_ORDERS = "release orders and re-issue specs"
    PRINT_TRAVELERS = "print travelers"
    PRINT_CARDS = "print cards"
    SEE_RECIPES = "see the recipe book"
    EDIT_RECIPES = "edit the recipe book, stations, routes and check points"
    MANAGE_MATERIALS = "receive material lots and change their state"
    FILL_BAGS = "fill and check bags, close cartons"
    ANSWER_REQUESTS = "take and answer customers' requests"
    SEE_FIGURES = "see the figures"
    PLAN_WORK = "plan the work, and set hours, absences and moulds"
    EDIT_PEOPLE = "edit people, PINs and qualifications"
    MANAGE_TABLETS = "add, change, unlock and revoke tablets"
    MANAGE_API_KEYS = "make and revoke keys for the shop's own scripts"
    EDIT_SHOP = "edit the shop's settings and who is an administrator"


_EVERYONE = frozenset({Right.SEE_BOARD, Right.SEE_TRACE})
_WORKER = _EVERYONE | {Right.SIGN_STEPS, Right.REPORT_PROBLEM, Right.FILL_BAGS}

RIGHTS: dict[Role, frozenset[Right]] = {
    Role.WORKER: _WORKER,
    Role.FINAL_CHECKER: _WORKER | {Right.SIGN_FINAL_CHECK, Right.PRINT_CARDS},
    Role.SUPERVISOR: frozenset(Right) - {Right.EDIT_SHOP, Right.MANAGE_API_KEYS},
    Role.OFFICE: _EVERYONE
    | {
        Right.SEE_ORDERS,
        Right.EDIT_ORDERS,
        Right.SEE_RECIPES,
        Right.PRINT_CARDS,
        Right.MANAGE_MATERIALS,
        Right.ANSWER_REQUESTS,
        Right.SEE_FIGURES,
    },
    Role.ADMINISTRATOR: frozenset(Right)
    - {Right.SIGN_STEPS, Right.SIGN_FINAL_CHECK, Right.ENTER_LATE, Right.FILL_BAGS},
}


def has_right(person: Person, right: Right) -> bool:
    return person.is_active and right in RIGHTS[Role(person.role)]


# Whom to ask for what one may not do; for everything else a supervisor.
_ASK = {
    Right.ANSWER_REQUESTS: "the office",
    Right.EDIT_ORDERS: "the office",
    Right.MANAGE_API_KEYS: "an administrator",
}


def require_right(person: Person, right: Right, *, ask: str = "") -> None:
    """Refuse whoever may not do this, and say whom to ask."""
    if not has_right(person, right):
        said = _("{name} may not {right}; ask {whom}.")
        raise NotQualified(
            "no_right",
            said.format(name=person.name, right=_(right.value), whom=_(ask or _ASK.get(right, "a supervisor"))),
        )
