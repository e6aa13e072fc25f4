"""The words on the screens and papers, each with what it means here."""

from __future__ import annotations

from routing.models import OperationState, OrderState, ShellState

# (state as the ring and the chips know it, word, meaning)
OF_STEPS = [
    ("waiting", OperationState.WAITING.label, "An earlier step is not signed yet."),
    ("ready", OperationState.READY.label, "Somebody can begin now."),
    ("in_work", OperationState.IN_WORK.label, "Somebody has begun; the board says who."),
    (
        "drying",
        "drying, curing or resting",
        "The step is signed, but the glue, the lacquer or the wood needs time before the next one.",
    ),
    ("done", OperationState.DONE.label, "Signed by name, with the readings that were asked for."),
    ("on_hold", OperationState.ON_HOLD.label, "A problem was found. The drum stays where it is until it is settled."),
    ("skipped", OperationState.SKIPPED.label, "This drum does not need the step."),
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

OF_THE_TRADE = [
    (
        "batter side, resonant side",
        "The end that is struck, and the other one. On a snare drum the other is the snare side.",
    ),
    ("bearing edge", "The rim of the shell on which the head rests, cut to a profile."),
    ("card", "Goes into the carton: drum, serial number, and the name of whoever signed the final check."),
    ("datum", "The line on the shell from which every hole is measured round: 0° of the hole map."),
    ("dwell", "Time that must pass after a step: glue cures, lacquer dries, wood rests."),
    ("head", "The membrane. Its nominal diameter in inches names the drum; the shell is made a little smaller."),
    ("kit", "The drums that belong together, ordered as one."),
    ("lay-up", "The plates of a shell from outside to inside, with the direction of their grain."),
    ("plate", "A sheet as bought or pressed flat: one veneer, or several glued crosswise."),
    ("ply, veneer", "One layer of wood. A plate may have several; both counts are always given."),
    ("scarf", "A slanted seam: the two ends of a plate are planed to wedges that overlap."),
    (
        "serial number",
        "Stays with the shell from release on. Its last character checks the others, so that a mistyped one is noticed.",
    ),
    ("snare bed", "The shallow dip in the snare-side edge on which the snare wires lie."),
    (
        "spec",
        "Every number of a drum, computed once at release and frozen. A re-issue is a new revision, with a reason.",
    ),
    ("station", "Where a kind of work is done, and the tablet that stands there."),
    (
        "traveler",
        "The paper that goes with a shell: its numbers, drawings, steps, and room to sign when the tablets are down.",
    ),
    ("wrap", "A covering sheet glued round the shell instead of lacquer or oil."),
]
