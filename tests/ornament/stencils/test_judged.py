"""Finished files, judged by what a renderer shows of them; nothing of the plan is looked at.

The ornaments are of other habits than those that the planner was tried on; the same judge goes over
many more in `bench/stencils_judged.py`.
"""

import re

import numpy as np
import pytest

import judged_sheets as judge
import other_ornaments as other
from ironlace.ornament.stencils import FilledDrawing, first_asked, known_process, plan_set
from ironlace.ornament.stencils.files import files_of, tiled

FRAME = (0, 0, 30, 20)


@pytest.mark.parametrize(
    ("gap", "thin", "hung"), [(0.4, 1, True), (0.63, 1, True), (0.72, 0, True), (1.6, 0, False)]
)
def test_the_judge_sees_a_thin_web_and_what_hangs_on_one_place(gap, thin, hung):
    # a ring that is open by so much: its inside, 8 mm square, hangs in that gap alone
    a, b = 10 - gap / 2, 10 + gap / 2
    ring = f"M5 5H20V{a}H17V8H9V15H17V{b}H20V18H5Z"
    film = ~judge.painted(f'<path d="{ring}"/>', FRAME)
    assert judge.pieces_of(film) == 1
    assert len(judge.thin_webs_of(film, 0.7)) == thin
    falls = [extent for extent, *_ in judge.hung_on_one(film, 0.8)]
    assert (max(falls, default=0.0) > 8.0) == hung
    assert judge.wide_difference(film, judge.shifted(film, 2.0, 0.3)) > 0
    closed = judge.painted('<path fill-rule="evenodd" d="M5 5H20V18H5Z M9 8H17V15H9Z"/>', FRAME)
    assert judge.pieces_of(~closed) == 2


CASES = {
    "letters": (lambda: other.lettering("o & B8", 11.0), "split"),
    "maze": (lambda: other.maze(0, side=32.0), "split"),
    "rosette": (lambda: other.rosette(size=16.0), "bridges"),
    "straps": (lambda: other.straps(1, 1), "split"),
    "vine": (lambda: other.vine(1, 14), "bridges"),
}


def files_from(svg, hold, bed=""):
    made = plan_set(FilledDrawing("ornament", svg), first_asked("ornament", "film-laser", hold))
    files = {f.name: f for f in files_of(made, tiles=tiled(made.sheets, bed))}
    return made, {n: f.content().decode() for n, f in files.items() if n.endswith(".svg")}


@pytest.mark.parametrize("name", CASES)
def test_what_a_renderer_shows_of_the_files_is_what_is_told(name):
    make, hold = CASES[name]
    svg, laser = make(), known_process("film-laser")
    made, files = files_from(svg, hold)
    sheets = [files[n] for n in sorted(files) if n.startswith("sheet-")]
    window = judge.window_of(svg)
    drawn = judge.drawing_of(svg, window)
    films = [judge.film_of(text, window) for text in sheets]
    assert (
        judge.faults_of(
            films,
            drawn,
            laser.bridge_width_mm,
            laser.one_bridge_up_to_mm,
            laser.longest_tongue_mm,
        )
        == []
    )
    assert [judge.thin_webs_of(film, laser.least_web_mm) for film in films] == [[]] * len(films)
    through = [~film for film in films]
    rest = np.array(judge.worst_hands(drawn, through, 0.0))
    off = np.array(judge.worst_hands(drawn, through, laser.registration_mm))
    true, told, _ = (
        np.array([1.0 - laid["covered"], laid["stray"]]) for laid in made.report["proof"][0]["laid"]
    )
    # the renderer draws curves by chords of its own: a thousandth of a mm along every edge
    straight = not re.search(r'[CQa]|rx="', svg)
    assert rest == pytest.approx(true, abs=1e-4 if straight else 0.0015)
    added, said = sum(off - rest), sum(told - true)
    assert added == pytest.approx(said, rel=0.02, abs=1e-4 if straight else 1.2e-3)


def test_parts_for_a_bed_laid_together_are_the_sheet_within_two_hundredths():
    made, files = files_from(other.maze(5, side=26.0), "split", bed="36x36")
    window = judge.window_of(other.maze(5, side=26.0))
    held = {}
    for number in range(1, len(made.sheets) + 1):
        whole = judge.painted(judge.openings_of(files[f"sheet-{number}.svg"]), window, 64)
        names = [n for n in files if re.match(rf"part-{number}[a-z]", n)]
        assert len(names) > 1
        together = np.zeros_like(whole)
        for n in names:
            together |= judge.painted(judge.openings_of(files[n]), window, 64)
            # the register holes of one part lie where those of the other sheets' same part do
            holes = re.findall(r'<circle cx="([-\d.]+)" cy="([-\d.]+)"', files[n])
            place = re.fullmatch(r"part-\d+(.*)\.svg", n)[1]
            found = held.setdefault(place, np.array(holes, float))
            assert np.array(holes, float) == pytest.approx(found, abs=0.02)
        # a pixel is 0.016 mm: nothing two pixels wide differs
        assert not judge.wide_difference(together, whole)
