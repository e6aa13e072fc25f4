"""What the guide says to who works at a tablet. Names of buttons stand in “quotes”, as they stand on the screens;
tests/shopfloor/test_guide.py finds each of them in the templates, so that none is named that is gone."""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

from shopfloor.guide.leaf import Guide, Step

_("Sign")  # the button says “Sign as” and a name

WORKER = Guide(
    "worker",
    _("Worker: at a station"),
    _(
        "Each drum is a ring, one part for each step. The tablet shows what waits at your station. You sign each step by name."
    ),
    (
        Step(
            _("Say who you are"),
            _(
                "Tap your name, type your PIN, press “Sign in”. Your name stands at the top until you press “Change worker”."
            ),
            "worker-who",
            _("The names of the people who may sign at a station, each a large button."),
        ),
        Step(
            _("Take the first row under “Now”"),
            _(
                "It comes first: by the plan, or without one because it is due first. Or scan the paper of the shell. What is under "
                "“Drying or curing” waits until the time that it shows."
            ),
            "worker-queue",
            _("The queue: rows under Now with a ring, the drum, its serial number and the day it is due."),
        ),
        Step(
            _("Read the caution, then the numbers"),
            _(
                "They are for this shell only. Where there is “Begin”, press it when you start, and “Pause” when you stop."
            ),
            "worker-step",
            _("A step: its title and ring, the caution, and the large numbers of this shell."),
        ),
        Step(
            _("Answer and sign"),
            _(
                "Tap yes or no, type each reading, press “Sign”. A wrong tap? Press “Take it back” in the queue soon after."
            ),
            "worker-sign",
            _("The checks of a step with yes and no, and the button that signs it by name."),
        ),
    ),
    (
        (
            _("The drum is not right"),
            _("Press “Something is wrong”, say what, and put it on hold. Leave it where it is. A supervisor decides."),
        ),
        (_("A reading is out of limits"), _("Measure again. If it stays so, press the red button: the shell is held.")),
        (
            _("“No link”"),
            _("Work on. What you sign is kept on the tablet and sent later. The bar at the top lists it."),
        ),
        (_("The tablets are down"), _("Sign on the paper of the shell. A supervisor enters it later.")),
    ),
)

CHECKER = Guide(
    "checker",
    _("Final checker"),
    _(
        "Your name goes on the card in the carton. You answer for the drum, so nobody checks a drum that they assembled."
    ),
    (
        Step(
            _("Open the drum"),
            _("Sign in at the final check. Take the first row under “Now”, or scan the paper of the drum."),
            "checker-step",
            _("The step of the final check: the drum, its serial number, and what it should be."),
        ),
        Step(
            _("Look at all of it and answer every check"),
            _(
                "Answer only what you looked at yourself. Type each reading as you read it. Photos go with “Add a note or photos”."
            ),
            "checker-checks",
            _("The checks of the final check, each with its answer."),
        ),
        Step(
            _("Type your PIN again and sign"),
            _("This signature is yours alone. The tablet asks for the PIN, so that nobody signs in your name."),
            "checker-sign",
            _("The field for the PIN and the button that signs the final check."),
        ),
        Step(
            _("Print the card"),
            _("Press “Print the card” and put it into the carton. The card names the drum and you."),
        ),
    ),
    (
        (
            _("Something is not right"),
            _("Press “Something is wrong”, choose what, take a photo, put it on hold. A drum is right, or it is held."),
        ),
        (_("The tablet refuses you"), _("You assembled it, or you are not qualified today. Somebody else checks it.")),
        (
            _("It comes back from rework"),
            _("All checks are asked again. Answer them anew; the first answers stay on record."),
        ),
        (_("“No link”"), _("The final check waits: your PIN can't be checked without it.")),
        (
            _("You signed by mistake"),
            _("Press “Take the signature back” on the same step. Later a supervisor does it, with a reason."),
        ),
    ),
)
