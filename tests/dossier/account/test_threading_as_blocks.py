from datetime import UTC, datetime

import pytest
from PIL import Image

from ironlace.dossier import PictureFile, account_of
from ironlace.dossier.account.blocks import FigureShown, Tabular, all_blocks
from ironlace.record import EntryKind, Record, parse_entry

PLAN = {
    "kind": "threading",
    "name": "Head",
    "pictures": [{"photograph": "photograph 1", "width_px": 400, "height_px": 300}],
    "points": [
        {"photograph": "photograph 1", "x_px": 10, "y_px": 20, "does": "spool", "known": "seen"},
        {"photograph": "photograph 1", "x_px": 30, "y_px": 40, "does": "needle eye"},
    ],
}


@pytest.mark.parametrize("published", [True, False])
def test_a_plan_stands_under_how_it_runs_and_shows_only_what_may_be_shown(tmp_path, published):
    Image.new("RGB", (400, 300), "navy").save(tmp_path / "view.jpg")
    photograph = {"kind": "photograph", "sha256": "a" * 64, "role": "part"}
    entries = {
        (EntryKind.PHOTOGRAPH, 1): parse_entry({**photograph, "published": published}),
        (EntryKind.THREADING, 1): parse_entry(PLAN),
    }
    record = Record("m", "A machine", entries, datetime(2024, 5, 4, tzinfo=UTC))
    picture = PictureFile(tmp_path / "view.jpg", 400, 300)
    account = account_of(record, {"photograph 1": picture}, {})
    (section,) = [one for one in account.sections if one.key == "running"]
    assert section.title == "How it runs"
    blocks = list(all_blocks(section.blocks))
    (figure,) = [one for one in blocks if isinstance(one, FigureShown)]
    assert ("data:image/jpeg" in figure.print_svg) is published
    (table,) = [one for one in blocks if isinstance(one, Tabular)]
    assert [row.cells[2].words for row in table.rows] == [
        "seen on this machine",
        "how it is known is not said",
    ]
    if not published:
        assert "photograph 1" not in repr(account.sections) + repr(account.document)
