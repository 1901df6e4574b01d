"""A plan in words: short sentences, a cutting list, and the sheet that lies beside the work."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from ironlace.evidence.wording import counted
from ironlace.ornament.stencils.process import ALL_AT_ONCE

if TYPE_CHECKING:
    from ironlace.ornament.stencils.cut.cutting import CutPlan
    from ironlace.ornament.stencils.planning.plan import Plan

HAZARDS: Final = {
    "laser and PVC": "Never laser PVC or an unknown vinyl: it gives off hydrogen chloride. Cut it "
    "with a knife. Never leave a running laser alone.",
    "laser fire and fume": "Film burns and fumes under a laser: extraction on, never unattended, "
    "follow the maker’s rules for the cutter.",
    "solvents": "Vapours burn and are harmful to breathe: ventilate, no flame or spark, wear "
    "gloves, read the product’s safety data sheet.",
    "spraying": "Mist hangs in the air after spraying stops: keep others out, wear what the "
    "product’s safety data sheet asks for, follow local booth and fire rules. Wear a respirator "
    "that suits the product by its data sheet.",
    "sharp blades": "Cut away from the hand, cap blades, and bin them in a sharps box.",
    "sharp edges": "Leave etching to a bureau; etched foil has edges that cut: gloves.",
    "acids": "Goggles, gloves, ventilation. Add acid to water, never the reverse; never mix with "
    "bleach. Acid dissolves sound iron as well.",
    "ultraviolet light": "Exposure lamps: do not look into them, cover skin.",
    "oily rags": "Rags with linseed or tung oil heat themselves and can catch fire: lay them flat "
    "outdoors to dry, or keep them under water in a closed metal can; follow local disposal rules.",
}
"""What the plain sheet says of each hazard named in a process. The list is `care/cautions.toml`,
which this room cannot read; a test above both holds these to it word for word."""

STRAY_THAT_SHOWS: Final = 0.005
"""Share of stray above which it is told how little any split could reach."""

BARE_THAT_SHOWS: Final = 0.02
"""Share left bare by sheets laid true from which it is said. A judgement, no source."""

DEFER: Final = "Product data sheets, local codes and licensed practice come first."
"""What stands after every caution: that of the care room, held to it by the same test."""


MASK_STEPS: Final = (
    "The mask",
    "  Weed it on its backing: pull each part out flat and back on itself, in the order of",
    "  weeding.csv; leave the islands. Rub transfer tape over all of it, from the middle out.",
    "  Turn it over and draw the backing off the mask, not the mask off the backing.",
    "  Clean the surface of grease by what its finish bears. Lay the mask by one edge and let it",
    "  down from there; rub it down, the edges last, and draw the tape off flat, slowly.",
    "  On sound japan only: adhesive lifts what flakes. Try it where it does not show, leave it on",
    "  no longer than the paint needs, and draw it off flat while the paint is still soft.",
    "  Size before leaf, leaf before powder: size through the mask, lift it, then gild; powder",
    "  creeps under an edge that was not rubbed down.",
)
"""What to do with a mask that is stuck down (common practice, no source)."""


def weeding_list(plan: Plan) -> str:
    """The parts of a mask in the order in which they are pulled out, as CSV; only its head if none.

    A plan kept from before masks has none.
    """
    lines = ["part,x_mm,y_mm,area_mm2,islands"]
    lines += [",".join(f"{value:g}" for value in row) for row in plan.report.get("weeding", [])]
    return "\n".join(lines) + "\n"


def plan_sentences(plan: Plan) -> list[str]:
    """The plan told to a person: what it is, then what is bad of it, then its figures."""
    r = plan.report
    out, touch = list(r["notices"]), r["touch_in"]
    what = f"{counted(len(plan.sheets), 'sheet')} for {r['process'].lower()}"
    out.append(
        f"{what}, stuck down as a mask and carried over by transfer tape: "
        f"{counted(r['islands'] - touch['painted_back'], 'island')} to leave on it, no bridges."
        if plan.hold == "mask"
        else f"{what}; "
        f"{counted(r['islands'], 'island')} would have fallen out, held by "
        f"{counted(r['bridges'], 'bridge')} of "
        f"{r['bridge_mm2']:.1f} mm² in all."
        if r["islands"]
        else f"{what}; nothing falls out."
    )
    out += plan_faults(plan)
    if r["crowded"] and plan.hold != "mask":
        out.append(
            f"{counted(r['crowded'], 'gap')} between openings under the least web, widened "
            f"by {r['widened_mm2']:.1f} mm²."
        )
    if touch["bridges"] or touch["painted_back"]:
        out.append(
            f"To touch in by hand afterwards: {counted(touch['bridges'], 'bridge')}, "
            f"{touch['length_mm']:.0f} mm, {counted(touch['painted_back'], 'small island')} to "
            f"paint back; about {counted(max(1, round(touch['minutes'])), 'minute')}."
        )
    out += (r.get("wrapping") or {}).get("sentences", [])
    if plan.process.holds_islands:
        out.append("The mesh carries the islands, so no sheet needs to hang together.")
    elif plan.hold == "mask":
        out.append("The mask is stuck down, so it needs no bridges; weed it in the order given.")
    elif all(s["pieces"] == 1 for s in r["sheets"]):
        out.append("Every sheet is in one piece, by flood fill.")
    for layer in r["proof"]:
        true, off, _ = layer["laid"]
        out.append(
            f"{layer['colour']}: {true['covered'] * 100:.2f} % covered when laid true, "
            f"{off['covered'] * 100:.2f} % at {off['register_mm']:g} mm off, with "
            f"{off['stray'] * 100:.2f} % stray."
        )
        # a plan kept from before the bound was reckoned does not tell it
        least = layer.get("least_stray", 0.0)
        if least > STRAY_THAT_SHOWS:
            out.append(
                f"No split of this drawing strays less than {least * 100:.2f} % for this process: "
                "its strokes crowd."
            )
    return out


def plan_faults(plan: Plan) -> list[str]:
    """What is bad of a plan and what it means, the worst first; nothing when all is well."""
    r = plan.report
    out = []
    if plan.process.lasers_pvc:
        out.append(
            f"DO NOT CUT THIS BY LASER: the material is called '{plan.process.material[:60]}', and "
            "PVC under a laser gives off hydrogen chloride, which harms lungs and machine. Cut it "
            "with a knife, or take polyester film."
        )
    # a plan kept from before the drawing was read twice does not tell it
    if otherwise := r.get("read_otherwise", {}).get("sentence"):
        out.append(otherwise)
    broken = [s["name"] for s in r["sheets"] if s["pieces"] != 1]
    if broken and not carried(plan):
        out.append(f"NOT in one piece by flood fill: sheet {', '.join(broken)}. Do not cut it.")
    out += _sheet_faults(plan)
    if r["narrow_openings"]:
        count = counted(r["narrow_openings"], "place")
        out.append(
            f"{count} narrower than the least opening, {plan.process.least_line_mm:g} mm: such "
            "lines will not cut clean."
        )
    bare = 1.0 - min(layer["laid"][0]["covered"] for layer in r["proof"])
    if bare > BARE_THAT_SHOWS:
        out.append(
            f"{bare * 100:.1f} % of the ornament stays bare even when laid true, left to the brush."
        )
    off = max((layer["laid"][1] for layer in r["proof"]), key=lambda laid: laid["stray"])
    if off["stray"] > STRAY_THAT_SHOWS:
        out.append(
            f"Laid {off['register_mm']:g} mm off, {off['stray'] * 100:.1f} % as much paint as the "
            "ornament has lands beside it."
        )
    necks = [w for w in r["weak"] if w["kind"] == "neck"]
    if necks:
        longest = max(necks, key=lambda w: w["length_mm"])
        x, y = longest["where_mm"]
        out.append(
            f"{counted(len(necks), 'field')} of film {'hangs' if len(necks) == 1 else 'hang'} on "
            "one narrow place each, where no bridge has room; the longest is "
            f"{longest['length_mm']:.1f} mm, at {x:.0f}, {y:.0f} mm: draw more room there, or lift "
            "that sheet with care."
        )
    weak = [w for w in r["weak"] if w["kind"] != "neck"]
    if weak:
        worst = max(weak, key=lambda w: w["gives_mm"])
        out.append(
            f"{counted(len(weak), 'weak place')}; the worst is a {worst['kind']} of "
            f"{worst['length_mm']:.1f} mm that gives {worst['gives_mm']:.2f} mm."
        )
    return out


def carried(plan: Plan) -> bool:
    """Whether islands stay without bridges: on a mesh, or stuck down with the rest of a mask."""
    return plan.process.holds_islands or plan.hold == "mask"


def _sheet_faults(plan: Plan) -> list[str]:
    """What is bad of single sheets; a plan kept from before it was looked for does not tell it."""
    sheets, process = plan.report["sheets"], plan.process
    out = []
    if gone := sum(s.get("lost_to_kerf", 0) for s in sheets):
        out.append(
            f"{counted(gone, 'opening')} no wider than the cut itself ({process.kerf_mm:g} mm): "
            "left out of the HP-GL, and in SVG and DXF no cutter can keep to them; enlarge the "
            "drawing or take a finer process."
        )
    out += [
        f"Sheet {s['name']} keeps {counted(s['thin_webs'], 'web')} under the least width, "
        f"the thinnest {s['thinnest_mm']:.2f} mm of {process.least_web_mm:g}: it may tear."
        for s in sheets
        if s["thin_webs"]
    ]
    if over := [s for s in sheets if s.get("over_bed")]:
        wide, high = (max(s["size_mm"][n] for s in over) for n in (0, 1))
        out.append(
            f"Sheets of {wide:.0f} by {high:.0f} mm are larger than the bed of "
            f"{process.bed_width_mm:g} by {process.bed_height_mm:g} mm: have them written in "
            "parts for the bed, or take a smaller margin."
        )
    narrow = [s["name"] for s in sheets[1:] if s.get("narrow_openings")]
    if narrow and plan.hold == "split":
        out.append(
            f"Sheet {', '.join(narrow)} has openings under the least width: try them on a scrap."
        )
    return out


def plan_table(plan: Plan) -> list[tuple[str, str]]:
    """The plan in a few lines of a table: what is counted, and how much."""
    r = plan.report
    touch, proof = r["touch_in"], r["proof"]
    true = min(layer["laid"][0]["covered"] for layer in proof)
    off = max((layer["laid"][1] for layer in proof), key=lambda laid: laid["stray"])
    cut = sum(s["cut_minutes"] for s in r["sheets"])
    # a sheet that is etched or exposed comes out all at once
    cutting = "" if plan.process.cutter in ALL_AT_ONCE else f"{cut:.0f} min cutting, "
    painted = touch["painted_back"]
    by_hand = f"{touch['bridges']} bridges, {touch['length_mm']:.0f} mm" + (
        f"; {counted(painted, 'island')} to paint back" if painted else ""
    )
    return [
        ("Sheets to cut", str(len(plan.sheets))),
        ("Bridges", f"{r['bridges']}, {r['bridge_mm2']:.1f} mm²"),
        ("To touch in by hand", by_hand),
        ("Time", f"{cutting}{touch['minutes']:.0f} min touching in"),
        ("Weak places", f"{len(r['weak'])} weak, {r['narrow_openings']} too narrow"),
        ("Covered, laid true", f"{true * 100:.1f} %"),
        (f"Stray, {off['register_mm']:g} mm off", f"{off['stray'] * 100:.2f} %"),
    ]


def cutting_list(plan: Plan, cuts: Sequence[CutPlan]) -> str:
    """Sheets with their cuts and times, the ways between counted, as CSV."""
    lines = ["sheet,colour,width_mm,height_mm,openings,cut_mm,travel_mm,minutes"]
    for s, cut in zip(plan.report["sheets"], cuts, strict=True):
        colour = '"' + s["colour"].replace('"', '""') + '"'
        lines.append(
            f"{s['name']},{colour},{s['size_mm'][0]},{s['size_mm'][1]},{s['openings']},"
            f"{cut.cut_mm:.1f},{cut.travel_mm:.1f},{round(cut.seconds / 60.0, 2)}"
        )
    return "\n".join(lines) + "\n"


def laying_sheet(plan: Plan) -> str:
    """What to do at the bench, step by step, with its cautions, as plain text."""
    r = plan.report
    process = plan.process
    lines = [f"LAYING SHEET: {process.name}", f"Material: {process.material}", ""]
    lines += ["Before you begin"]
    lines += [f"  ! {HAZARDS.get(name, name)}" for name in process.cautions]
    lines += [f"  ! {DEFER}", ""]
    if plan.hold == "mask":
        lines += [*MASK_STEPS, ""]
    lines += [
        "Try the sheets on paper, then on a scrap of the same finish. On original japan, first",
        "ask whether it should be painted on at all, and test the paint where it does not show.",
        "",
        "Order",
    ]
    for n, sheet in enumerate(plan.sheets, start=1):
        told = r["sheets"][n - 1]
        lines.append(
            f"  {n}. Sheet {sheet.name}, {sheet.colour}: {told['openings']} openings, "
            f"{told['area_mm2']:.0f} mm² of paint."
        )
        if n == 1:
            lines.append(
                "     Lay it by the laying marks; mark the register holes in pencil on removable "
                "tape,"
            )
            lines.append("     never in the japan. Cover the holes before painting.")
        else:
            lines.append("     When the last is dry, lay this by the register holes. Cover them.")
    touch = r["touch_in"]
    if touch["bridges"] or touch["painted_back"]:
        lines += [
            "",
            "Afterwards, by hand",
            f"  {touch['bridges']} bridges ({touch['length_mm']:.0f} mm) to touch in, "
            f"{touch['painted_back']} islands to paint back: about {touch['minutes']:.0f} minutes.",
        ]
    return "\n".join(lines) + "\n"
