import cv2
import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, captured
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.live_check import live_check
from ironlace.marks.capture.one_plate import agreement_of, copies_in, plates_in
from ironlace.marks.capture.registering import Move
from ironlace.marks.errors import MarksError


def lit(plate, way, *, seed=0):
    """A height under a low torch, by its slope alone; noise as of a camera."""
    down, right = np.gradient(plate)
    light = 0.5 - 0.5 * (np.cos(way) * right + np.sin(way) * down)
    noise = np.random.default_rng(seed).normal(0, 0.01, plate.shape)
    return (255 * np.clip(light + noise, 0, 1)).astype(np.uint8)


def plate_of_pits(seed):
    rng = np.random.default_rng(seed)
    plate = np.zeros((240, 400), np.float32)
    for x, y, r in zip(*rng.uniform((0, 0, 2), (400, 240, 6), (150, 3)).T, strict=True):
        cv2.circle(plate, (int(x), int(y)), int(r), -1.0, -1)
    return cv2.GaussianBlur(plate, (0, 0), 1.5)


def under_torches(plate, count=6):
    return [lit(plate, 2 * np.pi * k / count, seed=k) for k in range(count)]


@pytest.mark.parametrize(
    "strange",
    [
        lambda own, other: other,
        lambda own, other: own[::-1, ::-1].copy(),
        lambda own, other: own[:, ::-1].copy(),
        lambda own, other: np.roll(own, 30, axis=1),
    ],
    ids=["another plate", "turned", "mirrored", "moved"],
)
def test_one_stranger_is_told_from_the_rest(strange):
    own, other = under_torches(plate_of_pits(1)), under_torches(plate_of_pits(2))
    own[3] = strange(own[3], other[3])
    moves = [Move()] * 6
    assert plates_in(agreement_of(own, moves, []).detail) == [[0, 1, 2, 4, 5], [3]]


def test_a_known_move_of_the_camera_makes_no_stranger():
    own = under_torches(plate_of_pits(1))
    own[2] = np.roll(own[2], 30, axis=1)
    moves = [Move()] * 2 + [Move((30.0, 0.0))] + [Move()] * 3
    assert plates_in(agreement_of(own, moves, []).detail) == [list(range(6))]


def test_two_plates_half_and_half_are_two():
    both = under_torches(plate_of_pits(1))[:3] + under_torches(plate_of_pits(2))[3:]
    assert plates_in(agreement_of(both, [Move()] * 6, []).detail) == [[0, 1, 2], [3, 4, 5]]


def test_metal_without_detail_is_no_proof_of_two():
    bare = under_torches(np.zeros((240, 400), np.float32))
    assert len(plates_in(agreement_of(bare, [Move()] * 6, []).detail)) == 1


def test_a_copy_saved_anew_is_known_and_neighbours_are_not():
    own = under_torches(plate_of_pits(1))
    _, coded = cv2.imencode(".jpg", own[1], [cv2.IMWRITE_JPEG_QUALITY, 85])
    own.append(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE))
    assert copies_in(agreement_of(own, [Move()] * 7, []).lit) == {6: 1}


def stained(frames):
    """The plate of the room's photographs with stains in one place, its balls clean."""
    rng = np.random.default_rng(6)
    light = np.ones(frames.shape, np.float32)
    for x, y, r in zip(*rng.uniform((110, 20, 2), (350, 280, 5), (160, 3)).T, strict=True):
        cv2.circle(light, (int(x), int(y)), int(r), 0.6, -1)
    light = cv2.GaussianBlur(light, (0, 0), 0.8)
    return Frames(frames.names, tuple((f * light).astype(np.uint8) for f in frames.pictures))


def test_strangers_are_left_out_or_refused_and_the_check_says_so(frames):
    frames = stained(frames)
    turned = [frame[::-1, ::-1].copy() for frame in frames.pictures]
    one = Frames(frames.names, (*frames.pictures[:4], turned[4], *frames.pictures[5:]))
    found = captured(one, CaptureAsked())
    assert [n for n, why in enumerate(found.why) if "what the rest show" in why] == [4]
    looked = live_check(one)
    assert not looked.enough
    assert looked.faults[0].startswith("04.png: not what the rest show")
    with pytest.raises(MarksError, match="do not show one plate"):
        captured(Frames(frames.names, (*frames.pictures[:5], *turned[5:])), CaptureAsked())


def test_photographs_all_out_of_focus_are_told_first(frames):
    soft = Frames(frames.names, tuple(cv2.GaussianBlur(f, (0, 0), 2.2) for f in frames.pictures))
    looked = live_check(soft)
    assert not looked.enough
    assert "out of focus" in looked.faults[0]
    try:
        said = " ".join(captured(soft, CaptureAsked()).notices)
    except MarksError as refused:
        said = str(refused)
    assert "All photographs are out of focus" in said
