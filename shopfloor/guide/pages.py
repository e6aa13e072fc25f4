"""What the guide says: one page for each kind of work. Names of buttons stand in “quotes”, as they stand on the screens;
tests/shopfloor/test_guide.py finds each of them in the templates, so that none is named that is gone."""

from __future__ import annotations

from dataclasses import dataclass

SAFETY = (
    "Cautions stand on each step: read them first. Local codes, the makers' data sheets and licensed practice come before "
    "anything a screen says. Not sure? Stop and ask."
)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. ``picture`` is a file in static/guide, ``shows`` says what is on it to who can't see it."""

    title: str
    words: str
    picture: str = ""
    shows: str = ""


@dataclass(frozen=True, slots=True)
class Guide:
    key: str
    title: str
    lead: str
    steps: tuple[Step, ...]
    wrong: tuple[tuple[str, str], ...]  # what happens, what to do


WORKER = Guide(
    "worker",
    "Worker: at a station",
    "Each drum is a ring, one part for each step. The tablet shows what waits at your station. You sign each step by name.",
    (
        Step(
            "Say who you are",
            "Tap your name, type your PIN, press “Sign in”. Your name stands at the top until you press “Change worker”.",
            "worker-who",
            "The names of the people who may sign at a station, each a large button.",
        ),
        Step(
            "Take the first row under “Now”",
            "It comes first: by the plan, or without one because it is due first. Or scan the paper of the shell. What is under "
            "“Drying or curing” waits until the time that it shows.",
            "worker-queue",
            "The queue: rows under Now with a ring, the drum, its serial number and the day it is due.",
        ),
        Step(
            "Read the caution, then the numbers",
            "They are for this shell only. Where there is “Begin”, press it when you start, and “Pause” when you stop.",
            "worker-step",
            "A step: its title and ring, the caution, and the large numbers of this shell.",
        ),
        Step(
            "Answer and sign",
            "Tap yes or no, type each reading, press “Sign”. A wrong tap? Press “Take it back” in the queue soon after.",
            "worker-sign",
            "The checks of a step with yes and no, and the button that signs it by name.",
        ),
    ),
    (
        (
            "The drum is not right",
            "Press “Something is wrong”, say what, and put it on hold. Leave it where it is. A supervisor decides.",
        ),
        ("A reading is out of limits", "Measure again. If it stays so, press the red button: the shell is held."),
        ("“No link”", "Work on. What you sign is kept on the tablet and sent later. The bar at the top lists it."),
        ("The tablets are down", "Sign on the paper of the shell. A supervisor enters it later."),
    ),
)

CHECKER = Guide(
    "checker",
    "Final checker",
    "Your name goes on the card in the carton. You answer for the drum, so nobody checks a drum that they assembled.",
    (
        Step(
            "Open the drum",
            "Sign in at the final check. Take the first row under “Now”, or scan the paper of the drum.",
            "checker-step",
            "The step of the final check: the drum, its serial number, and what it should be.",
        ),
        Step(
            "Look at all of it and answer every check",
            "Answer only what you looked at yourself. Type each reading as you read it. Photos go with “Add a note or photos”.",
            "checker-checks",
            "The checks of the final check, each with its answer.",
        ),
        Step(
            "Type your PIN again and sign",
            "This signature is yours alone. The tablet asks for the PIN, so that nobody signs in your name.",
            "checker-sign",
            "The field for the PIN and the button that signs the final check.",
        ),
        Step("Print the card", "Press “Print the card” and put it into the carton. The card names the drum and you."),
    ),
    (
        (
            "Something is not right",
            "Press “Something is wrong”, choose what, take a photo, put it on hold. A drum is right, or it is held.",
        ),
        ("The tablet refuses you", "You assembled it, or you are not qualified today. Somebody else checks it."),
        (
            "It comes back from rework",
            "All checks are asked again. Answer them anew; the first answers stay on record.",
        ),
        ("“No link”", "The final check waits: your PIN can't be checked without it."),
        (
            "You signed by mistake",
            "Press “Take the signature back” on the same step. Later a supervisor does it, with a reason.",
        ),
    ),
)

SUPERVISOR = Guide(
    "supervisor",
    "Supervisor",
    "You see where everything is, decide what is held, plan the days, and say who may sign where.",
    (
        Step(
            "Look at the board",
            "“Board” counts every station. What is on hold or late says so first. “By kit” shows what holds a kit up.",
            "supervisor-board",
            "The board: counts of the shop, and a column for each station.",
        ),
        Step(
            "Decide what is on hold",
            "Open the drum. “Release from hold”, “Rework”, “Use as is”, “Regrade” or “Scrap and replace”: your name and your "
            "reason stay on its record.",
            "supervisor-decide",
            "A drum on hold: what was found, and the decisions to choose from.",
        ),
        Step(
            "Make the plan",
            "“Plan”, then “Make the plan”. Tablets and work lists follow it. “What if” shows what moves when somebody is away.",
            "supervisor-plan",
            "The plan: how many kits are late or at risk, and when each is ready.",
        ),
        Step(
            "Say who may sign",
            "“People”: tick the stations under “May sign at”, then “Set the PIN”: its owner types it.",
            "supervisor-people",
            "The stations that a person may sign at, with the day from and until.",
        ),
    ),
    (
        (
            "A PIN is forgotten or locked",
            "“People”, the person: “Unlock”, or “Set the PIN”. Its owner types the new one.",
        ),
        ("A tablet is lost", "“Tablets”: “Revoke”. It shows nothing from its next request on."),
        ("The tablets were down", "“Board”, then “Enter from paper”: by whom, and when it was signed."),
        ("A lot is bad", "“Materials”, the lot, state “on hold”, with the reason: every drum it is in is held."),
    ),
)

OFFICE = Guide(
    "office",
    "Office",
    "Orders come in, leave as cartons, and customers ask about their drums. The serial number answers.",
    (
        Step(
            "Bring orders in",
            "“Orders”, then “Import an order book” or “Enter an order”. Look at the preview. Both begin as drafts; a supervisor "
            "releases them.",
            "office-orders",
            "The list of orders with their states and due days.",
        ),
        Step(
            "See how far an order is",
            "Open it: one ring for each drum, with the step it is at. Before you promise a day: “Enter an order”, then “What can "
            "we promise?”",
            "office-order",
            "An order: the rings of its drums side by side, and their steps in a list.",
        ),
        Step(
            "Send it",
            "“Packing”, then “Cartons” says what each carton waits for. “Packing list” prints the paper. A supervisor presses “Mark "
            "as shipped”.",
        ),
        Step(
            "Answer a customer",
            "“Requests”: type the serial number from the card. What the drum is, what was in its bags and who checked it stands there.",
            "office-request",
            "The page of requests: a field for the serial number, and what waits for an answer.",
        ),
    ),
    (
        (
            "A row of an order book is refused",
            "The preview names the row and why. Mend the file and import it again; nothing is taken twice.",
        ),
        ("A released order changes", "Ask a supervisor before anything else is made for it."),
        ("An order is late", "“Trace” or the order says at which step it is. Ask a supervisor for the plan."),
        ("A supplier calls a lot back", "“Materials”, the lot, state “on hold”, with the reason: its drums are held."),
    ),
)

GUIDES = {guide.key: guide for guide in (WORKER, CHECKER, SUPERVISOR, OFFICE)}
PICTURES = [step.picture for guide in GUIDES.values() for step in guide.steps if step.picture]
