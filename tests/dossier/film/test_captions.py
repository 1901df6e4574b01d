"""Chapters as they are typed, and captions that a reader of WebVTT takes."""

import re
from io import StringIO

import numpy as np
import pytest
import webvtt

from ironlace.dossier.film.captions import (
    FilmError,
    captioned,
    captions_vtt,
    chapters_vtt,
    read_chapters,
)
from ironlace.dossier.film.scenes import Said, Scene
from ironlace.evidence.grades import Grade

SCENE = Scene(
    "marks",
    "The marks",
    (
        Said("B°93·217, on the bed.", Grade.SEEN, "mark 1"),
        Said("It was struck <by hand> & never --> filed.", Grade.INFERRED, "statement 1"),
        Said("What is the letter for?", None, "question 1"),
    ),
)


def vtt_cues(text):
    """Read WebVTT by the grammar of the standard (section 4, file structure), line by line."""
    assert text.startswith("WEBVTT\n\n") and "\0" not in text and "\r" not in text
    stamp = r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})"
    cues = []
    for block in text.removeprefix("WEBVTT\n\n").rstrip("\n").split("\n\n"):
        identifier, timing, *payload = block.split("\n")
        assert "-->" not in identifier
        found = re.fullmatch(f"{stamp}[ \t]+-->[ \t]+{stamp}", timing)
        assert found, timing
        parts = [int(part or 0) for part in found.groups()]
        start, end = (3600 * h + 60 * m + s + t / 1000 for h, m, s, t in (parts[:4], parts[4:]))
        assert end > start
        assert not cues or start >= cues[-1][0]
        assert payload and all(payload)
        for line in payload:
            assert "-->" not in line and "<" not in line
            assert re.fullmatch(
                r"(?:[^&<]|&(?:amp|lt|gt|lrm|rlm|nbsp|#\d+|#x[0-9a-fA-F]+);)*", line
            )
        cues.append((start, end, payload))
    return cues


def unescaped(lines):
    text = " ".join(lines)
    return text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")


def test_captions_say_each_sentence_with_its_grade_in_its_chapter():
    chapters = read_chapters("0:05 An opening\n0:20 marks: Its number\n1:10 end\n", [SCENE])
    cues = vtt_cues(captions_vtt(captioned(chapters)))
    told = " ".join(unescaped(lines) for _, _, lines in cues)
    assert told == (
        "An opening Its number B°93·217, on the bed. (seen) It was struck <by hand> & never --> "
        "filed. (inferred) What is the letter for?"
    )
    assert cues[0][0] == 5.0 and cues[1][0] == 20.0 and cues[-1][1] <= 70.0
    assert all(len(unescaped([line])) <= 37 for _, _, lines in cues for line in lines)
    assert all(len(lines) <= 2 for _, _, lines in cues)


def test_each_caption_stands_long_enough_to_be_read():
    chapters = read_chapters("0:00 marks", [SCENE])
    for start, end, lines in vtt_cues(captions_vtt(captioned(chapters))):
        assert end - start >= max(1.5, sum(len(unescaped([one])) for one in lines) / 15) - 0.002


def test_what_has_no_time_is_left_out_and_told():
    captions = captioned(read_chapters("0:00 marks\n0:05 end", [SCENE]))
    ((chapter, said),) = captions.left_out
    assert chapter.title == "The marks" and [one.name for one in said] == ["statement 1"]
    assert captions.cues[-1].end <= 5.0
    assert captioned(read_chapters("0:00 marks", [SCENE])).left_out == ()


def test_chapters_follow_one_another_to_the_end():
    chapters = read_chapters("0:00 A < B\n 59:59.5  marks \n1:00:00,250 C\n100:00:00 end", [SCENE])
    assert vtt_cues(chapters_vtt(chapters)) == [
        (0.0, 3599.5, ["A &lt; B"]),
        (3599.5, 3600.25, ["The marks"]),
        (3600.25, 360000.0, ["C"]),
    ]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("marks", "no time"),
        ("0:60 a", "no time"),
        ("1:60:00 a", "no time"),
        ("-0:01 a", "no time"),
        ("0:0 a", "no time"),
        ("1 a", "no time"),
        ("0:00", "names no chapter"),
        ("0:00 \u200b", "names no chapter"),
        ("0:00 " + "x" * 201, "too long"),
        ("0:10 a\n0:10 b", "times go up"),
        ("0:10 a\n0:05 b", "times go up"),
        ("0:10 a\n0:20 end\n0:30 b", "after the end"),
        ("0:10 end", "no chapter"),
        ("200:00:00 a", "no film is so long"),
        ("\u0660:\u0661\u0661 a", "no time"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_sentence(typed, says):
    with pytest.raises(FilmError, match=says) as refused:
        read_chapters(typed, [SCENE])
    assert str(refused.value).count("\n") == 0


def test_a_line_of_the_record_cannot_break_the_file():
    """Words of any sort at all, many times over."""
    rng = np.random.default_rng(20)
    odd = [*"a b<>&-\n\r\0\u2028\u202e\ud800\u00e9", "-->", "\n\n", "NOTE", "WEBVTT"]
    for _ in range(200):
        words = "".join(rng.choice(odd, size=int(rng.integers(1, 60))))
        scene = Scene("x", "X", (Said(words, Grade.SEEN, "mark 1"),))
        chapters = read_chapters("0:00 x", [scene])
        vtt_cues(captions_vtt(captioned(chapters)).encode().decode())


def test_a_reader_of_webvtt_takes_both_files():
    chapters = read_chapters("0:00 marks\n1:00 end", [SCENE])
    captions = captioned(chapters)
    read = list(webvtt.from_buffer(StringIO(captions_vtt(captions))))
    assert len(read) == len(captions.cues)
    assert len(list(webvtt.from_buffer(StringIO(chapters_vtt(chapters))))) == 1
