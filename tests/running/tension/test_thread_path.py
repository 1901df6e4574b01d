import pytest

from ironlace.running.errors import RunningError
from ironlace.running.tension.thread_path import read_path, tension_along

PATH = """
feed_gf = 5
[[point]]
kind = "guide"
wrap_deg = 90
[[point]]
kind = "discs"
name = "discs"
[[point]]
kind = "take-up"
wrap_deg = 180
"""


def test_a_path_is_read_in_order():
    path = read_path(PATH)
    assert path.wraps_deg() == (90.0, 180.0)
    assert path.feed_gf == 5.0
    before, after = path.factors(0.2)
    assert before == pytest.approx(1.3691, abs=1e-4)
    assert after == pytest.approx(1.8745, abs=1e-4)


def test_discs_add_and_do_not_multiply():
    along = tension_along(read_path(PATH), 5.0, 0.2, 100.0)
    assert along[1] == pytest.approx(along[0] + 40.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("not toml", "cannot be read as TOML"),
        ("feed_gf = 5", "no [[point]]"),
        ("spool = 3", "'spool'"),
        ('[[point]]\nkind = "guide"\nwrap_deg = 90', "0 points of kind 'discs'"),
        ('[[point]]\nkind = "wheel"\nwrap_deg = 90', "use one of"),
        ('[[point]]\nkind = "guide"', "no wrap_deg"),
        ('[[point]]\nkind = "discs"\nfriction = nan', "a number is needed"),
        ('[[point]]\nkind = "discs"\nfriction = 9', "0.01 to 1.5"),
        ('[[point]]\nkind = "discs"\nturns = 9', "'turns'"),
        ("point = 3", "no [[point]]"),
    ],
)
def test_a_path_that_cannot_be_is_refused_in_a_sentence(text, says):
    with pytest.raises(RunningError) as caught:
        read_path(text)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
