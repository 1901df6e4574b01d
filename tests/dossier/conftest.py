"""An invented machine with something in every drawer, and makers of awkward ones."""

import math
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from ironlace.dossier.account.whole import PictureFile
from ironlace.record import Change, Record, parse_entry
from ironlace.record.entries import EntryKind

MADE = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)
SHA = "0123456789abcdef" * 4
SECRET = "Hesper Quillfeather"  # must never be read in a public copy


def record_of(
    entries: Iterable[dict[str, Any]],
    *,
    title: str = "Calder Vane No. 2",
    slug: str = "calder-vane",
) -> Record:
    """A record of entries in their JSON form, numbered by kind."""
    counts: dict[EntryKind, int] = {}
    folded = {}
    for payload in entries:
        kind = EntryKind(payload["kind"])
        counts[kind] = counts.get(kind, 0) + 1
        folded[(kind, counts[kind])] = parse_entry(payload)
    return Record(slug, title, folded, MADE)


def changes_of(record: Record) -> list[Change]:
    return [
        Change(n, MADE, SECRET, kind, key, entry)
        for n, ((kind, key), entry) in enumerate(record.entries.items(), 1)
    ]


def picture(path: Path, width: int, height: int, seed: int) -> PictureFile:
    """A soft lit field with a few gilt curves: enough to see how a page sits."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width] / max(width, height)
    light = np.exp(-((x - rng.uniform(0.2, 0.8)) ** 2 + (y - rng.uniform(0.1, 0.6)) ** 2) * 4)
    field = 22 + 70 * light[..., None] * np.array([1.0, 0.97, 0.92])
    for _ in range(5):
        a, b, c = rng.uniform(-0.3, 0.3), rng.uniform(2, 9), rng.uniform(0.2, 0.6)
        near = np.abs(y - c - a * np.sin(b * x)) < 0.006
        field[near] = np.array([196, 160, 84]) * (0.6 + 0.5 * light[near][:, None])
    noisy = field + rng.normal(0, 2, field.shape)
    Image.fromarray(np.clip(noisy, 0, 255).astype(np.uint8)).save(path, quality=88)
    return PictureFile(path, width, height)


def scroll(width: float = 150.0, height: float = 62.0) -> str:
    """Scrolls with all four grades in them."""
    dashes = {"seen": "none", "measured": "4 0.6", "inferred": "1.6 0.9", "conjectured": "0.3 0.9"}
    paths = []
    for k, (grade, dash) in enumerate(dashes.items()):
        centre = width * (k + 0.5) / 4
        points = " ".join(
            f"{centre + (2 + t * 0.075) * math.cos(t / 18):.2f} "
            f"{height / 2 + (2 + t * 0.085) * math.sin(t / 18):.2f}"
            for t in range(200)
        )
        paths.append(
            f'<path data-grade="{grade}" d="M{points}" fill="none" stroke="#000" '
            f'stroke-width="0.35" stroke-dasharray="{dash}"/>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{"".join(paths)}</svg>'
    )


def finding(about: str, **more: Any) -> dict[str, Any]:
    return {
        "about": about,
        "value": "1893-10",
        "method": {
            "name": "comparison of numbering schemes",
            "published": "Bayes factors after Kass and Raftery (1995)",
            "parameters": {"works_year": "behind the ring", "weeks_per_batch": 2},
        },
        "inputs": {f"report {n}": SHA for n in range(1, 13)},
        "version": "0.1.0",
        **more,
    }


def entries() -> list[dict[str, Any]]:
    """The entries of the invented machine."""
    object_ = {"kind": "object"}
    plate = {"kind": "photograph", "entry": "photograph 3", "says": "under a lamp at 15 degrees"}
    return [
        {"kind": "statement", "about": "kind of machine", "grade": "seen",
         "says": "Family lockstitch machine with a long shuttle, hand cranked",
         "sources": [object_, {"kind": "photograph", "entry": "photograph 1"}]},
        {"kind": "statement", "about": "maker", "grade": "inferred",
         "says": "Calder Vane Works", "claimed_by": "the previous owner",
         "sources": [{"kind": "document", "entry": "source 1", "says": "page 14, the same scroll"},
                     {"kind": "person", "says": SECRET}]},
        {"kind": "statement", "about": "maker", "grade": "conjectured",
         "says": "A seller who bought in castings and put his own transfer on them",
         "sources": [{"kind": "common practice", "says": "castings were sold between works"}]},
        {"kind": "statement", "about": "place of making", "grade": "conjectured",
         "says": "Lower Pell, if the letter B stands for its works"},
        {"kind": "statement", "about": "date of making", "grade": "inferred", "says": "1893-04~"},
        {"kind": "statement", "about": "kind of shuttle", "grade": "seen",
         "says": "Transverse long shuttle, 46 mm, with a leaf spring of two screws",
         "sources": [object_]},
        {"kind": "statement", "about": "finish and ornament", "grade": "seen",
         "says": "Black japan with gilt scrolls on bed and pillar",
         "note": "The gilt on the bed is worn to a silvery shadow where the cloth ran."},
        {"kind": "statement", "about": "finish and ornament", "grade": "conjectured",
         "says": "The lost corner scroll mirrors its twin on the left"},
        {"kind": "mark", "reads": "B°93·217", "where": "Bed, underside of the front edge",
         "technique": "struck", "purpose": "serial number, as it seems", "height": "3.2 mm",
         "grade": "seen", "photographs": ["photograph 3"], "sources": [plate, object_]},
        {"kind": "mark", "reads": "4 (1)[38]?·{star}", "where": "Shuttle race cover",
         "technique": "scratched", "purpose": "fitter's number", "grade": "seen",
         "note": "The stroke before the figures may be a file mark."},
        {"kind": "photograph", "sha256": SHA, "role": "whole machine", "date": "2025-11-02",
         "caption": "From the front, after cleaning", "credit": "photograph by the restorer",
         "rights": "may be copied with this account"},
        {"kind": "photograph", "sha256": SHA, "role": "as found", "date": "2025-06-14",
         "caption": "As it came, the belt groove full of felt dust"},
        {"kind": "photograph", "sha256": SHA, "role": "mark", "date": "2025-06-20",
         "caption": "The number under raking light from the left", "scale": "steel rule in view"},
        {"kind": "photograph", "sha256": SHA, "role": "before treatment",
         "caption": "Face plate before cleaning: varnish gone brown"},
        {"kind": "photograph", "sha256": SHA, "role": "after treatment",
         "caption": "Face plate after cleaning"},
        {"kind": "photograph", "sha256": SHA, "role": "ornament",
         "caption": "Scroll on the bed, with the scale frame around it"},
        {"kind": "photograph", "sha256": SHA, "role": "document", "published": False,
         "caption": f"Letter of {SECRET}"},
        {"kind": "photograph", "sha256": SHA, "role": "part", "caption": "Shuttle and bobbin"},
        {"kind": "part", "name": "Bed", "material": "cast iron, japanned", "standing": "original",
         "state": "worn but serviceable", "grade": "seen", "photographs": ["photograph 2"],
         "there": "Whole; japan crazed over the left third, sound elsewhere.",
         "damage": "A chip of 4 mm at the rear left corner, old, with rust in it.",
         "risk": "watch it", "recommended": "Keep dry; no wet cleaning over the crazed part.",
         "sources": [object_]},
        {"kind": "part", "name": "Needle bar", "material": "steel", "standing": "original",
         "state": "sound", "grade": "measured", "there": "Straight to 0.02 mm over its length."},
        {"kind": "part", "name": "Slide plate", "standing": "missing", "state": "not examined",
         "grade": "seen", "risk": "treat before use",
         "recommended": "Make one of brass, marked as new on its underside."},
        {"kind": "part", "name": "Old motor lead", "standing": "addition", "state": "getting worse",
         "grade": "seen", "risk": "act now", "there": "Perished rubber, no earth.",
         "recommended": "Do not power it; take it off."},
        {"kind": "measurement", "what": "Needle-bar stroke", "part": "needle bar",
         "reads": "31.6 ± 0.1 mm", "instrument": "dial gauge", "date": "2025-07-03",
         "grade": "measured"},
        {"kind": "measurement", "what": "Butt to eye of the needle found in it",
         "reads": "1 17/32 in ± 1/64 in", "instrument": "rule", "grade": "measured"},
        {"kind": "measurement", "what": "Needle thread tension", "reads": "55 ± 5 gf",
         "instrument": "spring balance", "grade": "measured"},
        {"kind": "measurement", "what": "Bed length", "reads": "312 mm", "grade": "measured"},
        {"kind": "measurement", "what": "Cloth plate opening", "grade": "inferred",
         "reads": "5/16 in", "note": "From the rub marks; the plate is missing."},
        {"kind": "treatment", "what": "Surface cleaning of the face plate",
         "aim": "remedial conservation", "parts": ["face plate"], "date": "2025-08",
         "by": "the restorer",
         "done": "Tested on 5 mm behind the thumb screw first.\n\nBrown oil varnish softened with "
         "white spirit on cotton, lifted with a bamboo stick; stopped where the gilt began to "
         "show on the cotton. No abrasive was used at any point, and the crazed edge was left.",
         "materials": ["white spirit", "cotton", "bamboo"], "undoing": "cannot be undone",
         "before": ["photograph 4"], "after": ["photograph 5"],
         "hazards": ["solvents and varnish", "drying-oil rags"]},
        {"kind": "treatment", "what": "Slide plate made new", "aim": "fitting added",
         "date": "2025-09-12", "done": "Brass, 1.5 mm, stamped R25 on its underside.",
         "materials": ["brass sheet CZ108"], "undoing": "can be undone",
         "how_to_undo": "Slide it out. Nothing was cut to make it fit."},
        {"kind": "provenance", "event": "Found in a church hall in Nether Pell", "date": "2025-06",
         "place": "Nether Pell", "private": False, "grade": "seen"},
        {"kind": "provenance", "event": f"Bought by {SECRET}", "who": SECRET,
         "grade": "conjectured"},
        {"kind": "source", "title": "Price list of the Calder Vane Works", "sort": "document",
         "where": "Photocopy, folder 3; the original is in the town's library.", "date": "1896~"},
        {"kind": "source", "title": f"Letter from {SECRET}", "sort": "letter", "private": True},
        *[
            {"kind": "report", "name": f"Machine of {SECRET}, {n}", "reads": reads, "grade": grade,
             "how": how, "dated": dated, "dated_is": is_, "dated_by": by, "place": SECRET,
             "reporter": SECRET, "counts": counts, "sighted": "2025-10", "note": SECRET,
             "variant": "two-screw spring" if n % 2 else ""}
            for n, (reads, grade, how, dated, is_, by, counts) in enumerate(
                [
                    ("B°91·044", "seen", "photograph seen", "1891", "at", "receipt", True),
                    ("B°92·(1)03", "seen", "handled", None, "", "", True),
                    ("B°93·188", "seen", "photograph seen", "1894", "not after", "gift", True),
                    ("L°95·61?", "conjectured", "told", None, "", "", False),
                    ("B°96·5[38]0", "seen", "listing", "1896-11", "sold", "guarantee card", True),
                ],
                1,
            )
        ],
        {"kind": "finding", "finding": finding(
            "date of making", interval={"low": "1893-04", "high": "1894-02", "coverage": 0.9},
            sentence="The two figures behind the ring fit the year in all five counted reports; "
            "the running number then places the machine in the second half of the year.")},
        {"kind": "finding", "finding": finding(
            "number made", value=1840, unit="machines",
            interval={"low": 1100.0, "high": 3900.0, "coverage": 0.9}, inputs={})},
        {"kind": "drawing", "name": "Scroll of the bed, left", "svg": SHA, "width_mm": 150.0,
         "height_mm": 62.0, "grade": "conjectured", "photographs": ["photograph 6"],
         "sources": [{"kind": "photograph", "entry": "photograph 6"}],
         "finding": finding("outline", value={"outlines": 4, "rms_mm": 0.0832})},
        {"kind": "outlay", "what": "Cleaning", "hours": "6.5", "date": "2025-08"},
        {"kind": "outlay", "what": "Brass sheet", "cost": "11.40", "currency": "EUR"},
        {"kind": "question", "asks": "What does the L stand for?",
         "would_answer": "A second machine with an L, and a paper that says where it was sold."},
        {"kind": "question", "asks": "Was the slide plate brass or steel?",
         "answer": "Steel: report 2 shows one with rust."},
    ]  # fmt: skip


@pytest.fixture(scope="session")
def full_record() -> Record:
    return record_of(entries())


@pytest.fixture(scope="session")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> dict[str, PictureFile]:
    folder = tmp_path_factory.mktemp("views")
    sizes = [(1600, 1200)] * 3 + [(1200, 1600)] * 2 + [(1600, 900)] * 2
    return {
        f"photograph {n}": picture(folder / f"{n}.jpg", *size, seed=n)
        for n, size in enumerate(sizes, 1)
    }


@pytest.fixture(scope="session")
def drawings() -> dict[str, str]:
    return {"drawing 1": scroll()}


@pytest.fixture(scope="session")
def secret() -> str:
    return SECRET


@pytest.fixture(scope="session")
def made() -> datetime:
    return MADE


@pytest.fixture(scope="session")
def make_record():
    return record_of


@pytest.fixture(scope="session")
def make_picture():
    return picture


@pytest.fixture(scope="session")
def make_scroll():
    return scroll


@pytest.fixture(scope="session")
def history(full_record) -> list[Change]:
    return changes_of(full_record)


@pytest.fixture(scope="session")
def full_account(full_record, pictures, drawings, history):
    from ironlace.dossier.account.record_to_account import account_of

    return account_of(full_record, pictures, drawings, changes=history, hours_and_costs=True)


AWKWARD = (
    '#panic("x") $x$ *b* _u_ `c` @l <lab> [x] \\ / "q" & &amp; <script>alert(1)</script> '
    "\u6f22\U0001f642 \u202ertl\u0007 \u05e9\u05dc\u05d5\u05dd Ω ½ ° · ±"
)


@pytest.fixture(scope="session")
def awkward_record() -> Record:
    """Every text field that takes it holds signs that mean something to a typesetter or browser."""
    soiled = []
    for entry in entries():
        changed = dict(entry)
        for field in ("note", "there", "damage", "done", "would_answer", "where", "recommended"):
            if isinstance(changed.get(field), str):
                changed[field] = f"{AWKWARD}\n\nsecond {AWKWARD}\nline"[:300]
        for field in ("caption", "what", "asks", "title", "event", "name", "says", "claimed_by"):
            if isinstance(changed.get(field), str) and changed.get("about") != "date of making":
                changed[field] = (AWKWARD + "x" * 300)[:295]
        soiled.append(changed)
    return record_of(soiled, title=AWKWARD)
