"""The calendar file, read back by a reader of its own."""

from datetime import UTC, datetime

from ironlace.care.oil_calendar import oil_calendar
from ironlace.care.oil_plan import Point, due_dates

MADE = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)


def read_back(text):
    """Events of a calendar as dicts: unfolded, parted at the first colon, unescaped (RFC 5545)."""
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    lines = text.replace("\r\n ", "").split("\r\n")[:-1]
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    events, now = [], None
    for line in lines:
        name, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            now = {}
        elif line == "END:VEVENT":
            events.append(now)
            now = None
        elif now is not None:
            plain, at = "", 0
            while at < len(value):
                char = value[at]
                if char == "\\":
                    at += 1
                    char = {"n": "\n"}.get(value[at], value[at])
                plain += char
                at += 1
            now[name] = plain
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[1] == "VERSION:2.0"
    assert lines[-1] == "END:VCALENDAR"
    return events


def test_every_point_is_an_event_on_its_day():
    name = "cup; left, behind\nthe “arm” \\ où l’huile coule très lentement — no. 3, " + "ø" * 60
    points = due_dates(
        [
            Point(name, "2026-01-31", every_months=1, drops=2),
            Point("needle bar", "2026-12-31", every_hours=2.0, hours_per_week=14.0),
        ]
    )
    first, second = read_back(oil_calendar(points, MADE))
    assert first["SUMMARY"] == f"Oil {name}: 2 drops"
    assert first["DTSTART;VALUE=DATE"] == "20260228"
    assert first["DTEND;VALUE=DATE"] == "20260301"
    assert second["DTSTART;VALUE=DATE"] == "20270101"
    assert second["DTSTAMP"] == "20260301T093000Z"
    assert first["UID"] != second["UID"]


def test_an_event_keeps_its_uid_when_written_again():
    points = due_dates([Point("cup", "2026-01-31", every_months=1)])
    later = datetime(2026, 4, 1, tzinfo=UTC)
    assert (
        read_back(oil_calendar(points, MADE))[0]["UID"]
        == (read_back(oil_calendar(points, later))[0]["UID"])
    )


def test_no_name_can_break_a_line():
    points = due_dates([Point("cup\r\nEND:VEVENT\r\x07", "2026-01-31", every_months=1)])
    assert len(read_back(oil_calendar(points, MADE))) == 1
