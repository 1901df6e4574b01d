import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.running.tension.tension_told import EXAMPLE, TENSION, TensionAsked

PATH = '[[point]]\nkind = "guide"\nwrap_deg = 90\n[[point]]\nkind = "discs"\n'


def told(readings=EXAMPLE, **given):
    asked = asked_from(TensionAsked, {"readings": readings} | given)
    return TENSION.answer(TENSION.work(Nothing(), asked, Steps()))


def said(answer):
    return " ".join(answer.sentences)


def test_the_eighth_comes_first_then_the_range_that_sews():
    answer = told(low="60 gf", high="100 gf", zero="0 gf")
    eighth = answer.figures["slope_gf_per_eighth"]
    assert 3.0 < eighth["value"] < 4.0
    assert answer.sentences[0].startswith("Each eighth of a turn adds")
    assert answer.figures["usable_eighths"]["value"] == pytest.approx(
        40.0 / eighth["value"], rel=0.05
    )
    assert "cannot be told apart" in said(answer)


def test_discs_that_stick_are_told_first_and_graded_lower():
    rows = ["0;14", "0;21", "1;30", "1;52", "2;50", "2;85", "3;70", "3;120", "4;150"]
    answer = told("\n".join(["turns;tension [gf]", *rows]))
    assert "stick and slip" in answer.sentences[1]
    assert answer.results[0].grade is Grade.CONJECTURED


def test_a_zero_that_moved_is_noticed():
    first = [f"{t};{12 + 30 * t + d}" for t, d in zip(range(5), (0, 1, -1, 0, 1), strict=True)]
    later = [f"{t};{30 + 30 * t + d}" for t, d in zip(range(5), (1, 0, 0, -1, 0), strict=True)]
    answer = told("\n".join(["turns;tension [gf]", *first, *later]))
    assert "from row 6 on" in answer.sentences[0]
    assert "as if the screw's zero (by +0.59 turns)" in answer.sentences[0]
    assert all(result.grade is Grade.CONJECTURED for result in answer.results)
    assert answer.figures["zero_moved_turns"] == pytest.approx(0.6, abs=0.2)


def test_pulls_after_the_discs_were_worked_on_are_asked_the_same():
    before = [f"{t / 2};{12 + 10 * t + d};0" for t in range(9) for d in (0, 1)]
    after = [f"{t / 2};{10 + 8 * (t - 2 * (t > 5)) + d};1" for t in range(10) for d in (0, 1)]
    rows = "\n".join(["turns;tension [gf];after", *before, *after])
    answer = told(rows)
    assert "from row 31 on, at 3 turns" in answer.sentences[0]
    assert all(result.grade is Grade.CONJECTURED for result in answer.results)
    # and where nothing was read before them: the scale at its end
    ended = [f"{t / 2};{min(12 + 14 * t + d, 80)};1" for t in range(9) for d in (0, 1, 3)]
    answer = told("\n".join(["turns;tension [gf];after", *ended]))
    assert "80 gf is the highest figure" in answer.sentences[0]
    assert answer.figures["amiss"] == "the scale stood at its end"


def test_a_screw_that_lags_is_said_to_or_how_far_it_might():
    ways = [0, 1, 2, 3, 4, 3, 2, 1, 0, 1, 2, 3, 4, 3, 2, 1]
    lag = [0, -5, -6, -4, -5, 5, 6, 4, 0, -5, -4, -6, -5, 6, 4, 5]
    off = [0, 1, -1, 1, 0, -1, 1, 0, 1, 0, -1, 1, 0, -1, 0, 1]
    for by, words in (
        (lag, "The screw lags, by at most"),
        (off, "would not show in these pulls"),
    ):
        rows = [f"{t};{12 + 30 * t + d}" for t, d in zip(ways, by, strict=True)]
        answer = told("\n".join(["turns;tension [gf]", *rows]))
        assert words in said(answer)
        assert answer.figures["screw_lags"] is (by is lag)
    assert "inwards and outwards" not in said(told())


def test_a_stated_scatter_that_is_wrong_is_said_to_be():
    assert "does not agree with the readings" in said(told(scatter="0.1 gf"))
    assert "does not agree" not in said(told(scatter="2 gf"))


def test_polishing_is_judged_by_the_readings():
    before = [f"{t};{10 + 40 * t + d};0" for t in range(4) for d in (-2, 2)]
    after = [f"{t};{10 + 25 * t + d};1" for t in range(4) for d in (-1, 1)]
    answer = told("\n".join(["turns;tension [gf];after", *before, *after]))
    assert "that is sure" in said(answer)
    assert answer.figures["after"]["slope_gf_per_eighth"]["value"] < 3.6
    assert answer.plots[0].svg.count("<rect") == len(after)
    sewing = told("\n".join(["turns;tension [gf];after", *before, *after]), low="30", high="60")
    assert any(s.startswith("As it is now, 30 to 60 gf are") for s in sewing.sentences)
    (plot,) = sewing.plots
    assert "sews from 30 gf" in plot.svg
    assert plot.table[0][4] == "After, gf"


def test_the_friction_follows_only_when_the_feed_was_measured():
    assert told(path=PATH).figures["friction"] is None
    rows = ["-1;9", "-1;10", "0;9", "0;10", "1;40", "2;72", "2;70", "3;101"]
    words = "\n".join(["turns;tension [gf]", *rows])
    answer = told(words, path="feed_gf = 6\n" + PATH)
    assert answer.figures["friction"]["value"] == pytest.approx(0.28, abs=0.15)


def test_a_balance_beyond_the_readings_is_said_to_be():
    answer = told(shuttle="30 ± 2 gf")
    assert "beyond the highest setting read" in said(answer)
    assert "for rotary hooks" in said(answer)


def test_a_screw_that_changes_nothing_is_refused():
    rows = ["0;20", "1;21", "2;20", "3;19", "4;20", "4;21"]
    with pytest.raises(IronlaceError, match="hardly changes"):
        told("\n".join(["turns;tension [gf]", *rows]))


def test_limits_the_wrong_way_round_are_refused():
    with pytest.raises(IronlaceError, match="give the smaller first"):
        told(low="100 gf", high="60 gf")


def test_a_spring_that_grows_stiffer_is_told_first_and_graded_lower():
    rows = [f"{t};{10 + 12 * t * (1 + 0.25 * t) + d:.1f}" for t in range(6) for d in (-0.5, 0.5)]
    answer = told("\n".join(["turns;tension [gf]", *rows]))
    assert answer.sentences[0].startswith("The curve bends")
    assert answer.results[0].grade is Grade.CONJECTURED
    assert answer.figures["bends"] == 1
    slopes = [one["slope_gf_per_eighth"]["value"] for one in answer.figures["curve"]]
    assert slopes[-1] > 1.5 * slopes[4]


def test_a_bend_that_cannot_be_told_is_said_to_be_allowed_for():
    answer = told()
    assert answer.figures["bends"] == 0
    assert "the intervals allow for that" in " ".join(answer.sentences[:3])


def test_three_settings_are_said_to_be_and_five_are_not():
    few = [f"{t};{10 + 25 * t + d}" for t in (0, 2, 4) for d in (-1, 0, 1)]
    more = [f"{t};{10 + 25 * t + d}" for t in (0, 1, 2, 3, 4) for d in (-1, 1)]
    for rows, expected in ((few, True), (more, False)):
        sentences = told("\n".join(["turns;tension [gf]", *rows])).sentences
        assert any(s.startswith("Three settings alone") for s in sentences) is expected


@pytest.mark.parametrize(("low", "high", "read"), [(60, 100, True), (60, 400, False)])
def test_a_range_beyond_the_settings_read_says_so_and_is_conjectured(low, high, read):
    answer = told(low=f"{low} gf", high=f"{high} gf", zero="0 gf")
    assert "the tensions that sew" in answer.sentences[1]
    assert ("beyond the last setting read" in answer.sentences[2]) is not read


def test_a_zero_that_stands_elsewhere_at_the_end_is_told_first():
    crept = told(zero="0 gf", zero_end="8 gf")
    assert crept.sentences[0].startswith("The scale's zero crept by +8.0 gf")
    assert crept.results[0].grade is Grade.CONJECTURED
    stood = told(zero="0 gf", zero_end="1 gf")
    assert "crept" not in said(stood)
    assert "crept meanwhile" in said(told(zero="0 gf"))


LOOSE = "turns;tension [gf]\n" + "\n".join(
    f"{0.5 * n:g};{12 + 28 * max(0.5 * n - 1.0, 0.0) + d:g}" for n in range(7) for d in (-1, 1)
)


@pytest.mark.parametrize(
    ("check", "doubted"),
    [
        ({"felt": "1.2"}, ""),
        ({"felt": "1.6"}, "The spring was felt to take hold at 1.6 turns"),
        ({"sews_at": "2.5"}, ""),
        ({"sews_at": "1.5"}, "It sews evenly at 1.5 turns"),
    ],
)
def test_a_setting_tried_by_hand_shows_what_was_misread(check, doubted):
    answer = told(LOOSE, low="40 gf", high="60 gf", zero="0 gf", **check)
    assert answer.sentences[0].startswith(doubted or "Each eighth of a turn")
