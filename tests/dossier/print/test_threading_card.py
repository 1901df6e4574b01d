from datetime import UTC, datetime

import numpy as np
import pypdfium2
import pytest

from ironlace.dossier.print.picture_address import picture_address
from ironlace.dossier.print.threading_card import threading_card_pdf
from ironlace.running.threading.plan import (
    PlanPicture,
    ThreadingPlan,
    ThreadPoint,
    checked_plan,
)


def test_the_card_is_a6_with_its_picture_and_steps_in_large_type():
    points = (
        ThreadPoint(1, (60.0, 40.0), "spool", "top", known="seen"),
        ThreadPoint(2, (30.0, 30.0), "pin", "left", what="pin [#1] $x$"),
        ThreadPoint(3, (50.0, 50.0), "bobbin", "top", thread="shuttle", known="guess"),
        ThreadPoint(4, (20.0, 60.0), "needle plate", thread="shuttle", known="guess"),
    )
    plan = checked_plan(ThreadingPlan("Head", (PlanPicture("p", 100, 80),), points))
    blue = np.full((80, 100, 3), (20, 40, 200), np.uint8)
    with pypdfium2.PdfDocument(
        threading_card_pdf(
            plan, {"p": picture_address(blue)}, made=datetime(1894, 4, 12, tzinfo=UTC)
        )
    ) as pdf:
        mm = [side / 72.0 * 25.4 for side in pdf[0].get_size()]
        assert mm == pytest.approx([105.0, 148.0], abs=0.01)
        text = " ".join(page.get_textpage().get_text_range() for page in pdf).split()
        shown = np.asarray(pdf[0].render(scale=2).to_pil())
    said = " ".join(text)
    for words in (
        "Round the left of the pin [#1] $x$.",
        "how it is known is not said",
        "Put the bobbin in, the thread coming off the top.",
        "The shuttle thread, from the bobbin to the needle plate",
        "Made 1894-04-12",
    ):
        assert words in said
    # the photograph lies under the thread, at the size the page was given
    is_blue = (shown[..., 2] > 150) & (shown[..., 0] < 90)
    across = np.flatnonzero(is_blue.any(axis=0))
    assert (across[-1] - across[0]) / 2.0 / 72.0 * 25.4 > 60.0
