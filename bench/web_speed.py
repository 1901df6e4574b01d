"""Print how fast the bench starts, and opens a machine with 2,000 photographs and 5,000 facts.

Run with `python bench/web_speed.py`. The aims: start-up to first page under 2 s, the machine's page
under 200 ms on the server side, also the first time after a start.
"""

import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from ironlace.evidence import Grade
from ironlace.record import (
    Entry,
    Measurement,
    Photograph,
    PhotographRole,
    ReportEntry,
    Statement,
    Topic,
)
from ironlace.record.entries import to_keep
from ironlace.workshop import Workshop
from ironlace.workshop.store.tables import ChangeRow, EntryRow

_START = (
    "import sys; from pathlib import Path; from ironlace.web import serve;"
    "serve(Path(sys.argv[1]), port=0, open_browser=False, foreman=False)"
)
_TO_FIND_IT_S = 2.0  # what a person needs to see the list and press a name
_PAGES = ("", "/photographs", "/entries/measurement", "/history", "/dating", "/ornament")


def large_record() -> Iterator[Entry]:
    """Yield 2,000 photographs and 5,000 facts."""
    for index in range(2000):
        yield Photograph(sha256=f"{index:064x}", role=PhotographRole.PART, caption=f"No. {index}")
    for index in range(2500):
        reads = f"{index + 1}.5 ± 0.1 mm"
        yield Measurement(what=f"part {index}", reads=reads, grade=Grade.MEASURED)
        yield Statement(about=Topic.OTHER, says=f"thing {index}", grade=Grade.SEEN)


def fill(workshop: Workshop, slug: str) -> None:
    """Write the large record at once, as adding its entries one by one would."""
    keys: Counter[str] = Counter()
    at = datetime.now(UTC)
    with workshop.database.writing() as session:
        record_id = workshop.records.id_in(session, slug)
        for number, entry in enumerate(large_record(), 1):
            keys[entry.kind] += 1
            payload = to_keep(entry)
            place = {"record_id": record_id, "kind": entry.kind, "key": keys[entry.kind]}
            session.add(ChangeRow(number=number, made_at=at, made_by="", entry=payload, **place))
            session.add(EntryRow(first_change=number, last_change=number, entry=payload, **place))


def started(folder: Path) -> tuple[subprocess.Popen[str], str, float]:
    """Start the bench as a person does; return it, its address, seconds to the first page."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-c", _START, str(folder)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    address = process.stdout.readline().split()[3].rstrip("/")
    fetch(address + "/")
    return process, address, time.perf_counter() - begun


def fetch(address: str) -> float:
    """Fetch a page; return milliseconds."""
    begun = time.perf_counter()
    with urllib.request.urlopen(address) as answer:
        answer.read()
    return (time.perf_counter() - begun) * 1000


def typing(address: str, slug: str) -> None:
    """Print how long the odds take to follow a report that is being typed: the aim is 100 ms."""
    times = []
    for key in range(9):
        asked = {"schemes": "letter, ring, year, dot, number in year", "reads": f"C°95·2{key}"}
        query = urllib.parse.urlencode(asked)
        times.append(fetch(f"{address}/machine/{slug}/dating/as-typed?{query}"))
    print(f"{'odds as typed':24} warm {sorted(times)[4]:6.1f} ms (median of 9)")


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "workshop"
        with Workshop.create(folder) as workshop:
            slug = workshop.records.create("The large one")
            fill(workshop, slug)
            surveyed = workshop.records.create("The surveyed one")
            marks = ("C°92·38", "C°93·94", "C°94·183", "C°94·138")
            reports = [ReportEntry(name=m, reads=m, grade=Grade.SEEN) for m in marks]
            workshop.records.add_all(surveyed, reports)
        for attempt in range(3):
            process, address, seconds = started(folder)
            try:
                time.sleep(_TO_FIND_IT_S)
                cold = fetch(f"{address}/machine/{slug}")
                told = f"first page {seconds:.2f} s, then the machine {cold:.0f} ms"
                print(f"start {attempt + 1}: {told}")
                if attempt == 2:
                    for page in _PAGES:
                        fetch(f"{address}/machine/{slug}{page}")
                        times = sorted(fetch(f"{address}/machine/{slug}{page}") for _ in range(9))
                        print(f"{page or 'machine':24} warm {times[4]:6.1f} ms (median of 9)")
                    typing(address, surveyed)
            finally:
                process.terminate()
                process.wait(10)


if __name__ == "__main__":
    main()
