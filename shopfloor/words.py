"""The words on the screens and papers, each with what it means here. The one place from which they are explained.

The page of words shows all of them; screens that explain a figure take its sentence from here (``{% meaning %}``). All stand
here in English; who shows one asks for it in the language that is spoken.
"""

from __future__ import annotations

from django.utils.translation import gettext
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
    (ShellState.PLANNED, _("Released; its first step has not begun.")),
    (ShellState.IN_PRODUCTION, _("On its way from station to station.")),
    (ShellState.ON_HOLD, _("Held because of a problem.")),
    (ShellState.FINISHED, _("Passed its final check; not packed yet.")),
    (ShellState.PACKED, _("In its carton, with its card.")),
    (ShellState.SCRAPPED, _("Could not be saved; a new shell takes its place. What was signed stays on record.")),
    (ShellState.REMADE, _("Scrapped, and another shell was made in its place; each names the other.")),
]

OF_ORDERS = [
    (OrderState.DRAFT, _("Can still be changed or deleted; nothing is made.")),
    (OrderState.RELEASED, _("Its shells have serial numbers, steps and a frozen spec.")),
    (OrderState.IN_PRODUCTION, _("At least one step of one shell has begun.")),
    (OrderState.COMPLETE, _("Every drum is packed.")),
    (OrderState.SHIPPED, _("Left the shop.")),
]

OF_STATIONS = [
    (StationKind.CUT, _("Plates are cut to the lengths and the width of this shell, from the measured thickness.")),
    (StationKind.PRESS, _("The plates are glued in their mould and pressed; the glue's clocks run.")),
    (StationKind.TRIM, _("The pressed shell is cut to its height, both ends square.")),
    (StationKind.EDGE, _("Bearing edges are cut, and the snare bed on a snare drum.")),
    (StationKind.SEAL, _("First coats that close the wood. Each dries before the next.")),
    (StationKind.SAND, _("The coat is sanded level, so that the next one holds.")),
    (StationKind.FINISH, _("Colour, lacquer or oil, coat by coat.")),
    (StationKind.WRAP, _("A covering sheet is glued round the shell.")),
    (StationKind.DRILL, _("Every hole by the hole map of this shell, from its datum.")),
    (StationKind.ASSEMBLE, _("Lugs, hoops, heads and what else the parts list names.")),
    (StationKind.TUNE, _("Heads are brought to the tones of the spec, lug by lug.")),
    (StationKind.FINAL_CHECK, _("Somebody who did not assemble the drum looks at all of it and answers for it.")),
    (StationKind.PACK, _("Into the carton of its kit, with its card and its bags.")),
]

OF_DWELLS = [
    (DwellKind.CURE, _("Glue, or a hard coat, sets. Not to be moved or loaded before.")),
    (DwellKind.DRY, _("A coat gives off what keeps it liquid. Not to be sanded or coated before.")),
    (DwellKind.REST, _("Wood comes to the room's moisture after the press, so that it moves before it is cut.")),
]

OF_PROBLEMS = [
    (Disposition.RELEASED, _("Nothing was wrong, or it was put right on the spot. The drum goes on.")),
    (Disposition.REWORK, _("Sent back to an earlier step. What was signed from there on is void and stays on record.")),
    (Disposition.AS_IS, _("Not as the spec says, and allowed all the same, by somebody who is named.")),
    (Disposition.REGRADE, _("Becomes another drum of the recipe book that it is good enough for.")),
    (Disposition.SCRAP, _("Can't be saved. Another shell with its own number takes its place.")),
]

OF_DEFECTS = [
    (Severity.MINOR, _("It is seen, but the drum does its work.")),
    (Severity.MAJOR, _("The drum does not do its work, or nobody would take it.")),
    (Severity.CRITICAL, _("It may fail while it is played and hurt somebody.")),
]

OF_BAGS = [
    (BagState.FILLED, _("Its parts left the shelf; nobody has checked it yet.")),
    (BagState.CHECKED, _("Counted or weighed, and right.")),
    (BagState.OPENED, _("Taken apart again, with a reason. It is filled anew.")),
]

OF_LOTS = [
    (LotState.MAKING, _("Made here, and not all of its steps are signed.")),
    (LotState.RECEIVED, _("Came in; nobody has opened it.")),
    (LotState.OPEN, _("In use.")),
    (LotState.EMPTY, _("Used up.")),
    (LotState.HELD, _("May not be used, and every drum it is in is held with it.")),
]

OF_REQUESTS = [
    (RequestState.OPEN, _("Nobody has picked its parts, or answered, yet.")),
    (RequestState.PICKED, _("Its parts lie ready to go.")),
    (RequestState.SENT, _("Left the house.")),
    (RequestState.ANSWERED, _("Closed without anything to send.")),
]

OF_PLANS = [
    (PlanState.RUNNING, _("A better plan is being looked for; the one by rule is in use meanwhile.")),
    (PlanState.READY, _("In use: work lists and tablets follow it.")),
    (PlanState.STOPPED, _("Somebody stopped the search; the best plan so far is in use.")),
    (PlanState.FAILED, _("The search broke off; the plan before is in use.")),
]

# Figures by the name that stands on the page; “Part” with a capital is a piece of hardware.
OF_FIGURES = {
    _("In process"): _("Shells that are released and neither packed nor scrapped."),
    _("Kits"): _("Orders with at least one such shell."),
    _("On hold"): _("Shells with an open problem."),
    _("Late"): _("The due day is over and the kit is not packed; in a plan: it will be ready after its due day."),
    _("At risk"): _("Ready in time by the plan, with less than a working day to spare."),
    _("As of"): _("When these numbers were counted. The page counts again by itself."),
    _("Weighted lateness"): _(
        "The hours by which kits are late by the plan, added up; those of a rush order count more."
    ),
    _("Ready by plan"): _("When the last step of the kit ends if everything goes as planned."),
    _("Places"): _("How many shells a drying room takes, and how many stand in it."),
    _("Hours planned"): _("Work that the plan gives a station, beside the hours in which somebody is there for it."),
    _("First pass yield"): _(
        "Of the shells that had a step signed at a station in these days: those that were not sent back to "
        "it, nor scrapped, regraded or used as they are for what was found there."
    ),
    _("Rolled throughput yield"): _(
        "The product of the first pass yields: how large a part comes through without any rework."
    ),
    _("Rework ratio"): _("Shells that were sent back in these days over shells on which anything was signed."),
    _("Scrap ratio"): _("Shells scrapped over shells packed or scrapped."),
    _("Lead time"): _("From release to the signature under packing."),
    _("Touch time"): _("Time between start and finish taps, without pauses, at stations where that is counted."),
    _("Median"): _("The one in the middle: half of all are below it, half above."),
    _("Finding"): _("One problem that somebody reported. A customer's request with a cause is one, too."),
    _("part"): _("This count over all findings of these days."),
    _("Running"): _("This part and all above it, added up."),
    _("Control limits"): _("Three sigmas from the centre. Between them readings differ by chance alone."),
    _("Signal"): _("A point or a run of points that chance hardly explains. It says: look for a cause."),
    _("Sigma"): _("How far readings usually lie from their mean."),
    _("Cp"): _("The width of the limits over six sigmas, from one reading to the next."),
    _("Cpk"): _("As Cp, counted to the nearer limit. Smaller than Cp where the mean is off centre."),
    _("Pp"): _("The width of the limits over six sigmas of all readings."),
    _("Ppk"): _("As Pp, counted to the nearer limit."),
}

OF_THE_TRADE = [
    (_("adhesive"), _("What a wrap is glued to its shell with.")),
    (_("apex"), _("The highest line of a bearing edge, all the way round. The head swings on it.")),
    (_("bag"), _("The small parts of a drum, counted or weighed, in one bag with a label.")),
    (
        _("batter side, resonant side"),
        _("The end that is struck, and the other one. On a snare drum the other is the snare side."),
    ),
    (_("bearing edge"), _("The rim of the shell on which the head rests, cut to a profile.")),
    (_("blank"), _("A piece cut out of a sheet: a plate before it is bent, or a wrap before it goes round.")),
    (_("blend"), _("Gloss and matt lacquer mixed, for the gloss that is wanted.")),
    (_("butt plate"), _("Holds the far ends of the snare wires, across from the strainer.")),
    (_("campaign"), _("Shells that need the same mould or colour, done one after the other.")),
    (_("card"), _("Goes into the carton: drum, serial number, and the name of whoever signed the final check.")),
    (_("carton"), _("The box in which drums leave the shop; a smaller drum may travel inside a larger one.")),
    (_("caution"), _("What can hurt somebody at this step. Local rules and the makers' data sheets come before it.")),
    (_("cent"), _("The hundredth part of a semitone; it says how far two tones lie apart.")),
    (_("certificate"), _("What a finished drum was made to, what was measured, and who signed, on one sheet.")),
    (_("check point"), _("A question or a reading that a step asks for before it can be signed.")),
    (_("coat"), _("One layer of lacquer or oil, from putting it on until it is dry.")),
    (_("concession"), _("A leave to use a drum as it is, with the name of who gave it.")),
    (_("copy"), _("A paper that was printed again. Older ones come off the shell.")),
    (_("cutter"), _("The tool on the spindle that cuts one slope of a bearing edge.")),
    (_("datum"), _("The line on the shell from which every hole is measured round: 0° of the hole map.")),
    (_("defect"), _("A kind of fault with a name, from the list in the recipe book.")),
    (_("depth"), _("How long a shell is from edge to edge, along its axis.")),
    (_("drop"), _("How far an edge falls from its apex to a face of the wall.")),
    (_("due"), _("The day until which an order has to be packed.")),
    (_("dwell"), _("Time that must pass after a step: glue cures, lacquer dries, wood rests.")),
    (_("film"), _("What stays of a coat when it is dry. Thinner than the wet coat by what evaporates.")),
    (
        _("fingerprint"),
        _("The first figures of the last record's hash. Two papers with the same one speak of the same record."),
    ),
    (_("flat"), _("What stays level: a narrow strip at the apex of an edge, or the middle of a snare bed.")),
    (
        _("gauge"),
        _("Shows the pressure of the air or oil in a press. On the glue it is another where the areas differ."),
    ),
    (_("gloss"), _("How much light a surface throws back like a mirror, in gloss units (GU, ISO 2813).")),
    (_("glue batch"), _("Glue that was mixed at one time. Its clock runs from then on.")),
    (_("glue line"), _("The layer of glue between two plates.")),
    (_("grain"), _("The direction of the fibres in the wood: around the shell, or along its axis.")),
    (_("grit"), _("How fine a sanding paper is: the larger the number, the finer.")),
    (_("hardware"), _("What is screwed to a shell or holds its heads: lugs, hoops, rods, fittings.")),
    (_("head"), _("The membrane. Its nominal diameter in inches names the drum; the shell is made a little smaller.")),
    (_("hole map"), _("The shell unrolled, with every hole by angle, arc and height.")),
    (_("hoop"), _("The ring that holds the head; its rods pull it over the edge.")),
    (_("kit"), _("The drums that belong together, ordered as one.")),
    (_("lay-up"), _("The plates of a shell from outside to inside, with the direction of their grain.")),
    (_("limits"), _("Between which two values a reading has to lie.")),
    (_("lot"), _("One delivery or one making of a material. Its code leads to every drum it is in.")),
    (_("lug"), _("The part on the shell into which a rod is screwed.")),
    (_("mix"), _("What is stirred together by the recipe before use: the parts of a glue, or material and thinner.")),
    (_("moisture"), _("The water in a piece of wood, as a part of its dry weight.")),
    (_("mould"), _("The ring inside which plates are pressed to a shell.")),
    (_("nominal size"), _("Diameter and depth in inches, by which a drum is called.")),
    (_("order"), _("What a customer asked for at one time, with the day it is due.")),
    (_("overlap"), _("Where the end of a wrap lies over its beginning, or over the next piece.")),
    (_("parts list"), _("Every part of a drum with its count, and the bag it goes into.")),
    (_("plate"), _("A sheet as bought or pressed flat: one veneer, or several glued crosswise.")),
    (_("play"), _("The room between the shell and the ring of the head that goes over it.")),
    (_("ply, veneer"), _("One layer of wood. A plate may have several; both counts are always given.")),
    (_("pot life"), _("How long mixed glue can be used.")),
    (_("pressed height"), _("How high a shell comes out of the mould, before both ends are trimmed.")),
    (_("qualified"), _("Trained for a station, by whom and until when. Only then a step there can be signed.")),
    (_("rack"), _("Several shells that are worked on and signed together; each has a record of its own.")),
    (_("ramp"), _("Where a snare bed rises from its flat to the full edge.")),
    (_("reading"), _("A measured value, as it was typed.")),
    (_("recall"), _("Finding every drum that has a lot, a person or a day in common.")),
    (
        _("record"),
        _("What was done to a shell, by whom and when, each entry chained to the one before. Nothing is taken out."),
    ),
    (
        _("relief valve"),
        _("Lets pressure off before it is too high. Only whoever is trained for the press sets it, as its maker says."),
    ),
    (_("revision"), _("A later issue of a spec, a route or a check. The earlier ones are kept.")),
    (_("rod"), _("The screw that pulls a hoop towards the middle of the drum; it turns in a lug.")),
    (_("roundness"), _("The largest diameter of a shell less its smallest.")),
    (_("route"), _("The steps of a shell in their order.")),
    (_("rush order"), _("An order whose lateness counts more when a plan is made.")),
    (_("scarf"), _("A slanted seam: the two ends of a plate are planed to wedges that overlap.")),
    (
        _("seal"),
        _("One line a day that joins the records of all shells. Printed, it shows later that none was changed."),
    ),
    (_("seam"), _("Where the ends of a plate meet. Holes are counted from the one in the outer plate.")),
    (
        _("serial number"),
        _(
            "Stays with the shell from release on. Its last character checks the others, so that a mistyped one is noticed."
        ),
    ),
    (_("shell"), _("The wooden ring of a drum, and the drum while it is being made.")),
    (_("shortage"), _("A part of which the shelf has less than released orders need.")),
    (_("signature"), _("A name under a step, with the time and the tablet.")),
    (_("snare bed"), _("The shallow dip in the snare-side edge on which the snare wires lie.")),
    (_("snare wires"), _("The strands that lie against the snare-side head and buzz with it.")),
    (_("spare"), _("A part that goes into the carton beside those on the drum.")),
    (
        _("spec"),
        _("Every number of a drum, computed once at release and frozen. A re-issue is a new revision, with a reason."),
    ),
    (_("spindle"), _("The shaft that turns a cutter. Its height above the table says where an edge is cut.")),
    (_("station"), _("Where a kind of work is done, and the tablet that stands there.")),
    (_("step"), _("What is done to a shell at one station, and signed.")),
    (_("strainer"), _("The part with the lever that puts the snare wires to the head or takes them off.")),
    (_("sub-assembly"), _("Something made here that goes into drums, with signatures of its own.")),
    (_("tablet"), _("A device that shows the floor, and only its own stations.")),
    (_("tension"), _("How hard a head is pulled over its edge, in newtons for each metre of it.")),
    (_("thinner"), _("Makes a coating flow more easily, and leaves it again while it dries.")),
    (
        _("traveler"),
        _(
            "The paper that goes with a shell: its numbers, drawings, steps, and room to sign when the tablets are down."
        ),
    ),
    (_("wall"), _("The thickness of a shell.")),
    (_("wrap"), _("A covering sheet glued round the shell instead of lacquer or oil.")),
]

_MEANINGS = {figure.lower(): meaning for figure, meaning in OF_FIGURES.items()}


def meaning_of(figure: str) -> str:
    """The sentence that explains a figure, in the language that is spoken. Raises KeyError for one that has none."""
    return gettext(_MEANINGS[figure.lower()])
