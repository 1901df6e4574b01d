"""Cases in TOML: by annotation, every slip named in one sentence."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

import pytest

from ironlace.cli.case_files import CaseError, read_case, read_rows
from ironlace.evidence.analyses import Ask
from ironlace.evidence.errors import IronlaceError, NotFoundError


@dataclass(frozen=True)
class Spot:
    name: str
    turn_deg: float | None
    x_mm: Annotated[float, Ask("Along", unit="mm", low=-500.0, high=500.0)]


@dataclass(frozen=True)
class Felt:
    name: str
    size_mm: tuple[float, float, float]


@dataclass(frozen=True)
class Lid:
    wall_mm: Annotated[float, Ask("Wall", unit="mm", low=1.0, high=50.0)]
    run: Literal["open", "crossed"] = "open"
    teeth: tuple[int, ...] = ()
    glued: bool = False


@dataclass(frozen=True)
class Whole:
    lid: Lid
    spots: Annotated[tuple[Spot, ...], Ask("Spots", table=True)]
    felt: tuple[Felt, ...] = ()
    matrix: tuple[tuple[float, ...], ...] | None = None
    oiled: date | None = None
    last: str = ""
    sd_mm: Annotated[float, Ask("Error", unit="mm", low=0.0)] | None = None


GOOD = """
last = 1893-04-12
oiled = 1893-05-01
matrix = [[1, 2.5], [3, 4]]
spots = "spots.csv"
[lid]
wall_mm = 9
teeth = [20, 25]
[[felt]]
name = "well"
size_mm = [30, 10, 5]
"""


@pytest.fixture
def case(tmp_path):
    (tmp_path / "spots.csv").write_text(
        "name, turn_deg,x_mm,told\nfork,0,-3.5,a\nledge,,4,b\n", encoding="utf-8"
    )

    def written(text):
        file = tmp_path / "case.toml"
        file.write_text(text, encoding="utf-8")
        return file

    return written


def test_a_case_is_read_by_its_annotations(case):
    found = read_case(case(GOOD), Whole)
    assert found == Whole(
        Lid(9.0, "open", (20, 25)),
        (Spot("fork", 0.0, -3.5), Spot("ledge", None, 4.0)),
        (Felt("well", (30.0, 10.0, 5.0)),),
        ((1.0, 2.5), (3.0, 4.0)),
        date(1893, 5, 1),
        "1893-04-12",
    )
    assert isinstance(found.lid.wall_mm, float)


def test_a_path_is_relative_to_the_case_and_a_table_may_stand_in_it(case, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path.parent)
    assert len(read_case(case(GOOD), Whole).spots) == 2
    inside = GOOD.replace('"spots.csv"', '[{ name = "fork", x_mm = 2 }]')
    assert read_case(case(inside), Whole).spots == (Spot("fork", None, 2.0),)


SLIPS = {
    "no TOML": ("a = = 2", "case.toml is not TOML"),
    "unknown, like another": ("wall_mm = 9", "wal_mm = 9", "did you mean 'wall_mm'?"),
    "unknown": ("[lid]", "zzz = 1\n[lid]", "'zzz' is not known here: use lid, spots"),
    "missing": ("wall_mm = 9", "", "'wall_mm' in [lid] is missing: give a number from 1 to 50 mm"),
    "text for a number": ("= 9", "= '9 mm'", "'wall_mm' in [lid] is '9 mm'"),
    "true for a number": ("= 9", "= true", "'wall_mm' in [lid] is true"),
    "out of bounds": ("= 9", "= 90", "of 90 mm cannot be: give a number from 1 to 50 mm"),
    "not a number": ("= 9", "= nan", "of nan mm cannot be"),
    "endless": ("= 9", "= inf", "of inf mm cannot be"),
    "a whole number too long": ("= 9", "= 1" + "0" * 400, "cannot be"),
    "half a tooth": ("20, 25", "20, 25.5", "'teeth, no. 2' in [lid] is 25.5"),
    "no such choice": ("wall_mm = 9", "wall_mm = 9\nrun = 'bent'", 'give "open" or "crossed"'),
    "two for three": ("30, 10, 5", "30, 10", "a list of 3, each a number"),
    "a number for a table": (
        "[lid]\nwall_mm = 9\nteeth = [20, 25]",
        "lid = 3",
        "is 3, which is something else",
    ),
    "no list": ("[20, 25]", "20", "give a list, each a whole number"),
    "a text for yes": ("wall_mm = 9", "wall_mm = 9\nglued = 'yes'", "give true or false"),
    "no text": ('name = "well"', "name = 3", "a text in quotes"),
    "no date": ("oiled = 1893-05-01", "oiled = 'May'", "a date such as"),
    "a time for a date": ("oiled = 1893-05-01", "oiled = 1893-05-01T10:00:00", "a date such as"),
    "below nothing": ("[lid]", "sd_mm = -1\n[lid]", "of -1 mm cannot be: give a number of 0 mm"),
    "two brackets": ("matrix = [[1, 2.5]", "matrix = " + "[" * 5000, "is not TOML"),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_named(case, slip):
    *change, says = SLIPS[slip]
    text = GOOD.replace(*change) if len(change) == 2 else change[0]
    assert text != GOOD
    with pytest.raises(CaseError) as refused:
        read_case(case(text), Whole)
    assert says in str(refused.value)
    assert str(refused.value).startswith("case.toml")
    assert len(str(refused.value)) < 300


TABLES = {
    "no column": ("name,x_mm\nfork,3\n", "has no column 'turn_deg'"),
    "a decimal comma": ("name,turn_deg,x_mm\nfork,0,3,5\n", "line 2 has more cells"),
    "no number": ("name,turn_deg,x_mm\nfork,0,far\n", "line 2: 'x_mm' is 'far'"),
    "empty": ("name,turn_deg,x_mm\nfork,0,\n", "line 2: 'x_mm' is ''"),
    "cut short": ("name,turn_deg,x_mm\nfork\n", "line 2: 'x_mm' is ''"),
    "not finite": ("name,turn_deg,x_mm\nfork,nan,2\n", "'turn_deg' of nan cannot be"),
    "out of bounds": ("name,turn_deg,x_mm\nfork,0,900\n", "'x_mm' of 900 mm cannot be"),
    "nothing": ("", "has no column 'name'"),
}


@pytest.mark.parametrize("slip", TABLES)
def test_a_slip_in_a_table_is_named(tmp_path, slip):
    text, says = TABLES[slip]
    file = tmp_path / "spots.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as refused:
        read_rows(file, Spot)
    assert says in str(refused.value)


def test_what_is_not_there_or_no_text_is_refused(case, tmp_path):
    with pytest.raises(NotFoundError, match=r"no file .*none\.toml"):
        read_case(tmp_path / "none.toml", Whole)
    with pytest.raises(NotFoundError, match=r"no file .*other\.csv"):
        read_case(case(GOOD.replace("spots.csv", "other.csv")), Whole)
    (tmp_path / "spots.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(IronlaceError, match="UTF-8"):
        read_case(case(GOOD), Whole)
    (tmp_path / "spots.csv").write_text("name\n" + "x" * 5_000_001, encoding="utf-8")
    with pytest.raises(CaseError, match="5,000,0"):
        read_case(case(GOOD), Whole)
