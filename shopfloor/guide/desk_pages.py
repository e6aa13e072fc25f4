"""What the guide says to who works at a desk: in English, as the office is. Names of buttons stand in “quotes” here too."""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

from shopfloor.guide.leaf import Guide, Step

SUPERVISOR = Guide(
    "supervisor",
    _("Supervisor"),
    _("You see where everything is, decide what is held, plan the days, and say who may sign where."),
    (
        Step(
            _("Look at the board"),
            _(
                "“Board” counts every station. What is on hold or late says so first. “By kit” shows what holds a kit up."
            ),
            "supervisor-board",
            _("The board: counts of the shop, and a column for each station."),
        ),
        Step(
            _("Decide what is on hold"),
            _(
                "Open the drum. “Release from hold”, “Rework”, “Use as is”, “Regrade” or “Scrap and replace”: your name and your "
                "reason stay on its record."
            ),
            "supervisor-decide",
            _("A drum on hold: what was found, and the decisions to choose from."),
        ),
        Step(
            _("Make the plan"),
            _(
                "“Plan”, then “Make the plan”. Tablets and work lists follow it. “What if” shows what moves when somebody is away."
            ),
            "supervisor-plan",
            _("The plan: how many kits are late or at risk, and when each is ready."),
        ),
        Step(
            _("Say who may sign"),
            _("“People”: tick the stations under “May sign at”, then “Set the PIN”: its owner types it."),
            "supervisor-people",
            _("The stations that a person may sign at, with the day from and until."),
        ),
    ),
    (
        (
            _("A PIN is forgotten or locked"),
            _("“People”, the person: “Unlock”, or “Set the PIN”. Its owner types the new one."),
        ),
        (_("A tablet is lost"), _("“Tablets”: “Revoke”. It shows nothing from its next request on.")),
        (_("The tablets were down"), _("“Board”, then “Enter from paper”: by whom, and when it was signed.")),
        (_("A lot is bad"), _("“Materials”, the lot, state “on hold”, with the reason: every drum it is in is held.")),
    ),
    is_translated=False,
)

OFFICE = Guide(
    "office",
    _("Office"),
    _("Orders come in, leave as cartons, and customers ask about their drums. The serial number answers."),
    (
        Step(
            _("Bring orders in"),
            _(
                "“Orders”, then “Import an order book” or “Enter an order”. Look at the preview. Both begin as drafts; a supervisor "
                "releases them."
            ),
            "office-orders",
            _("The list of orders with their states and due days."),
        ),
        Step(
            _("See how far an order is"),
            _(
                "Open it: one ring for each drum, with the step it is at. Before you promise a day: “Enter an order”, then “What can "
                "we promise?”"
            ),
            "office-order",
            _("An order: the rings of its drums side by side, and their steps in a list."),
        ),
        Step(
            _("Send it"),
            _(
                "“Packing”, then “Cartons” says what each carton waits for. “Packing list” prints the paper. A supervisor presses “Mark "
                "as shipped”."
            ),
        ),
        Step(
            _("Answer a customer"),
            _(
                "“Requests”: type the serial number from the card. What the drum is, what was in its bags and who checked it stands there."
            ),
            "office-request",
            _("The page of requests: a field for the serial number, and what waits for an answer."),
        ),
    ),
    (
        (
            _("A row of an order book is refused"),
            _("The preview names the row and why. Mend the file and import it again; nothing is taken twice."),
        ),
        (_("A released order changes"), _("Ask a supervisor before anything else is made for it.")),
        (_("An order is late"), _("“Trace” or the order says at which step it is. Ask a supervisor for the plan.")),
        (
            _("A supplier calls a lot back"),
            _("“Materials”, the lot, state “on hold”, with the reason: its drums are held."),
        ),
    ),
    is_translated=False,
)
