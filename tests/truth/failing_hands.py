"""What hands do wrong when a form is filled in: a catalogue that needs only the declaration.

A form is what a person types, by the name of each field of an analysis: quantities, whole numbers,
choices, tables as they are pasted. A failing takes such a form and gives it back spoilt in one
human way, with the words of what is wrong now; or None where there is nothing that it could spoil.
Nothing here knows what any analysis computes, so a new one is asked without a line added.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from ironlace.evidence.analyses import AskedField, Declared, KnownTable, asked_fields

OTHER_UNITS = {
    "mm": {"inches": 1 / 25.4, "centimetres": 0.1},
    "N": {"pounds": 1 / 4.4482, "kilograms": 1 / 9.80665, "grams": 101.97},
    "gf": {"newtons": 0.00980665, "ounces": 1 / 28.35, "kilograms": 0.001},
    "g": {"kilograms": 0.001, "pounds": 1 / 453.59, "ounces": 1 / 28.35},
    "N*m": {"inch pounds": 8.8507, "kilograms by centimetres": 10.197},
    "deg": {"turns": 1 / 360, "hours of the clock": 1 / 30},
    "°": {"turns": 1 / 360, "radians": np.pi / 180},
    "turns": {"degrees": 360.0, "eighths": 8.0},
    "h": {"minutes": 60.0},
    "1/min": {"to the second": 1 / 60},
    "ml": {"litres": 0.001},
    "mm²/s": {"Saybolt seconds": 4.632},
    "%": {"shares": 0.01},
}
"""What a figure asked for in a unit is typed in instead, and its factor."""

_FIGURE = re.compile(r"-?\d+(?:\.\d+)?")
_FAHRENHEIT = "°C"
_NOT_READ = ("seed",)
"""Fields that nobody reads off anything."""


@dataclass(frozen=True)
class Place:
    """Where one figure stands: a field, or a cell of the table that a field holds."""

    field: str
    row: int = -1
    column: int = -1


@dataclass(frozen=True)
class Series:
    """Figures of one kind: that of a field, or all of a column of its table."""

    words: str
    unit: str
    places: tuple[Place, ...]
    low: float | None = None

    @property
    def alone(self) -> bool:
        """Whether it is a field and not a column."""
        return self.places[0].row < 0


@dataclass(frozen=True)
class Filled:
    """A form of an analysis as it was typed."""

    analysis: Declared
    typed: dict[str, str]

    def field(self, name: str) -> AskedField:
        """The declaration of one of its fields."""
        return next(one for one in asked_fields(self.analysis.asked) if one.name == name)

    def grids(self) -> Iterator[tuple[str, list[list[str]], str]]:
        """Field, rows of cells (headings first) and separator of each table of three rows."""
        for name, text in self.typed.items():
            one = self.field(name)
            if one.kind is KnownTable or (one.ask.long and one.ask.table) or one.ask.columns:
                cells, cut = _cells(text)
                if len(cells) > 2:
                    yield name, cells, cut

    def series(self) -> list[Series]:
        """All figures that were typed."""
        found, tables = [], {name: cells for name, cells, _ in self.grids()}
        for name, text in self.typed.items():
            one = self.field(name)
            if name in tables:
                found += _columns(name, tables[name], one.ask.words)
            elif one.options or one.ask.long or name in _NOT_READ:
                continue
            elif _FIGURE.match(text.strip()):
                unit = one.ask.unit or _unit_typed(text)
                found.append(Series(one.ask.words, unit, (Place(name),), one.ask.low))
        return found

    def at(self, place: Place) -> str:
        """What was typed there."""
        text = self.typed[place.field]
        return text if place.row < 0 else _cells(text)[0][place.row][place.column]

    def put(self, changes: dict[Place, str]) -> "Filled":
        """The same form with some of it typed otherwise."""
        typed = dict(self.typed)
        for place, text in changes.items():
            if place.row < 0:
                typed[place.field] = text
                continue
            cells, cut = _cells(typed[place.field])
            cells[place.row][place.column] = text
            typed[place.field] = "\n".join(cut.join(row) for row in cells)
        return replace(self, typed=typed)


def _cells(text: str) -> tuple[list[list[str]], str]:
    lines = text.strip().splitlines()
    cut = next((c for c in "\t;," if c in lines[0]), ",")
    return [line.split(cut) for line in lines], cut


def _columns(name: str, cells: list[list[str]], words: str) -> Iterator[Series]:
    for at, head in enumerate(cells[0]):
        rows = [n for n, row in enumerate(cells[1:], 1) if _FIGURE.fullmatch(row[at].strip())]
        if rows:
            called, unit = _heading(head)
            places = tuple(Place(name, row, at) for row in rows)
            yield Series(f"{called}, {words.split(maxsplit=1)[0]}", unit, places)


def _heading(head: str) -> tuple[str, str]:
    if found := re.fullmatch(r"(.*?)\s*\[(.*)\]", head.strip()):
        return found[1], found[2]
    if found := re.fullmatch(r"(.*)_(mm|ml|deg|g|hours)", head.strip()):
        return found[1].replace("_", " "), {"hours": "h"}.get(found[2], found[2])
    return head.replace("_", " "), "turns" if head == "turns" else ""


def _unit_typed(text: str) -> str:
    return re.sub(r"[-\d.,±\s]+", "", text)


def number(text: str) -> float:
    """The figure that begins what was typed."""
    return float(_FIGURE.match(text.strip())[0])


def scaled(text: str, factor: float, add: float = 0.0) -> str:
    """What was typed with figure and error times a factor, to three figures and its own places."""
    value = number(text) * factor + add
    places = len(_FIGURE.match(text.strip())[0].partition(".")[2])
    if factor != 1.0:
        places = max(places, int(2 - np.floor(np.log10(max(abs(value), 1e-9)))))
    told = f"{value:.{min(max(places, 0), 6)}f}"
    rest = text.strip()[_FIGURE.match(text.strip()).end() :]
    if found := re.match(r"\s*±\s*(\d+(?:\.\d+)?)", rest):
        rest = f" ± {float(found[1]) * abs(factor):.3g}{rest[found.end() :]}"
    return told + rest


@dataclass(frozen=True)
class Spoilt:
    """A spoilt form, what is wrong in it (words of its fields and columns), and how."""

    form: Filled
    words: tuple[str, ...]
    how: str = ""


Failing = Callable[[np.random.Generator, Filled], Spoilt | None]


def _pick(rng, found):
    return found[int(rng.integers(len(found)))] if found else None


def _by(form: Filled, series: Series, how: str, factor: float, places=None) -> dict[Place, str]:
    add = 32.0 if how == "Fahrenheit" else 0.0
    return {p: scaled(form.at(p), factor, add) for p in places or series.places}


def _others(unit: str) -> list[tuple[str, float]]:
    if unit == _FAHRENHEIT:
        return [("Fahrenheit", 1.8)]
    return list(OTHER_UNITS.get(unit, {}).items())


def another_unit(rng, form):
    """One figure, or one column, read in another unit than it is asked for."""
    one = _pick(rng, [s for s in form.series() if _others(s.unit)])
    if one is None:
        return None
    how, factor = _pick(rng, _others(one.unit))
    return Spoilt(form.put(_by(form, one, how, factor)), (one.words,), how)


def another_unit_throughout(rng, form):
    """All that is asked for in one unit was read in another."""
    unit = _pick(rng, sorted({s.unit for s in form.series() if _others(s.unit)}))
    if unit is None:
        return None
    how, factor = _pick(rng, _others(unit))
    changes, words = {}, []
    for one in form.series():
        if one.unit == unit:
            changes |= _by(form, one, how, factor)
            words.append(one.words)
    return Spoilt(form.put(changes), tuple(words), how)


def units_changed_half_way(rng, form):
    """From some row on a column was read in another unit."""
    one = _pick(rng, [s for s in form.series() if _others(s.unit) and len(s.places) > 3])
    if one is None:
        return None
    how, factor = _pick(rng, _others(one.unit))
    since = int(rng.integers(1, len(one.places) - 1))
    return Spoilt(form.put(_by(form, one, how, factor, one.places[since:])), (one.words,), how)


def _one_figure(rng, form, spoil, may=lambda _text: True):
    """One figure typed otherwise: each field and each column as likely."""
    found = [
        (s, usable) for s in form.series() if (usable := [p for p in s.places if may(form.at(p))])
    ]
    one = _pick(rng, found)
    if one is None:
        return None
    place = _pick(rng, one[1])
    before = form.at(place)
    after = spoil(before)
    if after == before:
        return None
    return Spoilt(form.put({place: after}), (one[0].words,), f"{before} -> {after}")


def slip_of_ten(rng, form):
    """A figure ten times too great or too small."""
    factor = 10.0 if rng.random() < 0.5 else 0.1
    return _one_figure(rng, form, lambda text: scaled(text, factor), lambda t: number(t) != 0.0)


def decimal_lost(rng, form):
    """The decimal comma left out."""

    def lost(text):
        found = _FIGURE.match(text.strip())[0]
        whole = re.sub(r"^(-?)0+(?=\d)", r"\1", found.replace(".", ""))
        return whole + text.strip()[len(found) :]

    return _one_figure(rng, form, lost, lambda t: "." in _FIGURE.match(t.strip())[0])


def digits_transposed(rng, form):
    """Two neighbouring digits of a figure changed round."""

    def pairs(text):
        head = _FIGURE.match(text.strip())[0]
        return [
            i
            for i in range(len(head) - 1)
            if head[i].isdigit() and head[i + 1].isdigit() and head[i] != head[i + 1]
        ]

    def turned(text):
        i = _pick(rng, pairs(text))
        text = text.strip()
        return text[:i] + text[i + 1] + text[i] + text[i + 2 :]

    return _one_figure(rng, form, turned, lambda t: bool(pairs(t)))


LOOK_ALIKE = {"3": "8", "8": "3", "1": "7", "7": "1", "6": "0", "0": "6"}
"""Digits that pass for each other on a worn scale or in a hasty hand."""


def digit_misread(rng, form):
    """A digit read as one that looks alike."""

    def alike(text):
        head = _FIGURE.match(text.strip())[0]
        return [i for i, sign in enumerate(head) if sign in LOOK_ALIKE]

    def misread(text):
        i = _pick(rng, alike(text))
        text = text.strip()
        return text[:i] + LOOK_ALIKE[text[i]] + text[i + 1 :]

    return _one_figure(rng, form, misread, lambda t: bool(alike(t)))


def outlier_by_a_slip(rng, form):
    """The first digit of one reading in a table off by one to three."""
    cells = [s for s in form.series() if not s.alone]
    if not cells:
        return None
    one = _pick(rng, cells)
    place = _pick(rng, [p for p in one.places if re.search(r"[1-9]", form.at(p))])
    if place is None:
        return None
    before = form.at(place)
    i = re.search(r"[1-9]", before).start()
    other = (int(before[i]) + int(rng.integers(1, 4))) % 10
    after = f"{before[:i]}{other}{before[i + 1 :]}"
    return Spoilt(form.put({place: after}), (one.words,), f"{before} -> {after}")


def sign_turned(rng, form):
    """The sign of a field or of a column turned, where a figure below nought can be."""
    found = [
        s
        for s in form.series()
        if (s.low is None or s.low < 0) and any(number(form.at(p)) for p in s.places)
    ]
    one = _pick(rng, found)
    if one is None:
        return None
    changes = {}
    for p in one.places:
        text = form.at(p).strip()
        changes[p] = text[1:] if text.startswith("-") else f"-{text}"
    return Spoilt(form.put(changes), (one.words,))


def rounded_to_whole(_rng, form):
    """Every figure written to the whole number."""
    changes, words = {}, []
    for one in form.series():
        for p in one.places:
            text = form.at(p)
            found = _FIGURE.match(text.strip())[0]
            if "." in found:
                changes[p] = f"{number(text):.0f}" + text.strip()[len(found) :]
                words.append(one.words)
    return Spoilt(form.put(changes), tuple(dict.fromkeys(words))) if changes else None


def counted_one_off(rng, form):
    """What is counted, or the settings of a table, one too many all along."""
    found = []
    for one in form.series():
        values = [number(form.at(p)) for p in one.places]
        if one.alone and form.field(one.places[0].field).kind is int:
            found.append((one, 1.0))
        elif not one.alone and one.places[0].column == 0 and len(values) > 2:
            steps = np.abs(np.diff(values))
            found.append((one, float(np.median(steps[steps > 0])) if steps.any() else 1.0))
    picked = _pick(rng, found)
    if picked is None:
        return None
    one, step = picked
    changes = {p: scaled(form.at(p), 1.0, step) for p in one.places}
    return Spoilt(form.put(changes), (one.words,), f"+ {step:g}")


def fields_swapped(rng, form):
    """Two fields of one unit changed round."""
    return _pair(rng, form, lambda a, b: {a[0]: b[1], b[0]: a[1]})


def one_given_for_two(rng, form):
    """The same reading given for two fields of one unit."""
    return _pair(rng, form, lambda a, b: {b[0]: a[1]})


def _pair(rng, form, change):
    alone = [s for s in form.series() if s.alone]
    pairs = [
        (a, b)
        for n, a in enumerate(alone)
        for b in alone[n + 1 :]
        if a.unit == b.unit and a.unit and form.at(a.places[0]) != form.at(b.places[0])
    ]
    picked = _pick(rng, pairs)
    if picked is None:
        return None
    a, b = ((s.places[0], form.at(s.places[0])) for s in picked)
    return Spoilt(form.put(change(a, b)), (picked[0].words, picked[1].words), f"{a[1]}, {b[1]}")


def columns_swapped(rng, form):
    """Two columns of one unit changed round."""
    found = [s for s in form.series() if not s.alone and s.places[0].column > 0]
    pairs = [
        (a, b)
        for n, a in enumerate(found)
        for b in found[n + 1 :]
        if a.places[0].field == b.places[0].field and len(a.places) == len(b.places)
        if a.unit == b.unit
    ]
    picked = _pick(rng, pairs)
    if picked is None:
        return None
    changes = {}
    for p, q in zip(picked[0].places, picked[1].places, strict=True):
        changes |= {p: form.at(q), q: form.at(p)}
    return Spoilt(form.put(changes), (picked[0].words, picked[1].words))


def _rows(rng, form, change, least=4):
    """The readings of a table (all but its first column) moved among its rows."""
    picked = _pick(rng, [(n, c) for n, c, _ in form.grids() if len(c) - 1 >= least])
    if picked is None:
        return None
    name, cells = picked
    order = change(np.arange(1, len(cells)))
    changes = {
        Place(name, row, at): cells[came][at]
        for row, came in zip(range(1, len(cells)), order, strict=True)
        for at in range(1, len(cells[0]))
        if cells[came][at] != cells[row][at]
    }
    words = [s.words for s in form.series() if s.places[0].field == name]
    return Spoilt(form.put(changes), tuple(words)) if changes else None


def rows_swapped(rng, form):
    """The readings of two neighbouring rows changed round."""

    def change(rows):
        i = int(rng.integers(len(rows) - 1))
        rows[[i, i + 1]] = rows[[i + 1, i]]
        return rows

    return _rows(rng, form, change)


def row_copied(rng, form):
    """The readings of a row copied from the one above."""

    def change(rows):
        i = int(rng.integers(1, len(rows)))
        rows[i] = rows[i - 1]
        return rows

    return _rows(rng, form, change)


def rows_backwards(rng, form):
    """All readings put down from the last to the first."""
    return _rows(rng, form, lambda rows: rows[::-1])


def one_left_out(rng, form):
    """A reading left out, the next ones moved up and the last written twice."""

    def change(rows):
        i = int(rng.integers(1, len(rows) - 1))
        rows[i:-1] = rows[i + 1 :].copy()
        return rows

    return _rows(rng, form, change)


def radius_for_diameter(rng, form):
    """A radius typed for a diameter, or a diameter for what is measured from an axis."""
    found = []
    for one in form.series():
        words = one.words.casefold()
        if one.alone and re.search(r"diameter|\bacross\b|hole of", words):
            found.append((one, 0.5))
        elif one.alone and "from the axis" in words:
            found.append((one, 2.0))
    picked = _pick(rng, found)
    if picked is None:
        return None
    one, factor = picked
    return Spoilt(form.put(_by(form, one, "", factor)), (one.words,))


def other_choice(rng, form):
    """Another of the choices of a field taken."""
    found = [
        (one, option)
        for name, text in form.typed.items()
        if (one := form.field(name)).options
        for option in one.options
        if option and option not in (text, "unsaid", "unknown", "none")
    ]
    picked = _pick(rng, found)
    if picked is None:
        return None
    one, option = picked
    return Spoilt(form.put({Place(one.name): option}), (one.ask.words,), option)


def date_miswritten(rng, form):
    """Two digits of a date's year changed round, or its month and day."""
    found = []
    for name, cells, _ in form.grids():
        for row, at in np.ndindex(len(cells), len(cells[0])):
            if parts := re.fullmatch(r"(\d\d)(\d)(\d)-(\d\d)-(\d\d)", cells[row][at].strip()):
                found.append((Place(name, row, at), parts))
    picked = _pick(rng, found)
    if picked is None:
        return None
    place, (century, ten, one, month, day) = picked[0], picked[1].groups()
    after = f"{century}{one}{ten}-{month}-{day}"
    if (int(day) <= 12 and rng.random() < 0.5) or one == ten:
        after = f"{century}{ten}{one}-{day}-{month}"
    if after == form.at(place):
        return None
    head = _cells(form.typed[place.field])[0][0][place.column]
    words = f"{head}, {form.field(place.field).ask.words.split()[0]}"
    return Spoilt(form.put({place: after}), (words,), f"{form.at(place)} -> {after}")


FAILINGS: dict[str, Failing] = {
    one.__name__.replace("_", " "): one
    for one in (
        another_unit, another_unit_throughout, units_changed_half_way, slip_of_ten, decimal_lost,
        digits_transposed, digit_misread, outlier_by_a_slip, sign_turned, rounded_to_whole,
        counted_one_off, fields_swapped, one_given_for_two, columns_swapped, rows_swapped,
        row_copied, rows_backwards, one_left_out, radius_for_diameter, other_choice,
        date_miswritten,
    )
}  # fmt: skip
"""Every failing by its name."""
