"""Words that the tables keep in English and the tablets show in their language: named here, so that catalogues have them."""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

WORDS = (
    # roles of a drum
    *(_("snare"), _("rack tom"), _("floor tom"), _("bass drum")),
    # states of steps and shells
    *(_("waiting"), _("ready"), _("in work"), _("done"), _("on hold"), _("skipped"), _("drying or curing")),
    *(_("planned"), _("in production"), _("finished"), _("packed"), _("scrapped"), _("remade")),
    # states of orders
    *(_("draft"), _("released"), _("complete"), _("shipped")),
    # dwells
    *(_("none"), _("curing"), _("drying"), _("resting")),
    # bags
    *(_("to fill"), _("filled, to check"), _("checked"), _("fill again"), _("Loose parts")),
    # lots, and what a step asks for
    *(_("plate or veneer"), _("glue component"), _("lacquer or oil"), _("wrap"), _("hardware"), _("heads")),
    *(_("snare wires"), _("other"), _("being made"), _("received"), _("open"), _("empty")),
    *(_("Glue batch"), _("Lot of the coating"), _("Lot of the wrap"), _("Lot of the hardware")),
    *(_("Lot of the heads"), _("Lot of the snare wires")),
    # what the page of words shows besides: stations, decisions, defects, bags, requests, plans
    *(_("cut"), _("glue and press"), _("trim"), _("edge"), _("seal coats"), _("sand"), _("finish"), _("drill")),
    *(_("assemble"), _("tune"), _("final check"), _("pack"), _("released from hold"), _("rework"), _("use as is")),
    *(_("regrade"), _("scrap and replace"), _("minor"), _("major"), _("critical"), _("filled"), _("opened again")),
    *(_("picked"), _("sent"), _("answered"), _("stopped"), _("failed")),
    # grain of plates, surfaces of coats
    *(_("around"), _("axial"), _("inside"), _("outside"), _("both")),
    # what drills a hole
    *(_("brad-point"), _("step bit"), _("flat-bottom")),
    # what a role may do, in a refusal
    *(_("release a shell from hold"), _("print cards"), _("fill and check bags, close cartons")),
    *(_("receive material lots and change their state"), _("report a problem (holds the shell)")),
    *(_("sign steps on the floor"), _("a supervisor"), _("somebody who packs")),
    # what a hold did with a drum
    *(_("put on hold"), _("on hold already"), _("left the shop: recall"), _("scrapped or remade")),
    _("no open step: find it by hand"),
    # how a plan was found, what its maker does, why it was not finished
    *(_("solver"), _("due date"), _("least slack")),
    *(_("reading what is to be done"), _("looking for a better one"), _("stopped with the best plan so far")),
    _("There is nothing to plan: no released shell has an open step."),
    _("It was interrupted: the program that made it ended."),
    _("The program has a fault and could not finish this plan; its log says more. What a rule gave stands."),
    # requests, figures: what is asked, what became of it, and how it was checked
    *(_("a part is missing"), _("damage"), _("a spare part"), _("a question"), _("a companion drum")),
    *(_("counted"), _("weighed")),
    *(_("customer's request"), _("parts picked for a request"), _("request answered")),
    *(_("the address"), _("the parts"), _("the address and the parts")),
    # requests, figures: what the statistics say, which know no language
    *(_("readings"), _("moving range"), _("mean"), _("range"), _("proportion")),
    *(_("beyond a limit"), _("two of three beyond two sigma on one side")),
    *(_("four of five beyond one sigma on one side"), _("eight in a row on one side of the centre")),
    _("six in a row rising, or six falling"),
    _("Only {readings} readings; with fewer than {enough} these figures say little."),
    _("The chart shows signals: find their causes first, a process that moves about has no capability."),
    _("All readings are the same; look whether the gauge reads finely enough."),
    *(_("A chart needs at least 2 points; there is one."), _("A chart needs at least 2 points; there are none.")),
    _("The lower limit must lie below the upper one."),
    # trace: the kinds of records, and where no station of the shop caused what a customer found
    *(_("spec re-issued"), _("traveler printed"), _("work started"), _("work paused"), _("signed off")),
    *(_("signature withdrawn"), _("finding added"), _("card printed")),
    *(_("sent back for rework"), _("step skipped"), _("bag filled"), _("bag checked"), _("bag opened again")),
    *(_("carton closed"), _("carton opened again"), _("outside the shop")),
    # people, tablets, keys and the board: roles, changes of accounts, what a key opens, how a kit stands
    *(_("worker"), _("final checker"), _("supervisor"), _("office"), _("administrator")),
    *(_("account made"), _("name changed"), _("user name changed"), _("role changed"), _("language changed")),
    *(_("account closed"), _("account opened again"), _("qualified"), _("new PIN"), _("new password")),
    *(_("wrong tries forgotten"), _("everything, to read"), _("the calendar of due dates")),
    *(_("late"), _("at risk"), _("not planned"), _("on time")),
    # what else a role may do, in a refusal, and whom to ask
    *(_("sign the final check"), _("withdraw any signature, with a reason"), _("enter signatures from paper")),
    *(_("see the board"), _("look up a serial number and its story"), _("see orders"), _("see the recipe book")),
    *(_("enter and import orders"), _("release orders and re-issue specs"), _("print travelers"), _("see the figures")),
    *(_("edit the recipe book, stations, routes and check points"), _("take and answer customers' requests")),
    *(_("plan the work, and set hours, absences and moulds"), _("edit people, PINs and qualifications")),
    *(_("add, change, unlock and revoke tablets"), _("make and revoke keys for the shop's own scripts")),
    *(_("edit the shop's settings and who is an administrator"), _("the office"), _("an administrator")),
    # the recipe book: finishes, seams, edges, roles as a refusal has them, kinds of checks
    *(_("lacquer"), _("oil"), _("butt"), _("scarf"), _("diagonal"), _("single 45"), _("double 45")),
    *(_("45 inside, round-over outside"), _("shallow angle"), _("full round"), _("snare side"), _("bass")),
    _("yes or no"),
)
