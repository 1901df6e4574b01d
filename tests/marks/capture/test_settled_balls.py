"""When photographs are laid by the plate for their balls contradict one another."""

import numpy as np
import pytest

from ironlace.marks.capture import settled_balls
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.capture.registering import Move
from ironlace.marks.capture.settled_balls import Rims, SettledBalls


@pytest.mark.parametrize(("blur", "laid"), [(0.9, True), (1.2, False)])
def test_soft_outlines_may_contradict_one_another_by_a_share_of_their_blur(
    monkeypatch: pytest.MonkeyPatch, blur: float, laid: bool
) -> None:
    asked = []

    def moved_by_plate(*told: object) -> list[Move]:
        asked.append(told)
        return [Move((9.0, 9.0))] * 12  # which lie too far off to be taken

    monkeypatch.setattr(settled_balls, "moved_by_plate", moved_by_plate)
    balls = [Circle(20, 20, 10), Circle(60, 40, 10)]
    moves = [Move((0.0, 0.0), 0.0, 0.15)] * 12
    first = SettledBalls(balls, moves, [tuple(balls)] * 12, [""] * 12, blur, Rims({}))
    grey = np.full((64, 96), 90, np.uint8)
    frames = Frames(tuple(f"{n}.jpg" for n in range(12)), (grey,) * 12)
    table = np.linspace(0, 1, 256).astype(np.float32)
    assert settled_balls._laid_by_plate(frames, first, table) is first
    assert bool(asked) is laid
