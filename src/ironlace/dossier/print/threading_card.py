"""The threading card for the drawer, A6: each picture with its numbers, the steps in large type."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from ironlace.dossier.print.typesetting import typeset
from ironlace.evidence.wording import capital
from ironlace.running.threading.deeds import THREADS
from ironlace.running.threading.diagram import panels
from ironlace.running.threading.plan import ThreadingPlan, ThreadPoint, not_said
from ironlace.running.threading.steps import known_in_words, steps_in_words

_WIDE_MM, _HIGH_MM = 93.0, 100.0
"""Most that a picture takes of an A6 page with edges of 6 mm, its title above it."""
_PAGE_MM = 115.0
"""Most that a picture may take whose numbers want more than its edges: it is set smaller."""


def threading_card_pdf(plan: ThreadingPlan, under: Mapping[str, str], *, made: datetime) -> bytes:
    """Set the card of a checked plan.

    Parameters
    ----------
    plan
        As `ironlace.running.threading.plan.checked_plan` returns it.
    under
        By name of a picture, its ``data:`` address; left out, it is a bare sheet.
    made
        The day it is made.

    Raises
    ------
    DossierError
        When the page cannot be set.
    """
    drawn = panels(plan, _WIDE_MM, _HIGH_MM, under, close=True)
    files = {f"panel-{n}.svg": panel.svg().encode("utf-8") for n, panel in enumerate(drawn)}
    words = steps_in_words(plan)
    shown = [
        {
            "picture": panel.name,
            "file": f"panel-{n}.svg",
            "name": panel.name if len(drawn) > 1 else "",
            "says": panel.says,
            "width": panel.width_mm * min(1.0, _PAGE_MM / panel.height_mm),
        }
        for n, panel in enumerate(drawn)
    ]
    data: dict[str, Any] = {
        "title": plan.title,
        "made": made.date().isoformat(),
        "threads": [
            {
                "title": capital(told),
                "panels": [
                    one for one in shown if plan.on(str(one["picture"]))[0].thread == thread
                ],
                "steps": [_step(one, words) for one in plan.of_thread(thread)],
            }
            for thread, told in THREADS.items()
            if plan.of_thread(thread)
        ],
        "open": list(not_said(plan)),
    }
    return typeset("threading_card.typ", data, made=made, files_beside=files)


def _step(point: ThreadPoint, words: Mapping[int, str]) -> dict[str, str]:
    return {
        "number": str(point.number),
        "says": words[point.number],
        "known": known_in_words(point),
    }
