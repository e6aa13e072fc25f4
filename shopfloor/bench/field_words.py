"""The names of the sections and fields of a spec, as the bench makes them: named here, so that catalogues have them.

The bench asks for each word by itself; a test says which one is missing here.
"""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

TITLES = (
    *(_("Coats"), _("Cutting"), _("Drilling"), _("Edges"), _("Gluing"), _("Hardware"), _("Lay-up"), _("Mass")),
    *(_("Moisture"), _("Packing"), _("Pressing"), _("Shell"), _("Snare bed"), _("Tuning"), _("Wrap")),
)
LABELS = (
    *(_("accept"), _("adhesive dry"), _("adhesive wet"), _("advice"), _("angle"), _("angle tolerance")),
    *(_("apex diameter"), _("apex offset"), _("apex shift per tenth"), _("arc"), _("arc tolerance"), _("area")),
    *(_("bag"), _("bags"), _("batter"), _("blank height"), _("blank length"), _("blanks"), _("butt bed")),
    *(_("carton height"), _("carton side"), _("centre tolerance"), _("cents off note"), _("circumference")),
    *(_("clocks"), _("closed time"), _("coats"), _("code"), _("cylinders"), _("density"), _("depth")),
    *(_("depth tolerance"), _("diameter"), _("diameter at overlap"), _("diameter over finish")),
    *(_("diameter over wrap"), _("drum"), _("dry film"), _("dwell"), _("dwell factor"), _("edge flatness")),
    *(_("engagement"), _("engagement diameters"), _("evenness cents"), _("feature"), _("field")),
    *(_("finds one missing"), _("finish"), _("fit to glue"), _("fits"), _("flat"), _("flat chord")),
    *(_("flat width"), _("footprint axial"), _("footprint round"), _("fundamental"), _("furthest line")),
    *(_("gauge"), _("gloss advice"), _("gloss angle"), _("gloss base"), _("gloss target"), _("glue")),
    *(_("glue lines"), _("glue solids"), _("grain"), _("grit before"), _("hardware"), _("head fits")),
    *(_("head play"), _("head play at overlap"), _("head play each side"), _("height"), _("height tolerance")),
    *(_("high"), _("high by tenth height loss"), _("high by tenth land"), _("holes"), _("inner angle")),
    *(_("inner diameter"), _("inner drop"), _("inside area"), _("inside circumference"), _("inside diameter")),
    *(_("inside dry film"), _("kind"), _("kinds"), _("land"), _("length"), _("length tolerance"), _("lightest")),
    *(_("lightest part"), _("lines"), _("longest"), _("loose"), _("low"), _("low by tenth land"), _("lug chord")),
    *(_("lug pitch"), _("lug pitch arc"), _("lug screws"), _("lugs"), _("lugs per head"), _("mass")),
    *(_("material"), _("may coat"), _("may glue"), _("measured"), _("message"), _("mid plane length"), _("mix")),
    *(_("mm per degree"), _("name"), _("nearest seam"), _("nominal"), _("nominal depth"), _("nominal diameter")),
    *(_("note"), _("number"), _("on the wood"), _("outer angle"), _("outer diameter"), _("outer drop")),
    *(_("outer spindle height"), _("outside area"), _("outside circumference"), _("outside diameter")),
    *(_("outside dry film"), _("overall"), _("overall chord"), _("overall width"), _("parallelism")),
    *(_("parting force"), _("parting force tonnes"), _("pick list"), _("piece"), _("piece length"), _("pieces")),
    *(_("plate moisture"), _("plates"), _("position"), _("pot life"), _("pressed height"), _("pressure")),
    *(_("profile"), _("quantity"), _("ramp length"), _("ramp slope"), _("reason"), _("relief")),
    *(_("removed by edges"), _("removed by holes"), _("resonant"), _("rest"), _("rise"), _("rod"), _("rods")),
    *(_("role"), _("room emc"), _("room humidity for plate"), _("room move"), _("rough across grain")),
    *(_("rough along grain"), _("rough height"), _("rough length"), _("round over radius"), _("roundness")),
    *(_("scarf length"), _("seam angle"), _("seam angles"), _("seam kind"), _("shape"), _("share"), _("shell")),
    *(_("shell height move"), _("shell high"), _("shell low"), _("shortest"), _("shy"), _("slant"), _("spare")),
    *(_("spares"), _("species"), _("spindle height"), _("spread"), _("squareness"), _("stage"), _("stop reason")),
    *(_("strainer bed"), _("surface"), _("target"), _("temperature"), _("tension"), _("thickness"), _("thinner")),
    *(_("time"), _("to mix"), _("tolerances"), _("tool"), _("trim each end"), _("trimmed height"), _("turn")),
    *(_("turns"), _("two sided"), _("unthinned"), _("veneers"), _("verdict"), _("wall"), _("wall area")),
    *(_("wall force"), _("waste"), _("water from glue"), _("wet film"), _("wrap seam"), _("wrap seams")),
)
# what stands in a field
VALUES = (
    *(_("around"), _("axial"), _("bass"), _("butt"), _("diagonal"), _("double 45"), _("floor tom")),
    *(_("full round"), _("rack tom"), _("round over 45"), _("scarf"), _("shallow"), _("single 45"), _("snare")),
    *(_("snare side")),
)
