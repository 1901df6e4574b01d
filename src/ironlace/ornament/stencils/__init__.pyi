from .bridges.wishes import BridgeLine, Forbidden, Wishes, forbidden_at, places_for
from .cut.cutting import CutPlan, cut_plan, for_kerf
from .cut.film import film_png
from .cut.hpgl import sheet_hpgl
from .cut.sheet_dxf import sheet_dxf
from .cut.trial_card import CardReading, process_from_card, trial_card_svg
from .declared import ANALYSES
from .errors import HoldingError, OutlineError, ProcessError, StencilError
from .filled_svg import DrawnAreas, Layer, read_filled, trapped
from .laying import Feature, sheet_edge, tiles
from .planning.falling import Falling, what_falls_out
from .planning.flaws_picture import Flaw, flaws_csv, flaws_of, flaws_svg
from .planning.held_sheet import Bridge, Hold
from .planning.in_words import HAZARDS, cutting_list, laying_sheet, plan_sentences
from .planning.layer_plan import Prepared, prepare
from .planning.plan import Plan, plan_sheets
from .planning.raster_proof import Application, applied
from .process import (
    Process,
    known_process,
    known_process_text,
    known_processes,
    process_toml,
    read_process,
)
from .sheet_set import (
    FilledDrawing,
    SheetsAsked,
    SheetSet,
    crown_of,
    first_asked,
    plan_set,
    surface_of,
)
from .sheets import Sheet
from .sheets_analysis import SHEETS

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
