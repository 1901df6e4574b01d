"""From a drawing to sheets that can be cut, laid and painted through.

>>> from ironlace.ornament.stencils import known_process, plan_sheets
>>> svg = (
...     '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
...     '<path fill-rule="evenodd" d="M5 5H35V25H5Z M9 9H31V21H9Z"/></svg>'
... )
>>> plan = plan_sheets(svg, known_process("film-knife"), "bridges")
>>> plan.report["islands"], len(plan.sheets)
(1, 1)
"""

from ironlace.ornament.stencils.bridges.wishes import (
    BridgeLine,
    Forbidden,
    Wishes,
    forbidden_at,
    places_for,
)
from ironlace.ornament.stencils.cut.cutting import CutPlan, cut_plan, for_kerf
from ironlace.ornament.stencils.cut.film import film_png
from ironlace.ornament.stencils.cut.hpgl import sheet_hpgl
from ironlace.ornament.stencils.cut.sheet_dxf import sheet_dxf
from ironlace.ornament.stencils.cut.trial_card import CardReading, process_from_card, trial_card_svg
from ironlace.ornament.stencils.errors import (
    HoldingError,
    OutlineError,
    ProcessError,
    StencilError,
)
from ironlace.ornament.stencils.filled_svg import DrawnAreas, Layer, read_filled, trapped
from ironlace.ornament.stencils.laying import Feature, sheet_edge, tiles
from ironlace.ornament.stencils.planning.falling import Falling, what_falls_out
from ironlace.ornament.stencils.planning.flaws_picture import Flaw, flaws_csv, flaws_of, flaws_svg
from ironlace.ornament.stencils.planning.in_words import (
    HAZARDS,
    cutting_list,
    laying_sheet,
    plan_sentences,
)
from ironlace.ornament.stencils.planning.layer_plan import Bridge, Hold, Prepared, prepare
from ironlace.ornament.stencils.planning.plan import Plan, plan_sheets
from ironlace.ornament.stencils.planning.raster_proof import Application, applied
from ironlace.ornament.stencils.process import (
    Process,
    known_process,
    known_process_text,
    known_processes,
    process_toml,
    read_process,
)
from ironlace.ornament.stencils.sheet_set import (
    FilledDrawing,
    SheetsAsked,
    SheetSet,
    crown_of,
    first_asked,
    plan_set,
    surface_of,
)
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.ornament.stencils.sheets_analysis import SHEETS

ANALYSES = (SHEETS,)

__all__ = [
    "ANALYSES",
    "HAZARDS",
    "SHEETS",
    "Application",
    "Bridge",
    "BridgeLine",
    "CardReading",
    "CutPlan",
    "DrawnAreas",
    "Falling",
    "Feature",
    "FilledDrawing",
    "Flaw",
    "Forbidden",
    "Hold",
    "HoldingError",
    "Layer",
    "OutlineError",
    "Plan",
    "Prepared",
    "Process",
    "ProcessError",
    "Sheet",
    "SheetSet",
    "SheetsAsked",
    "StencilError",
    "Wishes",
    "applied",
    "crown_of",
    "cut_plan",
    "cutting_list",
    "film_png",
    "first_asked",
    "flaws_csv",
    "flaws_of",
    "flaws_svg",
    "for_kerf",
    "forbidden_at",
    "known_process",
    "known_process_text",
    "known_processes",
    "laying_sheet",
    "places_for",
    "plan_sentences",
    "plan_set",
    "plan_sheets",
    "prepare",
    "process_from_card",
    "process_toml",
    "read_filled",
    "read_process",
    "sheet_dxf",
    "sheet_edge",
    "sheet_hpgl",
    "surface_of",
    "tiles",
    "trapped",
    "trial_card_svg",
    "what_falls_out",
]
