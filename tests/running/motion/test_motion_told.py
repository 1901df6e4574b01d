"""What is told of readings that are whole, and of those that something spoilt."""

from dataclasses import replace

import numpy as np
import pytest

import turned_heads
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.running.errors import ContradictionError, RunningError
from ironlace.running.motion.motion_asked import MotionAsked
from ironlace.running.motion.motion_doubts import doubts_of
from ironlace.running.motion.motion_told import MOTION


def table(read, grade=Grade.MEASURED, **more):
    """Readings as an analysis takes them; NaN is a gap."""
    units = {"wheel": "deg", "opposite": "deg", "way": ""}
    columns = [
        KnownColumn(
            name,
            units.get(name, "mm"),
            tuple(None if np.isnan(v) else float(v) for v in values),
        )
        for name, values in (read | more).items()
    ]
    return KnownTable(tuple(columns), grade, "readings 1")


def told(readings, **asked):
    said = {"turning": "rise", **asked}
    found = MOTION.work(Nothing(), MotionAsked(readings, **said), Steps())
    return MOTION.answer(found)


def head(seed=5, family="cranked"):
    rng = np.random.default_rng(seed)
    return turned_heads.head(family, rng), rng


def evening(made, rng, motions=("needle bar",), count=24, **how):
    turns = np.arange(count) * 360.0 / count + 4.0
    return turned_heads.readings(made, turns, motions, rng, **how)


def timing(made, rng, **how):
    """The fourteen settings that the manual asks for, and a second pointer."""
    low = made.lowest("needle bar")
    alone = low + np.array([-10, -6, -2, 2, 6, 10, -90, 90.0])
    pairs = made.meets_at + np.array([-10, -6, -2, 2, 6, 10.0])
    turns = np.concatenate((alone, pairs))
    read, wrong = turned_heads.readings(made, turns, ("needle bar", "shuttle"), rng, **how)
    read["shuttle"][: len(alone)] = np.nan
    return read, wrong


def test_whole_readings_give_stroke_and_dead_centres_near_the_truth():
    made, rng = head()
    read, _ = evening(made, rng, misread=0.0)
    answer = told(table(read))
    stroke = next(r for r in answer.results if r.name == "stroke of the needle bar")
    assert abs(stroke.value - made.stroke("needle bar")) < 0.35
    bottom = next(r for r in answer.results if r.name == "bottom dead centre")
    assert abs((bottom.value - made.lowest("needle bar") + 180) % 360 - 180) < 2.2
    assert stroke.grade is Grade.INFERRED
    assert answer.figures["moved"] == []
    assert answer.figures["backlash_deg"] == {}


def test_the_rise_at_the_meeting_comes_first_with_what_to_move():
    made, rng = head(5)
    read, _ = timing(made, rng, misread=0.0)
    answer = told(
        table(read),
        meeting=Known(made.meeting, 0.05, "mm"),
        rise_low=Known(made.rise + 1.0, None, "mm"),
        rise_high=Known(made.rise + 1.5, None, "mm"),
        eye_below=Known(made.rise + 2.6, 0.1, "mm"),
        eye_low=Known(0.5, None, "mm"),
        eye_high=Known(1.0, None, "mm"),
    )
    assert answer.results[0].name == "needle rise at the meeting"
    assert abs(answer.results[0].value - made.rise) < 0.3
    assert answer.sentences[0].startswith("When the shuttle's point meets the needle")
    said = " ".join(answer.sentences)
    assert "set the shuttle to come later by" in said
    assert "your own limits" in said
    assert "raise the needle bar in its clamp by" in said


@pytest.mark.parametrize("rise", [0.1, 9.0])
def test_a_rise_at_which_nothing_sews_is_doubted_first_and_moves_nothing(rise):
    made, rng = head(5)
    read, _ = timing(made, rng, misread=0.0)
    at = made.lowest("needle bar") + np.linspace(0.0, 120.0, 4001)
    risen = made.at("needle bar", at) - made.at("needle bar", made.lowest("needle bar"))
    where = at[np.searchsorted(risen, rise)]
    turns = np.concatenate((read["wheel"][:8], where + np.array([-10, -6, -2, 2, 6, 10.0])))
    read, _ = turned_heads.readings(made, turns, ("needle bar", "shuttle"), rng, misread=0.0)
    read["shuttle"][:8] = np.nan
    meeting = Known(float(made.at("shuttle", where)), 0.05, "mm", Grade.MEASURED)
    answer = told(table(read), meeting=meeting)
    assert "nothing sews" in answer.sentences[1]
    assert answer.results[0].grade is Grade.CONJECTURED
    assert "set the shuttle to come" not in " ".join(answer.sentences)
    # limits of one's own that reach so far are believed
    own = told(table(read), meeting=meeting, rise_low=Known(rise, None, "mm"))
    assert "nothing sews" not in " ".join(own.sentences)


def test_without_limits_of_ones_own_those_of_rotary_hooks_are_called_so():
    made, rng = head(5)
    read, _ = timing(made, rng, misread=0.0)
    answer = told(table(read), meeting=Known(made.meeting, 0.05, "mm"))
    assert "none is printed for a long or vibrating shuttle" in " ".join(answer.sentences)


def test_a_misread_value_is_named_with_what_the_others_say():
    made, rng = head(8)
    read, _ = evening(made, rng, misread=0.0)
    read["needle bar"][10] += 10.0
    answer = told(table(read))
    assert [(one["row"], one["column"]) for one in answer.figures["misread"]] == [
        (11, "needle bar")
    ]
    assert "Taken for misread and left out was: row 11" in " ".join(answer.sentences)
    stroke = answer.figures["motions"]["needle bar"]["stroke_mm"]
    assert stroke["low"] - 0.2 < made.stroke("needle bar") < stroke["high"] + 0.2


def test_two_misread_values_that_hide_one_another_are_no_slip():
    wheel = [-5.5, -1.5, 2.5, 6.5, 10.5, 14.5, -85.5, 94.5, 22.2, 26.2, 30.2, 34.2, 38.2, 42.2]
    bar = [-52.3, -62.6, -52.6, -52.6, -52.5, -52.4, -36.0, -34.4]
    bar += [-51.1, -50.7, -49.8, -49.5, -49.6, -47.7]
    shuttle = [np.nan] * 8 + [7.1, 16.0, 14.3, 13.7, 13.1, 10.5]
    read = {name: np.array(v) for name, v in (("wheel", wheel), ("needle bar", bar))}
    figures = told(table({**read, "shuttle": np.array(shuttle)}), meeting=Known(14.0, 0.1, "mm"))
    assert not figures.figures["moved"]
    odd = {(one["row"], one["column"]) for one in figures.figures["misread"]}
    assert odd == {(2, "needle bar"), (9, "shuttle")}


def test_a_disc_off_centre_is_told_and_two_pointers_are_free_of_it():
    made, rng = head(11)
    read, _ = evening(made, rng, misread=0.0, disc_mm=4.0, deg=0.5)
    answer = told(table(read))
    assert abs(answer.figures["disc_off_centre_deg"] - np.degrees(4.0 / 60.0)) < 0.6
    assert "off centre" in " ".join(answer.sentences[:3])
    bottom = answer.figures["motions"]["needle bar"]["lowest_deg"]
    assert abs((bottom["value"] - made.lowest("needle bar") + 180) % 360 - 180) < 1.0


def test_one_pointer_alone_is_said_in_the_first_sentences_and_angles_are_conjectured():
    made, rng = head(11)
    read, _ = evening(made, rng, misread=0.0)
    del read["opposite"]
    answer = told(table(read))
    assert any(s.startswith("One pointer alone") for s in answer.sentences[:3])
    grades = {r.name: r.grade for r in answer.results}
    assert grades["bottom dead centre"] is Grade.CONJECTURED
    assert grades["stroke of the needle bar"] is Grade.INFERRED


def test_a_doubted_centring_is_reckoned_with():
    made, rng = head(11)
    read, _ = evening(made, rng, misread=0.0, disc_mm=3.0)
    del read["opposite"]
    answer = told(table(read), centring=Known(3.0, None, "deg"))
    bottom = answer.figures["motions"]["needle bar"]["lowest_deg"]
    off = (made.lowest("needle bar") - bottom["value"] + 180.0) % 360.0 - 180.0
    assert bottom["low"] < bottom["value"] + off < bottom["high"]
    assert not any(s.startswith("One pointer alone") for s in answer.sentences)


@pytest.mark.parametrize("row", [8, 14])
def test_a_disc_that_turned_is_told_from_its_row_on(row):
    made, rng = head(3)
    read, _ = evening(made, rng, misread=0.0, deg=1.0)
    for name in ("wheel", "opposite"):
        read[name][row:] += 14.0
    answer = told(table(read))
    (moved,) = answer.figures["moved"]
    assert moved["what"] == "wheel"
    assert abs(moved["from_row"] - 1 - row) <= 1
    assert "as if the disc had turned" in answer.sentences[1]
    assert answer.results[0].grade is Grade.CONJECTURED


def test_a_bar_that_slipped_is_told_from_its_row_on():
    made, rng = head(4)
    read, _ = evening(made, rng, misread=0.0, deg=0.7)
    read["needle bar"][12:] -= 3.0
    answer = told(table(read))
    (moved,) = answer.figures["moved"]
    assert moved["what"] == "needle bar"
    assert "slipped" in answer.sentences[1]


def test_backlash_is_allowed_for_when_the_way_is_told():
    made, rng = head(6)
    read, _ = evening(made, rng, misread=0.0, deg=1.0, count=36)
    way = np.where(np.arange(36) % 2, -1.0, 1.0)
    for name in ("wheel", "opposite"):
        read[name][way < 0] += 7.0
    answer = told(table(read, way=way))
    lag = answer.figures["backlash_deg"]["needle bar"]
    assert lag["low"] < -7.0 < lag["high"]
    bottom = answer.figures["motions"]["needle bar"]["lowest_deg"]
    assert abs((bottom["value"] - made.lowest("needle bar") + 180) % 360 - 180) < 1.5


def test_backlash_that_nobody_told_of_is_noticed_in_the_order_of_the_rows():
    made, rng = head(6)
    up = np.arange(0.0, 360.0, 20.0)
    turns = np.concatenate((up, up[::-1] + 10.0))
    read, _ = turned_heads.readings(made, turns, ("needle bar",), rng, misread=0.0, deg=1.0)
    for name in ("wheel", "opposite"):
        read[name][len(up) :] += 8.0
    answer = told(table(read))
    said = " ".join(answer.sentences[:3])
    assert "backlash" in said or "as if the disc had turned" in said
    assert answer.results[0].grade is Grade.CONJECTURED


def test_numbers_that_fall_tell_the_same_of_the_machine():
    made, rng = head(9)
    read, _ = timing(made, rng, misread=0.0)
    rising = told(table(read), meeting=Known(made.meeting, 0.05, "mm"))
    fallen = dict(read, wheel=360.0 - read["wheel"], opposite=360.0 - read["opposite"])
    falling = told(table(fallen), meeting=Known(made.meeting, 0.05, "mm"), turning="fall")
    one, other = (a.figures["meeting"]["rise_mm"]["value"] for a in (rising, falling))
    assert one == pytest.approx(other, abs=1e-6)


def test_too_few_angles_tell_no_stroke_of_a_cam():
    made, rng = head(2)
    read, _ = evening(made, rng, ("take-up",), count=8, misread=0.0)
    answer = told(table(read))
    assert answer.sentences[0].startswith("No stroke of the take-up is told")
    assert answer.results == ()


def test_a_way_of_turning_that_nobody_said_is_told_as_taken_and_graded_so():
    made, rng = head(seed=11)
    read, _ = timing(made, rng, misread=0.0)
    answers = [
        told(table(read), meeting=Known(made.meeting, 0.05, "mm", Grade.MEASURED), turning=way)
        for way in ("unsaid", "rise")
    ]
    rises = [
        next(r for r in one.results if r.name == "needle rise at the meeting") for one in answers
    ]
    assert rises[0].value == rises[1].value
    assert rises[0].grade is Grade.CONJECTURED
    assert "was not said: they were taken to rise" in answers[0].sentences[1]
    assert not any("was not said" in one for one in answers[1].sentences)


def test_a_turning_point_between_readings_is_told():
    made, rng = head(2)
    top = made.highest("take-up")
    turns = top + np.concatenate((np.arange(-180.0, -20.0, 12.0), np.arange(22.0, 180.0, 12.0)))
    read, _ = turned_heads.readings(made, turns, ("take-up",), rng, misread=0.0, deg=1.0)
    answer = told(table(read))
    said = " ".join(answer.sentences)
    assert "from the nearest reading" in said or "No stroke" in said


def test_a_bar_that_no_crank_drives_is_told_to_depart():
    made, rng = head(1)
    turns = np.arange(36) * 10.0
    read, _ = turned_heads.readings(made, turns, ("needle bar",), rng, misread=0.0, deg=1.0)
    read["needle bar"] += 1.2 * np.sin(2.0 * np.radians(turns))
    answer = told(table(read))
    assert "departs from a crank's motion" in " ".join(answer.sentences[:3])


def test_a_bar_driven_by_a_heart_shaped_cam_is_told_as_a_cams():
    degrees = np.arange(0.0, 360.0, 12.0)
    even = np.abs(np.mod(degrees - 100.0, 360.0) - 180.0) / 180.0
    rng = np.random.default_rng(4)
    height = 30.0 * even + rng.normal(0.0, 0.3, len(degrees))
    read = {"wheel": degrees, "opposite": degrees, "needle bar": height}
    answer = told(table(read))
    assert "follows no crank and link" in " ".join(answer.sentences[:3])
    assert len(answer.figures["misread"]) <= 1


def test_the_plot_marks_misread_values_by_shape():
    made, rng = head(8)
    read, _ = evening(made, rng, misread=0.0)
    read["needle bar"][10] += 10.0
    (plot,) = told(table(read)).plots
    assert plot.svg.count("<circle") == 23
    assert "crosses" in plot.sentences[0]


@pytest.mark.parametrize("seed", [0, 9])
def test_no_rise_is_told_of_a_bar_that_a_cam_more_likely_drives(seed):
    made, rng = head(seed, "hearted")
    read, _ = timing(made, rng)
    answer = told(table(read), meeting=Known(made.meeting, 0.05, "mm"))
    assert answer.figures["meeting"] is None
    why = answer.figures["meeting_not_told"]
    assert "driven by a cam" in why
    assert "more readings of the bar" in why
    assert why in answer.sentences


def test_fourteen_settings_of_a_crank_leave_a_cam_unlikely():
    made, rng = head(2)
    read, _ = timing(made, rng, misread=0.0)
    answer = told(table(read), meeting=Known(made.meeting, 0.05, "mm"))
    assert answer.figures["meeting"]["cam_share"] < 0.05
    assert "driven by a cam" not in " ".join(answer.sentences)


def test_a_cam_that_may_drive_the_bar_is_said_and_the_rise_is_conjectured():
    made, rng = head(2)
    read, _ = timing(made, rng, misread=0.0)
    found = MOTION.work(
        Nothing(), MotionAsked(table(read), meeting=Known(made.meeting, 0.05, "mm")), Steps()
    )
    answer = MOTION.answer(replace(found, cam_share=0.3))
    assert "driven by a cam cannot be told" in " ".join(answer.sentences[:3])
    assert "more readings of the bar" in " ".join(answer.sentences[:3])
    assert answer.results[0].grade is Grade.CONJECTURED


def test_a_cam_is_not_told_as_a_bar_that_slipped():
    made, rng = head(2)
    low = made.lowest("needle bar")
    near = np.array([-10, -6, -2, 2, 6, 10.0])
    turns = np.concatenate((low + near, low + np.array([-90.0, 90.0]), made.meets_at + near))
    read, _ = turned_heads.readings(made, turns, ("needle bar", "shuttle"), rng, misread=0.0)
    read["shuttle"][:8] = np.nan
    read["needle bar"][8:] += 1.2  # higher from the first pair on: slipped, or a sharper bottom
    answer = told(table(read), meeting=Known(made.meeting, 0.05, "mm"))
    met = answer.figures["meeting"]
    assert met is None or answer.results[0].grade is Grade.CONJECTURED


def test_a_step_beside_backlash_is_told_and_not_mixed_up():
    made, rng = head(6)
    up = np.arange(0.0, 360.0, 15.0)
    turns = np.concatenate((up, up[::-1] + 8.0))
    read, _ = turned_heads.readings(made, turns, ("needle bar",), rng, misread=0.0, deg=0.6)
    way = np.where(np.arange(48) < 24, 1.0, -1.0)
    for name in ("wheel", "opposite"):
        read[name][way < 0] += 6.0
    read["needle bar"][36:] -= 4.0
    answer = told(table(read, way=way))
    assert answer.figures["backlash_deg"]
    assert answer.results[0].grade is Grade.CONJECTURED


@pytest.mark.parametrize(("what", "by"), [("wheel", 9.0), ("needle bar", 1.5)])
def test_what_moved_shows_once_some_settings_are_read_again(what, by):
    rng = np.random.default_rng(12)
    made = turned_heads.head("cranked", rng)
    turns = np.concatenate((np.arange(0.0, 360.0, 15.0), (0.0, 90.0, 180.0, 270.0)))
    read, _ = turned_heads.readings(made, turns, ("needle bar",), rng, misread=0.0)
    read[what][13:] += by
    if what == "wheel":
        read["opposite"][13:] += by
    again = " ".join(told(table(read)).sentences)
    assert ("From row 14 on" if what == "wheel" else "Taken for misread") in again
    once = told(table({name: values[:24] for name, values in read.items()})).sentences
    assert any("pass unnoticed" in s or "It may be that" in s or "From row" in s for s in once)


def test_radians_counted_on_from_more_than_a_turn_are_refused():
    turns = np.radians(np.arange(0.0, 360.0, 15.0)) + 3.0
    with pytest.raises(RunningError, match="looks like radians"):
        told(table({"wheel": turns, "needle bar": np.cos(turns)}))


def random_heights(kind, rng, count=24):
    if kind == "even":
        return rng.uniform(5.0, 35.0, count)
    if kind == "a part at rest":
        return 20.0 + 0.1 * rng.standard_normal(count)
    made = turned_heads.head("cranked", rng)
    return rng.permutation(evening(made, rng, count=count)[0]["needle bar"])


@pytest.mark.parametrize("kind", ["even", "a part at rest", "rows mixed up"])
def test_numbers_that_follow_no_wheel_have_no_stroke(kind):
    rng = np.random.default_rng(4)
    for _ in range(3):
        heights = np.round(random_heights(kind, rng), 1)
        with pytest.raises(RunningError, match="No motion is found: the readings of the needle"):
            told(table({"wheel": np.arange(0.0, 360.0, 15.0), "needle bar": heights}))


def test_a_part_that_does_not_move_is_told_first_and_the_others_are_told():
    made, rng = head()
    read, _ = evening(made, rng, misread=0.0)
    read["feed"] = np.round(3.0 + 0.1 * rng.standard_normal(24), 1)
    answer = told(table(read))
    assert answer.sentences[0].startswith("The readings of the feed follow the wheel no better")
    assert answer.figures["no_motion_found"] == ["feed"]
    assert answer.results[0].name == "stroke of the needle bar"


def test_angles_and_heights_in_each_others_columns_are_refused_as_such():
    made, rng = head()
    read, _ = evening(made, rng)
    swapped = {"wheel": read["needle bar"], "needle bar": read["wheel"]}
    with pytest.raises(RunningError, match="the two columns seem to be swapped"):
        told(table(swapped))


def test_a_bar_read_in_inches_as_millimetres_is_doubted_first():
    made, rng = head()
    read, _ = evening(made, rng, misread=0.0)
    read["needle bar"] = np.round(read["needle bar"] / 25.4, 3)
    answer = told(table(read), height_error=Known(0.005, None, "mm"))
    assert "it was read in inches" in answer.sentences[1]


def test_what_harms_the_answer_most_is_said_first():
    made, rng = head(11)
    read, _ = evening(made, rng, misread=0.0)
    answer = told(table(read))
    assert answer.sentences[1].startswith("Hardly an early setting was read again")
    del read["opposite"]
    doubts = doubts_of(MOTION.work(Nothing(), MotionAsked(table(read), meeting=None), Steps()))
    assert [one.harm for one in doubts] == sorted(one.harm for one in doubts)
    # a slip of a millimetre does more than half a millimetre of a disc off centre
    said = [one.says for one in doubts]
    assert said[0].startswith("Hardly an early") and said[1].startswith("One pointer")
    assert said[-1].startswith("Which way the disc's numbers run")  # no rise is told


def test_a_slip_of_a_millimetre_in_one_round_is_told_and_allowed_for():
    told_of, held, wide, plain = 0, 0, [], []
    for seed in range(4):
        made, rng = head(seed)
        read, _ = evening(made, rng, misread=0.0, deg=1.0)
        whole = told(table(read)).figures["motions"]["needle bar"]["stroke_mm"]
        read["needle bar"][11:] += 1.2
        answer = told(table(read))
        stroke = answer.figures["motions"]["needle bar"]["stroke_mm"]
        plain.append(whole["high"] - whole["low"])
        wide.append(stroke["high"] - stroke["low"])
        held += stroke["low"] <= made.stroke("needle bar") <= stroke["high"]
        if answer.figures["suspected"] or answer.figures["moved"]:
            told_of += 1
            assert answer.sentences[1].startswith(("It may be that", "From row"))
            assert answer.results[0].grade is Grade.CONJECTURED
    assert told_of >= 3
    assert held >= 3
    assert np.median(wide) > 1.5 * np.median(plain)


def test_of_three_readings_at_one_setting_the_odd_one_is_left_out():
    made, rng = head(5)
    turns = np.concatenate((np.arange(0.0, 360.0, 15.0), [90.0]))
    read, _ = turned_heads.readings(made, turns, ("needle bar",), rng, misread=0.0, deg=0.3)
    read["wheel"] = np.round(turns, 0)
    del read["opposite"]
    read["needle bar"][6] += 10.0
    with pytest.raises(ContradictionError, match="a third time") as refused:
        told(table(read))
    assert refused.value.wheel == 90.0
    third = {"wheel": [90.0], "needle bar": [read["needle bar"][24] + 0.1]}
    answer = told(table({name: np.append(values, third[name]) for name, values in read.items()}))
    assert [one["row"] for one in answer.figures["misread"]] == [7]
