"""Motion readings called out: kept as they are entered, taken back one by one, on both pages."""

import re
from urllib.parse import parse_qs, urlsplit

import pytest

from ironlace.record import ReadingsEntry, parse_entry
from ironlace.web import addresses
from ironlace.web.phone.called_motion import calling_from
from ironlace.web.phone.called_readings import CalledReadingError

from .conftest import typed, words
from .test_phone import joined, phone, session  # noqa: F401  (fixtures)

STROKES = {
    "aim": "strokes",
    "parts": "needle bar,take-up",
    "ways": "sewing",
    "pointers": "1",
    "turning": "rise",
    "instrument": "calliper",
    "error": "0.05",
}
TIMING = STROKES | {"aim": "timing"}


class Called:
    """The page as a person uses it: its fields sent back with what was typed."""

    def __init__(self, person, slug, said):
        self.person, self.at = person, addresses.motion_readings(slug)
        self.page = person.get(addresses.motion_readings(slug, **said))

    def fields(self):
        names = (*STROKES, "unit", "known", "of", "lowest", "meets", "meeting", "passed", "had")
        held = {name: typed(self.page, name) for name in (*names, "seen", "key", "wheel")}
        return {name: value for name, value in held.items() if value is not None}

    def send(self, do, **typed_in):
        answer = self.person.post(self.at, self.fields() | {"do": do} | typed_in, follow=False)
        gone_on = answer.status_code == 303
        self.page = self.person.get(answer.headers["location"]) if gone_on else answer
        return answer

    @property
    def asks(self):
        return words(self.page).split("The pointer shows")[0]


def tables(bench, slug):
    return dict(bench.records.read(slug).of(ReadingsEntry))


def rows(bench, slug):
    (entry,) = tables(bench, slug).values()
    return [column.heading for column in entry.table.columns], list(entry.table.rows)


def test_each_reading_is_kept_as_it_is_entered_and_taken_back_one_by_one(person, bench, slug):
    called = Called(person, slug, STROKES)
    assert "Wheel at 0°: needle bar, mm" in called.asks
    called.send("keep", number="twelve point five")
    assert "Wheel at 0°: take-up, mm" in words(called.page)
    assert "Kept: 0°: needle bar 12.5 mm" in words(called.page)
    assert rows(bench, slug) == (["wheel [deg]", "needle bar [mm]"], [("0", "12.5")])
    called.send("keep", number="30,20")
    called.send("keep", number="13.1", wheel="15.5")
    heads, kept = rows(bench, slug)
    assert heads == ["wheel [deg]", "needle bar [mm]", "take-up [mm]"]
    assert kept == [("0", "12.5", "30.20"), ("15.5", "13.1", "")]
    (entry,) = tables(bench, slug).values()
    assert entry.grade == "measured"
    assert entry.table.columns[1].with_what() == "calliper, ± 0.05 mm"
    assert entry.conditions == "wheel turned only as the machine sews"
    # a reload asks the same
    again = person.get(called.page.url)
    assert "Wheel at 15.5°: take-up" in words(again)
    for left in ([("0", "12.5", "30.20")], [("0", "12.5")]):
        called.send("back")
        assert rows(bench, slug)[1] == left
    called.send("back")
    assert tables(bench, slug) == {}
    assert "Wheel at 0°: needle bar" in called.asks


def test_what_cannot_be_read_is_passed_and_comes_back(person, bench, slug):
    called = Called(person, slug, STROKES)
    called.send("pass")
    assert "Wheel at 0°: take-up" in called.asks
    called.send("keep", number="30")
    called.send("back")
    called.send("back")
    assert "Wheel at 0°: needle bar" in called.asks
    assert tables(bench, slug) == {}


def test_a_timing_asks_first_where_it_meets(person, slug):
    called = Called(person, slug, TIMING)
    assert "Needle at its very lowest" in words(called.page)
    called.send("keep", number="180")
    called.send("keep", number="210")
    called.send("keep", number="24.05")
    assert "Setting 1 of 14 Wheel at 90°: needle bar, mm" in words(called.page)
    query = parse_qs(urlsplit(str(called.page.url)).query)
    assert (query["lowest"], query["meets"], query["meeting"]) == (["180"], ["210"], ["24.05"])
    called.send("back")
    assert "the shuttle reads" in words(called.page)


@pytest.mark.parametrize(
    ("typed_in", "says"),
    [
        ({"number": ""}, "No figure was entered for the needle bar"),
        ({"number": "oil"}, "'oil' is not one number"),
        ({"number": "4000"}, "more than a head is high"),
        ({"number": "12", "wheel": "1500"}, "1500° is no reading of a disc"),
        ({"number": "12", "seen": "7"}, "sent before, or the table was changed"),
        ({"number": "12", "key": "feed"}, "Something else is asked for"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(person, bench, slug, typed_in, says):
    called = Called(person, slug, STROKES)
    answer = called.send("keep", **typed_in)
    assert answer.status_code in (409, 422)
    assert says in words(called.page)
    assert tables(bench, slug) == {}


def test_a_reading_sent_twice_is_kept_once(person, bench, slug):
    called = Called(person, slug, STROKES)
    called.send("keep", number="12.5")
    fields = called.fields() | {"do": "keep", "number": "30"}
    assert person.post(called.at, fields, follow=False).status_code == 303
    assert person.post(called.at, fields, follow=False).status_code == 409
    assert rows(bench, slug)[1] == [("0", "12.5", "30")]


def test_both_ways_are_written_beside_the_reading(person, bench, slug):
    called = Called(person, slug, STROKES | {"ways": "both", "parts": "needle bar"})
    called.send("keep", number="12.5", way="1")
    called.send("keep", number="13.5", way="-1")
    assert rows(bench, slug)[1] == [("0", "1", "12.5"), ("15", "-1", "13.5")]


PASTED = "Wheel angle [deg];needle_bar [mm];shuttle [mm]\n" + "\n".join(
    f"{15 * k};{20 + 0.1 * k};{k % 7}" for k in range(4)
)


def test_a_pasted_table_is_gone_on_with(person, bench, slug):
    called = Called(person, slug, STROKES)
    called.send("paste", pasted=PASTED)
    heads, kept = rows(bench, slug)
    assert heads == ["wheel [deg]", "needle bar [mm]", "shuttle [mm]"]
    assert len(kept) == 4
    assert parse_qs(urlsplit(str(called.page.url)).query)["had"] == ["4"]
    answer = called.send("paste", pasted="wheel [deg];needle bar [in]\n3;1")
    assert answer.status_code == 422
    assert "is in in and this table in mm" in words(answer)
    assert len(rows(bench, slug)[1]) == 4


def test_a_table_without_angles_is_not_gone_on_with(person, bench, slug):
    pulls = {"kind": "readings", "what": "pulls", "table": "pull [gf]\n3", "grade": "measured"}
    name = bench.records.add(slug, parse_entry(pulls))
    page = person.get(addresses.motion_readings(slug, **STROKES, go_on=name))
    assert page.status_code == 422
    assert "has no column of wheel angles" in words(page)
    assert name not in re.findall(r'<option value="([^"]+)"', page.text)


@pytest.mark.parametrize(
    ("gone", "says"),
    [
        ("aim", "what the readings are for"),
        ("parts", "tick at least one part"),
        ("ways", "how you will turn the wheel"),
        ("instrument", "No instrument was named"),
    ],
)
def test_nothing_is_taken_for_said_that_was_not(gone, says):
    with pytest.raises(CalledReadingError, match=says):
        calling_from([(name, value) for name, value in STROKES.items() if name != gone])


def test_the_phone_calls_out_what_the_computer_turned_it_to(joined, session, bench, slug):  # noqa: F811
    assert joined.client.get("/motion").status_code == 404
    assert joined.client.get("/state.json").json()["motion"] is False
    session.call_motion(slug, calling_from(list(STROKES.items())))
    assert joined.client.get("/state.json").json()["motion"] is True
    page = joined.client.get("/motion")
    assert "Wheel at 0°: needle bar, mm" in words(page)
    sent = {"do": "keep", "key": "needle bar", "seen": "0", "wheel": "0", "number": "minus two"}
    answer = joined.client.post("/motion", data=sent, headers=joined.headers)
    assert answer.status_code == 303
    assert rows(bench, slug)[1] == [("0", "-2")]
    assert session.arrived[0].name == "readings 1"
    assert bench.records.recent(slug)[0].made_by == "Ada, by phone"
    refused = joined.client.post("/motion", data=sent, headers=joined.headers)
    assert refused.status_code == 409
    assert "take-up" in words(refused)
    pasted = joined.client.post("/motion", data=sent | {"do": "paste"}, headers=joined.headers)
    assert pasted.status_code == 400
    assert rows(bench, slug)[1] == [("0", "-2")]


def test_a_stranger_reads_and_writes_no_motion(phone, session, slug):  # noqa: F811
    session.call_motion(slug, calling_from(list(STROKES.items())))
    assert phone.client.get("/motion").status_code == 401
    assert phone.client.post("/motion", data={}, headers=phone.headers).status_code == 401
