"""Readings of a head's motion called out one after another, each kept as it is entered.

The computer's page and the phone's door ask the same here. What is kept is one table of readings;
what was settled beforehand goes along in the address, so that nothing is lost on a reload.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from markupsafe import Markup

from ironlace.evidence.analyses import KnownTable
from ironlace.evidence.errors import ConflictError, IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.evidence.reading_tables import number_of, read_readings
from ironlace.evidence.sources import SourceKind
from ironlace.record import ReadingsEntry, Record, parse_entry
from ironlace.record.readings import ReadingTable
from ironlace.running.errors import ContradictionError
from ironlace.running.motion.called import (
    AIMS,
    OPPOSITE,
    CalledDone,
    CalledFor,
    CalledNext,
    as_far_as_read,
    called_next,
)
from ironlace.running.motion.motion_doubts import Harm, doubts_of
from ironlace.running.motion.motion_found import MotionFound
from ironlace.running.motion.motion_table import MOTIONS, column_holds
from ironlace.running.motion.motion_told import MOTION
from ironlace.running.motion.turned import head_turned
from ironlace.running.motion.turned_curves import curves_svg
from ironlace.web.bench import Bench
from ironlace.web.incoming import Form
from ironlace.web.phone.called_readings import CalledReadingError
from ironlace.web.phone.spoken_numbers import read_number
from ironlace.workshop import analyses as kept
from ironlace.workshop.inputs import table_known
from ironlace.workshop.worked_out import WorkedOut

GRADES = (Grade.SEEN, Grade.CONJECTURED)
"""How a reading can be known that no instrument gave."""
UNITS = ("mm", "in")
TURNINGS = ("unsaid", "rise", "fall")
WHAT = "motion by the angle of the wheel, called out at the bench"
_FIRST = ("lowest", "meets", "meeting")
_PASSED = "-"
_MOST_DEG = 720.0
"""No pointer shows more than twice round, whichever way one counts on."""
_MOST_MM = 1000.0
"""No head is a metre high."""
_FEWEST_ROWS = 6
"""Rows before which nothing is fitted."""
_ALL_THERE = -1
"""Stands for the rows of a table that is gone on with, before they are counted."""
_SHOWN = 8
"""Readings shown on the page, the latest first."""


@dataclass(frozen=True, slots=True)
class Calling:
    """What is read and how, as it goes along in the address.

    `of` is the table that is kept, such as `readings 3`, once there is one; the rest is as in
    `CalledFor`, with unit, instrument, error and otherwise how the readings are known.
    """

    aim: str
    parts: tuple[str, ...]
    both: bool
    two: bool
    turning: str
    unit: str
    instrument: str
    error: str
    known: str
    of: str = ""
    first: Mapping[str, str] = field(default_factory=dict)
    passed: tuple[tuple[int, str], ...] = ()
    had: int = 0

    def asked(self) -> CalledFor:
        """The same, as the room takes it."""
        return CalledFor(
            self.aim,
            self.parts,
            self.both,
            self.two,
            self.turning == "fall",
            {key: None if text == _PASSED else float(text) for key, text in self.first.items()},
            self.passed,
            self.had,
        )

    def as_query(self) -> dict[str, str]:
        """As the address carries it."""
        return {
            "aim": self.aim,
            "parts": ",".join(self.parts),
            "ways": "both" if self.both else "sewing",
            "pointers": "2" if self.two else "1",
            "turning": self.turning,
            "unit": self.unit,
            "instrument": self.instrument,
            "error": self.error,
            "known": self.known,
            "of": self.of,
            **self.first,
            "passed": ",".join(f"{at}:{part}" for at, part in self.passed),
            "had": str(self.had or ""),
        }


def calling_from(said: Sequence[tuple[str, str]]) -> Calling:
    """Read what goes along in an address or came with its first form.

    Raises CalledReadingError in one sentence when something is missing or cannot be.
    """
    one = {name: value.strip() for name, value in said}
    parts = tuple(
        part for part in MOTIONS if any(part in v.split(",") for n, v in said if n == "parts")
    )
    aim = _choice(one, "aim", tuple(AIMS), "what the readings are for")
    if aim == "timing":
        parts = tuple(p for p in MOTIONS if p in {*parts, "needle bar", "shuttle"})
    if not parts:
        raise CalledReadingError("It is not said what is read: tick at least one part.")
    ways = _choice(one, "ways", ("sewing", "both"), "how you will turn the wheel")
    instrument, known = one.get("instrument", "")[:300], one.get("known", "")
    if not instrument and known not in [grade.value for grade in GRADES]:
        raise CalledReadingError(
            "No instrument was named: say with what heights are read, or how else you know them."
        )
    error = one.get("error", "")
    if error:
        error = read_number(error).lstrip("-")
    try:
        first = {
            key: one[key] if one[key] == _PASSED else f"{float(one[key]):g}"
            for key in _FIRST
            if one.get(key)
        }
        passed = tuple(
            (int(at), part)
            for at, _, part in (token.partition(":") for token in one.get("passed", "").split(","))
            if at and part in (OPPOSITE, *MOTIONS)
        )
        had = _ALL_THERE if one.get("go_on") else int(one.get("had") or 0)
    except ValueError as fault:
        raise CalledReadingError(
            "The address of this page cannot be read: begin anew from the machine's page."
        ) from fault
    return Calling(
        aim,
        parts,
        ways == "both",
        one.get("pointers") == "2",
        _choice(one, "turning", TURNINGS, "what the disc's numbers do", "unsaid"),
        _choice(one, "unit", UNITS, "in what unit heights are read", "mm"),
        instrument,
        error,
        known,
        one.get("go_on") or one.get("of", ""),
        first,
        passed,
        had,
    )


def _choice(
    one: Mapping[str, str], name: str, choices: tuple[str, ...], what: str, default: str = ""
) -> str:
    value = one.get(name, "") or default
    if value not in choices:
        raise CalledReadingError(f"It is not said {what}: choose it.")
    return value


@dataclass(frozen=True, slots=True)
class CalledView:
    """What the page shows.

    Attributes
    ----------
    ask
        What is asked now, None when nothing is left to ask.
    seen
        Number of the table's last change, so that nothing is entered twice.
    lately
        The latest readings in words, the latest first.
    count
        Readings kept in this table.
    says
        The fit as it stands, in sentences; what a refusal says instead.
    doubts
        Whether the last reading contradicts the others, in one sentence.
    worked
        What was worked out, None while nothing can be.
    """

    calling: Calling
    ask: CalledNext | None
    seen: int
    lately: tuple[str, ...]
    count: int
    says: tuple[str, ...]
    doubts: str
    worked: WorkedOut | None


class CalledMotion:
    """A table of motion readings of one machine while it is called out."""

    def __init__(self, bench: Bench, slug: str, calling: Calling) -> None:
        self.bench, self.slug, self.calling = bench, slug, calling
        self.record: Record = bench.records.read(slug)
        self.entry: ReadingsEntry | None = None
        self.seen = 0
        if calling.of:
            self.seen = bench.records.last_change_of(slug, calling.of)
            entry = self.record.named(calling.of)
            if not isinstance(entry, ReadingsEntry):
                raise CalledReadingError(f"'{calling.of[:40]}' is no table of readings.")
            self.entry = entry
            if calling.had == _ALL_THERE:
                self.calling = replace(calling, had=len(entry.table.rows))
        self.names = (
            [column_holds(column.name) for column in self.entry.table.columns] if self.entry else []
        )
        if self.entry and "wheel" not in self.names:
            raise CalledReadingError(
                f"{calling.of} has no column of wheel angles: choose another table, or begin one."
            )

    def rows(self) -> list[dict[str, str]]:
        """The table so far, by what its columns hold."""
        if self.entry is None:
            return []
        return [dict(zip(self.names, row, strict=True)) for row in self.entry.table.rows]

    def worked(self) -> tuple[WorkedOut | None, IronlaceError | None]:
        """The fit as it stands, or why it is refused; neither while there are too few readings."""
        if self.entry is None or len(self.entry.table.rows) < _FEWEST_ROWS:
            return None, None
        known = table_known(self.record, self.calling.of)
        table = as_far_as_read(known)
        if table is None:
            return None, None
        key = ("called out", self.slug, self.calling.of, self.seen, str(self.calling.as_query()))
        try:
            return self.bench.remembered(key, lambda: self._work(table)), None
        except IronlaceError as refusal:
            return None, refusal

    def asked_now(
        self, worked: WorkedOut | None, refused: IronlaceError | None
    ) -> tuple[CalledNext | None, tuple[CalledDone, ...]]:
        """What is asked now, and what was settled before it."""
        found = worked.found if worked else None
        again = refused.wheel if isinstance(refused, ContradictionError) else None
        return called_next(self.calling.asked(), self.rows(), found, again)

    def _work(self, table: KnownTable) -> WorkedOut:
        meeting = self.calling.first.get("meeting", "")
        asked = kept.asked_for(
            MOTION,
            self.record,
            {
                "readings": table,
                "turning": self.calling.turning,
                "meeting": "" if meeting in ("", _PASSED) else f"{meeting} {self.calling.unit}",
            },
        )
        return kept.work_out(self.bench.workshop, self.record, MOTION, asked)

    def view(self) -> CalledView:
        """What the page shows now."""
        worked, refused = self.worked()
        rows = self.rows()
        ask, done = self.asked_now(worked, refused)
        says: tuple[str, ...] = (str(refused),) if refused else ()
        if worked is not None:
            says = _first_words(worked, self.calling.aim)
        elif not refused:
            short = max(_FEWEST_ROWS - len(rows), 0)
            says = (
                f"The fit begins once {short} more settings are read."
                if short
                else "The fit begins once one part is read at six settings.",
            )
        lately = [self._in_words(one, rows) for one in reversed(done)][:_SHOWN]
        count = sum(bool(row.get(part)) for row in rows for part in MOTIONS)
        doubts = _doubts_last(worked, done, rows)
        return CalledView(self.calling, ask, self.seen, tuple(lately), count, says, doubts, worked)

    def _in_words(self, one: CalledDone, rows: Sequence[Mapping[str, str]]) -> str:
        if one.setting < 0:
            text = self.calling.first.get(one.key, _PASSED)
            words = {
                "lowest": "needle lowest: disc at",
                "meets": "point at the needle: disc at",
                "meeting": "point at the needle: shuttle reads",
            }[one.key]
            unit = f" {self.calling.unit}" if one.key == "meeting" else "°"
            return f"{words} {'not read' if text == _PASSED else text + unit}"
        if one.row is None:
            return f"setting {one.setting + 1}: {one.key} not read"
        row = rows[one.row]
        unit = "°" if one.key == OPPOSITE else f" {self._unit(one.key)}"
        back = ", turned back" if row.get("way") == "-1" else ""
        return f"{row['wheel']}°{back}: {one.key} {row[one.key]}{unit}"

    def _unit(self, key: str) -> str:
        if self.entry is not None and key in self.names:
            return self.entry.table.columns[self.names.index(key)].unit
        return self.calling.unit

    def unit_of(self, ask: CalledNext) -> str:
        """In what a reading is asked for."""
        return ask.unit or self._unit(ask.key)

    def act(self, form: Form, hand: str) -> Calling:
        """Do what a form asks: keep a reading, pass one, go back one, or take a pasted table.

        Raises IronlaceError when it cannot be done; nothing is kept then.
        """
        do = form.one("do")
        if do == "paste":
            return self._paste(form.one("pasted"), hand)
        if form.number("seen") != self.seen:
            raise ConflictError(
                "This reading was sent before, or the table was changed meanwhile: look at what "
                "stands here now, and go on."
            )
        ask, done = self.asked_now(*self.worked())
        if do == "back":
            return self._back(done, hand)
        if ask is None or ask.key != form.one("key"):
            raise ConflictError("Something else is asked for by now: look at it again, and go on.")
        if do == "pass":
            return self._passed(ask)
        return self._keep(ask, form, hand)

    def _passed(self, ask: CalledNext) -> Calling:
        if ask.setting < 0:
            return replace(self.calling, first={**self.calling.first, ask.key: _PASSED})
        return replace(self.calling, passed=(*self.calling.passed, (ask.setting, ask.key)))

    def _keep(self, ask: CalledNext, form: Form, hand: str) -> Calling:
        if not form.one("number").strip():
            raise CalledReadingError(
                f"No figure was entered for the {ask.key if ask.setting >= 0 else 'disc'}: enter "
                "it and go on, or say that it cannot be read."
            )
        number = read_number(form.one("number"))
        _check(number, self.unit_of(ask), ask.key)
        if ask.setting < 0:
            value = number_of(number)
            return replace(self.calling, first={**self.calling.first, ask.key: f"{value:g}"})
        rows = self.rows()
        if ask.same_setting:
            rows[ask.row][ask.key] = number
        else:
            wheel = read_number(form.one("wheel"))
            _check(wheel, "deg", "wheel")
            row = {"wheel": f"{number_of(wheel):g}", ask.key: number}
            if self.calling.both or "way" in self.names:
                row["way"] = "-1" if form.one("way") == "-1" else "1"
            rows.append(row)
        return replace(self.calling, of=self._write(rows, hand))

    def _back(self, done: Sequence[CalledDone], hand: str) -> Calling:
        if not done:
            raise CalledReadingError("Nothing was entered here yet that could be taken back.")
        last = done[-1]
        if last.setting < 0:
            first = {key: text for key, text in self.calling.first.items() if key != last.key}
            return replace(self.calling, first=first)
        if last.row is None:
            left = tuple(p for p in self.calling.passed if p != (last.setting, last.key))
            return replace(self.calling, passed=left)
        rows = self.rows()
        rows[last.row][last.key] = ""
        if not any(rows[last.row].get(name) for name in (OPPOSITE, *MOTIONS)):
            del rows[last.row]
        return replace(self.calling, of=self._write(rows, hand))

    def _paste(self, text: str, hand: str) -> Calling:
        read = read_readings(text)
        pasted = [column_holds(name) for name, _ in read.columns]
        if "wheel" not in pasted or not set(pasted) & set(MOTIONS):
            raise CalledReadingError(
                "The table pasted needs a column wheel [deg] and at least one of "
                f"{', '.join(MOTIONS)}, each with its unit in brackets."
            )
        for (name, unit), holds in zip(read.columns, pasted, strict=True):
            if holds in MOTIONS and unit != self._unit(holds):
                raise CalledReadingError(
                    f"'{name}' is in {unit or 'no unit'} and this table in {self._unit(holds)}: "
                    "give it so, or begin a table in that unit."
                )
        rows = self.rows() + [dict(zip(pasted, row, strict=True)) for row in read.rows]
        return replace(self.calling, of=self._write(rows, hand), had=len(rows))

    def _write(self, rows: Sequence[Mapping[str, str]], hand: str) -> str:
        """Keep the table as it now stands; its name, empty when no row is left."""
        records, of = self.bench.records, self.calling.of
        if not rows:
            records.change(self.slug, of, None, by=hand, last_seen=self.seen)
            return ""
        order = ("wheel", OPPOSITE, "way", *MOTIONS)
        holds = [name for name in order if any(row.get(name) for row in rows)]
        old = dict(zip(self.names, self.entry.table.columns, strict=True)) if self.entry else {}
        columns = [old[name].model_dump() if name in old else self._column(name) for name in holds]
        table = {
            "columns": columns,
            "rows": [[row.get(name, "") for name in holds] for row in rows],
            "struck": [one.model_dump() for one in self.entry.table.struck] if self.entry else [],
        }
        if self.entry is not None:
            entry = self.entry.model_copy(update={"table": ReadingTable.model_validate(table)})
            records.change(self.slug, of, entry, by=hand, last_seen=self.seen)
            return of
        instrument = self.calling.instrument
        told = parse_entry(
            {
                "kind": "readings",
                "what": WHAT,
                "table": table,
                "grade": Grade.MEASURED.value if instrument else self.calling.known,
                "sources": [
                    {
                        "kind": (SourceKind.INSTRUMENT if instrument else SourceKind.PERSON).value,
                        "says": "read at the bench, called out",
                    }
                ],
                "conditions": (
                    "wheel turned both ways, as the column 'way' tells"
                    if self.calling.both
                    else "wheel turned only as the machine sews"
                ),
            }
        )
        return records.add(self.slug, told, by=hand)

    def _column(self, name: str) -> dict[str, str]:
        if name in ("wheel", OPPOSITE):
            return {"name": name, "unit": "deg"}
        if name == "way":
            return {"name": name}
        return {
            "name": name,
            "unit": self.calling.unit,
            "instrument": self.calling.instrument,
            "error": self.calling.error,
        }


def _check(number: str, unit: str, key: str) -> None:
    """Refuse what no disc and no head can show."""
    value = number_of(number)
    assert value is not None
    if unit == "deg" and abs(value) > _MOST_DEG:
        raise CalledReadingError(f"{number}° is no reading of a disc: give 0 to 360.")
    if unit == "deg" and "/" in number:
        raise CalledReadingError(f"{number}° is no reading of a disc: give degrees, such as 120.5.")
    if unit != "deg" and abs(value) * (25.4 if unit == "in" else 1.0) > _MOST_MM:
        raise CalledReadingError(f"{number} {unit} for the {key} is more than a head is high.")


def _first_words(worked: WorkedOut, aim: str) -> tuple[str, ...]:
    """What matters of the fit while readings go on: the answer, and why it is not told yet."""
    found, sentences = worked.found, worked.answer.sentences
    assert isinstance(found, MotionFound)
    upset = tuple(one.says for one in doubts_of(found) if one.harm is Harm.UPSETS)
    if aim == "timing" and found.met is None:
        waits = "The rise is told once needle bar and shuttle are read together at the meeting."
        return (found.not_met or waits, *upset)
    return (sentences[0], *(one for one in upset if one != sentences[0]))


def _doubts_last(
    worked: WorkedOut | None, done: Sequence[CalledDone], rows: Sequence[Mapping[str, str]]
) -> str:
    """Whether the reading entered last contradicts the others."""
    if worked is None or not done or done[-1].row is None:
        return ""
    last = done[-1]
    assert last.row is not None
    for one in worked.answer.figures["misread"]:
        if one["row"] == last.row + 1 and one["column"] == last.key:
            return (
                f"{last.key} {rows[last.row][last.key]} at {rows[last.row]['wheel']}° does not "
                f"agree with the others, which say {one['expected_mm']:.1f} mm: go back one and "
                "read it again."
            )
    return ""


def called_context(called: CalledMotion) -> dict[str, Any]:  # dict: a template's values
    """What the page that asks for readings shows, on the computer and on the phone."""
    view = called.view()
    curves = None
    if view.worked is not None:
        head = head_turned(view.worked.found)
        curves = Markup(curves_svg(head)) if head.parts else None  # noqa: S704
    return {
        "view": view,
        "calling": view.calling,
        "state": view.calling.as_query(),
        "ask": view.ask,
        "unit": called.unit_of(view.ask) if view.ask else "",
        "curves": curves,
    }
