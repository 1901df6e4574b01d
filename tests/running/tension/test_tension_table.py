import pytest

from ironlace.evidence.analyses import asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.running.tension.tension_table import tension_table
from ironlace.running.tension.tension_told import EXAMPLE, TensionAsked

ROWS = EXAMPLE.splitlines()[1:]


def read(words, zero=0.0):
    return tension_table(asked_from(TensionAsked, {"readings": words}).readings, zero)


def test_units_of_force_come_out_in_gram_force():
    in_cn = "\n".join(["turns;tension_cN", *ROWS])
    assert read(in_cn).tension[0] == pytest.approx(12.0 / 0.980665, rel=1e-4)
    assert read(EXAMPLE.replace("[gf]", "[g]")).tension[0] == 12.0


def test_eighths_are_turns():
    words = EXAMPLE.replace("turns", "eighths")
    assert read(words).turns[-1] == 0.5


def test_the_scales_zero_is_taken_off():
    assert read(EXAMPLE, 2.0).tension[0] == 10.0


def test_a_zero_that_crept_is_taken_off_row_by_row():
    asked = asked_from(TensionAsked, {"readings": EXAMPLE}).readings
    plain, crept = tension_table(asked, 2.0), tension_table(asked, 2.0, 10.0)
    off = plain.tension - crept.tension
    assert off[0] == 0.0
    assert off[-1] == pytest.approx(8.0)
    assert (off[1:] > off[:-1]).all()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("\n".join(["turns;pulls [gf]", *ROWS]), "is not known here"),
        ("\n".join(["screw;turns", *ROWS]), "Two columns"),
        ("\n".join(["turns;after", *ROWS]), "it needs turns"),
        ("\n".join(["turns;tension", *ROWS]), "no unit"),
        ("\n".join(["turns;tension [mm]", *ROWS]), "is in mm"),
        ("\n".join(["turns;tension [mN]", *[r.replace(";", ";0.0") for r in ROWS]]), "other unit"),
        ("turns;tension [gf]\n0;0.12\n1;0.4\n2;0.7\n3;1\n4;1.2", "another unit"),
        ("turns;tension [gf]\n0;-8\n1;24\n2;50\n3;70\n4;90", "zero is off"),
        ("turns;tension [gf]\n0;12\n0;55\n1;24\n2;50\n3;70\n4;90", "read that setting again"),
        ("turns;tension [gf]\n0;12\n45;55\n90;24\n135;50\n180;70\n270;90", "stand at 270 turns"),
        ("turns;tension [gf]\n0;0\n1;0\n2;0\n3;22\n4;47", "3 of 5 pulls read nothing"),
        ("turns;tension [gf]\n0;nan\n1;55\n2;24\n3;50", "is not a figure"),
        ("turns;tension [gf];after\n0;12;3\n1;24;0\n2;50;0\n3;70;0\n4;90;0", "write 0 or 1"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_in_a_sentence(words, says):
    with pytest.raises(IronlaceError) as caught:
        read(words)
    said = str(caught.value)
    assert says in said, said
    assert said.endswith(".")
    assert "\n" not in said
