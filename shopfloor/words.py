"""The words on the screens and papers, each with what it means here. The one place from which they are explained.

The page of words shows all of them; screens that explain a figure take its sentence from here (``{% meaning %}``).
"""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

from quality.models import BagState, Disposition, LotState, RequestState, Severity
from routing.models import DwellKind, OperationState, OrderState, PlanState, ShellState, StationKind

# (state as the ring and the chips know it, word, meaning)
OF_STEPS = [
    ("waiting", OperationState.WAITING.label, _("An earlier step is not signed yet.")),
    ("ready", OperationState.READY.label, _("Somebody can begin now.")),
    ("in_work", OperationState.IN_WORK.label, _("Somebody has begun; the board says who.")),
    (
        "drying",
        _("drying, curing or resting"),
        _("The step is signed, but the glue, the lacquer or the wood needs time before the next one."),
    ),
    ("done", OperationState.DONE.label, _("Signed by name, with the readings that were asked for.")),
    (
        "on_hold",
        OperationState.ON_HOLD.label,
        _("A problem was found. The drum stays where it is until it is settled."),
    ),
    ("skipped", OperationState.SKIPPED.label, _("This drum does not need the step.")),
]

OF_SHELLS = [
    (ShellState.PLANNED, "Released; its first step has not begun."),
    (ShellState.IN_PRODUCTION, "On its way from station to station."),
    (ShellState.ON_HOLD, "Held because of a problem."),
    (ShellState.FINISHED, "Passed its final check; not packed yet."),
    (ShellState.PACKED, "In its carton, with its card."),
    (ShellState.SCRAPPED, "Could not be saved; a new shell takes its place. What was signed stays on record."),
    (ShellState.REMADE, "Scrapped, and another shell was made in its place; each names the other."),
]

OF_ORDERS = [
    (OrderState.DRAFT, "Can still be changed or deleted; nothing is made."),
    (OrderState.RELEASED, "Its shells have serial numbers, steps and a frozen spec."),
    (OrderState.IN_PRODUCTION, "At least one step of one shell has begun."),
    (OrderState.COMPLETE, "Every drum is packed."),
    (OrderState.SHIPPED, "Left the shop."),
]

OF_STATIONS = [
    (StationKind.CUT, "Plates are cut to the lengths and the width of this shell, from the measured thickness."),
    (StationKind.PRESS, "The plates are glued in their mould and pressed; the glue's clocks run."),
    (StationKind.TRIM, "The pressed shell is cut to its height, both ends square."),
    (StationKind.EDGE, "Bearing edges are cut, and the snare bed on a snare drum."),
    (StationKind.SEAL, "First coats that close the wood. Each dries before the next."),
    (StationKind.SAND, "The coat is sanded level, so that the next one holds."),
    (StationKind.FINISH, "Colour, lacquer or oil, coat by coat."),
    (StationKind.WRAP, "A covering sheet is glued round the shell."),
    (StationKind.DRILL, "Every hole by the hole map of this shell, from its datum."),
    (StationKind.ASSEMBLE, "Lugs, hoops, heads and what else the parts list names."),
    (StationKind.TUNE, "Heads are brought to the tones of the spec, lug by lug."),
    (StationKind.FINAL_CHECK, "Somebody who did not assemble the drum looks at all of it and answers for it."),
    (StationKind.PACK, "Into the carton of its kit, with its card and its bags."),
]

OF_DWELLS = [
    (DwellKind.CURE, "Glue, or a hard coat, sets. Not to be moved or loaded before."),
    (DwellKind.DRY, "A coat gives off what keeps it liquid. Not to be sanded or coated before."),
    (DwellKind.REST, "Wood comes to the room's moisture after the press, so that it moves before it is cut."),
]

OF_PROBLEMS = [
    (Disposition.RELEASED, "Nothing was wrong, or it was put right on the spot. The drum goes on."),
    (Disposition.REWORK, "Sent back to an earlier step. What was signed from there on is void and stays on record."),
    (Disposition.AS_IS, "Not as the spec says, and allowed all the same, by somebody who is named."),
    (Disposition.REGRADE, "Becomes another drum of the recipe book that it is good enough for."),
    (Disposition.SCRAP, "Can't be saved. Another shell with its own number takes its place."),
]

OF_DEFECTS = [
    (Severity.MINOR, "It is seen, but the drum does its work."),
    (Severity.MAJOR, "The drum does not do its work, or nobody would take it."),
    (Severity.CRITICAL, "It may fail while it is played and hurt somebody."),
]

OF_BAGS = [
    (BagState.FILLED, "Its parts left the shelf; nobody has checked it yet."),
    (BagState.CHECKED, "Counted or weighed, and right."),
    (BagState.OPENED, "Taken apart again, with a reason. It is filled anew."),
]

OF_LOTS = [
    (LotState.MAKING, "Made here, and not all of its steps are signed."),
    (LotState.RECEIVED, "Came in; nobody has opened it."),
    (LotState.OPEN, "In use."),
    (LotState.EMPTY, "Used up."),
    (LotState.HELD, "May not be used, and every drum it is in is held with it."),
]

OF_REQUESTS = [
    (RequestState.OPEN, "Nobody has picked its parts, or answered, yet."),
    (RequestState.PICKED, "Its parts lie ready to go."),
    (RequestState.SENT, "Left the house."),
    (RequestState.ANSWERED, "Closed without anything to send."),
]

OF_PLANS = [
    (PlanState.RUNNING, "A better plan is being looked for; the one by rule is in use meanwhile."),
    (PlanState.READY, "In use: work lists and tablets follow it."),
    (PlanState.STOPPED, "Somebody stopped the search; the best plan so far is in use."),
    (PlanState.FAILED, "The search broke off; the plan before is in use."),
]

# Figures by the name that stands on the page, without capitals.
OF_FIGURES = {
    "in process": "Shells that are released and neither packed nor scrapped.",
    "kits": "Orders with at least one such shell.",
    "on hold": "Shells with an open problem.",
    "late": "The due day is over and the kit is not packed; in a plan: it will be ready after its due day.",
    "at risk": "Ready in time by the plan, with less than a working day to spare.",
    "as of": "When these numbers were counted. The page counts again by itself.",
    "weighted lateness": "The hours by which kits are late by the plan, added up; those of a rush order count more.",
    "ready by plan": "When the last step of the kit ends if everything goes as planned.",
    "places": "How many shells a drying room takes, and how many stand in it.",
    "hours planned": "Work that the plan gives a station, beside the hours in which somebody is there for it.",
    "first pass yield": "Of the shells that had a step signed at a station in these days: those that were not sent back to "
    "it, nor scrapped, regraded or used as they are for what was found there.",
    "rolled throughput yield": "The product of the first pass yields: how large a part comes through without any rework.",
    "rework ratio": "Shells that were sent back in these days over shells on which anything was signed.",
    "scrap ratio": "Shells scrapped over shells packed or scrapped.",
    "lead time": "From release to the signature under packing.",
    "touch time": "Time between start and finish taps, without pauses, at stations where that is counted.",
    "median": "The one in the middle: half of all are below it, half above.",
    "finding": "One problem that somebody reported. A customer's request with a cause is one, too.",
    "part": "This count over all findings of these days.",
    "running": "This part and all above it, added up.",
    "control limits": "Three sigmas from the centre. Between them readings differ by chance alone.",
    "signal": "A point or a run of points that chance hardly explains. It says: look for a cause.",
    "sigma": "How far readings usually lie from their mean.",
    "cp": "The width of the limits over six sigmas, from one reading to the next.",
    "cpk": "As Cp, counted to the nearer limit. Smaller than Cp where the mean is off centre.",
    "pp": "The width of the limits over six sigmas of all readings.",
    "ppk": "As Pp, counted to the nearer limit.",
}

OF_THE_TRADE = [
    ("bag", "The small parts of a drum, counted or weighed, in one bag with a label."),
    (
        "batter side, resonant side",
        "The end that is struck, and the other one. On a snare drum the other is the snare side.",
    ),
    ("bearing edge", "The rim of the shell on which the head rests, cut to a profile."),
    ("campaign", "Shells that need the same mould or colour, done one after the other."),
    ("card", "Goes into the carton: drum, serial number, and the name of whoever signed the final check."),
    ("certificate", "What a finished drum was made to, what was measured, and who signed, on one sheet."),
    ("check point", "A question or a reading that a step asks for before it can be signed."),
    ("concession", "A leave to use a drum as it is, with the name of who gave it."),
    ("datum", "The line on the shell from which every hole is measured round: 0° of the hole map."),
    ("defect", "A kind of fault with a name, from the list in the recipe book."),
    ("dwell", "Time that must pass after a step: glue cures, lacquer dries, wood rests."),
    ("film", "What stays of a coat when it is dry. Thinner than the wet coat by what evaporates."),
    ("head", "The membrane. Its nominal diameter in inches names the drum; the shell is made a little smaller."),
    ("hole map", "The shell unrolled, with every hole by angle, arc and height."),
    ("hoop", "The ring that holds the head; its rods pull it over the edge."),
    ("kit", "The drums that belong together, ordered as one."),
    ("lay-up", "The plates of a shell from outside to inside, with the direction of their grain."),
    ("limits", "Between which two values a reading has to lie."),
    ("lot", "One delivery or one making of a material. Its code leads to every drum it is in."),
    ("lug", "The part on the shell into which a rod is screwed."),
    ("mould", "The ring inside which plates are pressed to a shell."),
    ("plate", "A sheet as bought or pressed flat: one veneer, or several glued crosswise."),
    ("ply, veneer", "One layer of wood. A plate may have several; both counts are always given."),
    ("pot life", "How long mixed glue can be used."),
    ("qualified", "Trained for a station, by whom and until when. Only then a step there can be signed."),
    ("rack", "Several shells that are worked on and signed together; each has a record of its own."),
    ("reading", "A measured value, as it was typed."),
    ("recall", "Finding every drum that has a lot, a person or a day in common."),
    (
        "record",
        "What was done to a shell, by whom and when, each entry chained to the one before. Nothing is taken out.",
    ),
    ("revision", "A later issue of a spec, a route or a check. The earlier ones are kept."),
    ("route", "The steps of a shell in their order."),
    ("rush order", "An order whose lateness counts more when a plan is made."),
    ("scarf", "A slanted seam: the two ends of a plate are planed to wedges that overlap."),
    ("seal", "One line a day that joins the records of all shells. Printed, it shows later that none was changed."),
    (
        "serial number",
        "Stays with the shell from release on. Its last character checks the others, so that a mistyped one is noticed.",
    ),
    ("shell", "The wooden ring of a drum, and the drum while it is being made."),
    ("shortage", "A part of which the shelf has less than released orders need."),
    ("signature", "A name under a step, with the time and the tablet."),
    ("snare bed", "The shallow dip in the snare-side edge on which the snare wires lie."),
    (
        "spec",
        "Every number of a drum, computed once at release and frozen. A re-issue is a new revision, with a reason.",
    ),
    ("station", "Where a kind of work is done, and the tablet that stands there."),
    ("step", "What is done to a shell at one station, and signed."),
    ("sub-assembly", "Something made here that goes into drums, with signatures of its own."),
    ("tablet", "A device that shows the floor, and only its own stations."),
    (
        "traveler",
        "The paper that goes with a shell: its numbers, drawings, steps, and room to sign when the tablets are down.",
    ),
    ("wrap", "A covering sheet glued round the shell instead of lacquer or oil."),
]


def meaning_of(figure: str) -> str:
    """The sentence that explains a figure. Raises KeyError for one that has none."""
    return OF_FIGURES[figure.lower()]
