import pytest

from ironlace.evidence.grades import Grade
from ironlace.running.errors import RunningError
from ironlace.running.needles.needle_table import needle_table, own_table

ROW = '[[needle]]\nname = "a"\n'
SHANK = 'shank = { mm = 2.0, grade = "measured", source = "b" }\n'


def test_every_value_that_comes_along_has_a_source_and_none_claims_to_be_measured():
    for needle in own_table():
        for one in (needle.shank, needle.butt_to_eye, needle.overall):
            assert one.source
            assert one.grade is Grade.CONJECTURED


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x", "cannot be read as TOML"),
        ("x = 1", "no [[needle]]"),
        ("[[needle]]\n", "no name"),
        (ROW, "no shank"),
        (ROW + SHANK, "no butt_to_eye"),
        (ROW + "shank = 2.0\n", "needs mm, grade and source"),
        (ROW + SHANK.replace("measured", "sure"), "grade one of"),
        (ROW + SHANK.replace("2.0", "900"), "a length of a needle"),
        (ROW + 'shape = "oval"\n' + SHANK, "use round"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused(text, says):
    with pytest.raises(RunningError) as caught:
        needle_table(text)
    assert says in str(caught.value)
