"""How fast a large record opens: 2,000 photographs and 5,000 facts.

Prints the time to read it cold (first time in a process) and warm. The bound beside them is what
SQLite itself takes to hand over the same rows as text. `web_speed.py` measures the pages.
"""

import hashlib
import sqlite3
import tempfile
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

from ironlace.record import parse_entry
from ironlace.workshop import Workshop
from ironlace.workshop.store.records import Records
from ironlace.workshop.store.tables import ChangeRow, EntryRow, OriginalRow, RecordRow

PHOTOGRAPHS = 2_000
FACTS = 5_000
ROLES = ("as found", "part", "mark", "before treatment", "after treatment")


def facts() -> list[dict[str, object]]:
    """Make a mix of facts as a long restoration gathers them."""
    made: list[dict[str, object]] = []
    for number in range(FACTS):
        match number % 5:
            case 0:
                made.append(
                    {
                        "kind": "part",
                        "name": f"part {number}",
                        "grade": "seen",
                        "state": "worn but serviceable",
                        "photographs": ["photograph 1"],
                    }
                )
            case 1:
                made.append(
                    {
                        "kind": "measurement",
                        "what": f"bore {number}",
                        "grade": "measured",
                        "reads": f"{number / 100:.2f} ± 0.02 mm",
                    }
                )
            case 2:
                made.append(
                    {
                        "kind": "report",
                        "name": f"head {number}",
                        "grade": "seen",
                        "reads": f"B°9{number % 10}·{number}",
                    }
                )
            case 3:
                made.append(
                    {
                        "kind": "treatment",
                        "what": f"cleaned part {number}",
                        "aim": "preventive conservation",
                        "undoing": "nothing to undo",
                    }
                )
            case _:
                made.append(
                    {
                        "kind": "statement",
                        "about": "other",
                        "says": f"note {number}",
                        "grade": "conjectured",
                    }
                )
    return made  # fmt: skip


def fill(workshop: Workshop) -> None:
    """Write the rows at once, as the room would one by one."""
    now = datetime.now(UTC)
    payloads: list[dict[str, object]] = [
        {"kind": "photograph", "sha256": hashlib.sha256(str(n).encode()).hexdigest(),
         "role": ROLES[n % len(ROLES)], "caption": f"no. {n}", "date": "2025-03-01"}
        for n in range(PHOTOGRAPHS)
    ] + facts()  # fmt: skip
    counts: dict[str, int] = {}
    with workshop.database.writing() as session:
        session.add(RecordRow(id=1, slug="large", title="A large record", made_at=now))
        session.flush()
        for number, payload in enumerate(payloads, 1):
            parse_entry(dict(payload))
            kind = str(payload["kind"])
            key = counts[kind] = counts.get(kind, 0) + 1
            row = {"record_id": 1, "kind": kind, "key": key, "entry": payload}
            session.add(ChangeRow(number=number, made_at=now, made_by="", undoes=None, **row))
            session.add(EntryRow(first_change=number, last_change=number, **row))
            if kind == "photograph":
                session.add(OriginalRow(
                    sha256=str(payload["sha256"]), size=1, suffix=".jpg", media_type="image/jpeg",
                    width=4000, height=3000, came_as="x.jpg", added_at=now))  # fmt: skip


def timed(work) -> float:
    """Milliseconds that one call takes."""
    begun = time.perf_counter()
    work()
    return (time.perf_counter() - begun) * 1e3


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "workshop"
        with Workshop.create(folder) as workshop:
            fill(workshop)
            with closing(sqlite3.connect(workshop.database.file)) as raw:
                query = "SELECT kind, key, entry FROM entry ORDER BY first_change"
                bound = median(timed(lambda: raw.execute(query).fetchall()) for _ in range(5))
            cold = median(timed(lambda: Records(workshop.database).read("large")) for _ in range(5))
            records = Records(workshop.database)
            records.read("large")
            warm = median(timed(lambda: records.read("large")) for _ in range(9))
        print(f"{PHOTOGRAPHS} photographs, {FACTS} facts")
        print(f"read cold {cold:.0f} ms = {cold / bound:.1f} x SQLite's own {bound:.0f} ms")
        print(f"read warm {warm:.2f} ms")


if __name__ == "__main__":
    main()
