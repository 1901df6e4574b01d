import cv2
import numpy as np
import pytest

from ironlace.care.thread_edges import _mirrored_about


def screw(head, shank, turned_deg, dented=False):
    """A screw's outline filled in: half breadth and length of head and shank, turned."""
    head_half, head_long = head
    shank_half, shank_long = shank
    x = [0, head_long, head_long, head_long + shank_long]
    crests = np.linspace(head_long, head_long + shank_long, 15)[1:-1]
    upper = [(x[0], head_half), (x[1], head_half)]
    upper += [(at, shank_half - 3 * (n % 2)) for n, at in enumerate(crests)]
    lower = [(at, -shank_half + 3 * ((n + 1) % 2)) for n, at in enumerate(crests)][::-1]
    points = np.array([*upper, (x[3], shank_half), (x[3], -shank_half), *lower,
                       (x[1], -head_half), (x[0], -head_half)], dtype=float)  # fmt: skip
    if dented:
        points[1, 1] -= 0.35 * head_half
    angle = np.radians(turned_deg)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    shape = np.zeros((420, 460), np.uint8)
    centred = (points - points.mean(axis=0)) @ turn + (230, 210)
    cv2.fillPoly(shape, [np.round(centred).astype(np.int32)], 1)
    return shape.astype(bool)


def off_deg(found, turned_deg):
    return abs((np.degrees(np.arctan2(found[1], found[0])) - turned_deg + 90.0) % 180.0 - 90.0)


@pytest.mark.parametrize("turned", [-80.0, -37.0, 0.0, 11.5, 64.0])
@pytest.mark.parametrize("long", [70, 110, 150])
def test_a_short_screw_with_a_wide_head_lies_along_the_line_that_halves_it(long, turned):
    # the longest way of such a shape is its head's, its shank's or, between them, a slant
    found = _mirrored_about(screw((90, 45), (45, long), turned), np.array([1.0, 0.0]))
    assert off_deg(found, turned) < 1.0


def test_a_dent_in_the_head_turns_it_little_and_a_rod_lies_along_its_longer_way():
    assert off_deg(_mirrored_about(screw((90, 45), (45, 110), 20.0, dented=True), None), 20.0) < 3.0
    assert off_deg(_mirrored_about(screw((45, 45), (45, 110), -30.0), None), -30.0) < 1.0


def test_what_is_no_mirror_image_of_itself_keeps_its_longest_way():
    shape = np.zeros((200, 200), bool)
    shape[20:180, 20:60] = shape[140:180, 20:180] = shape[20:40, 60:120] = True
    otherwise = np.array([0.6, 0.8])
    assert _mirrored_about(shape, otherwise) is otherwise
