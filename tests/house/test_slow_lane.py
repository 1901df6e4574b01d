import argparse
from types import SimpleNamespace

import pytest
from slow_lane import ALWAYS, at_rest, share

SLOW = {
    "tests/a/test_one.py::test_long": 9.0,
    "tests/a/test_one.py::test_short": 1.0,
    "tests/a/test_two.py::test_long": 6.0,
    "tests/b/test_three.py::test_cases": 2.0,
    "tests/b/test_four.py::test_long": 3.0,
    "tests/house/test_rule.py::test_it": 20.0,
}
ITEMS = [
    SimpleNamespace(nodeid=name)
    for name in (
        *(name for name in SLOW if "cases" not in name),
        *(f"tests/b/test_three.py::test_cases[{case}]" for case in "abc"),
        "tests/b/test_three.py::test_that_takes_no_time",
    )
]


ASKED = {item.nodeid for item in ITEMS}
NEVER_RESTS = {
    "tests/house/test_rule.py::test_it",
    "tests/b/test_three.py::test_that_takes_no_time",
}


def run(number, of):
    return ASKED - {item.nodeid for item in at_rest(number, of, ITEMS, SLOW)}


def test_each_slow_test_is_run_in_one_share_and_the_rest_in_all():
    shares = [run(number, 3) - NEVER_RESTS for number in (1, 2, 3)]
    assert set().union(*shares) == ASKED - NEVER_RESTS
    assert sum(map(len, shares)) == 7
    assert all(run(number, 3) >= NEVER_RESTS for number in (1, 2, 3))
    assert any(name.startswith(ALWAYS) for name in NEVER_RESTS)


def test_files_stay_whole_and_shares_take_about_as_long():
    assert run(1, 2) - NEVER_RESTS == {
        "tests/a/test_one.py::test_long",
        "tests/a/test_one.py::test_short",
        "tests/b/test_four.py::test_long",
    }  # 13 s; the other share is of 12
    assert len(run(2, 2) - NEVER_RESTS) == 4


@pytest.mark.parametrize("text", ["", "3", "0/3", "4/3", "a/b", "1/3/3"])
def test_what_is_no_share_is_refused(text):
    with pytest.raises(argparse.ArgumentTypeError, match="say 1/3"):
        share(text)
