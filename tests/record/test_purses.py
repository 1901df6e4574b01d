"""Hours and money of two currencies added up by week, by step and as a whole."""

from decimal import Decimal

from ironlace.record import Record, parse_entry
from ironlace.record.choices import STEPS
from ironlace.record.entries import EntryKind, Outlay
from ironlace.record.entry_fields import fields_of
from ironlace.record.job import job_of
from ironlace.record.purses import purses_of


def record(*payloads):
    found, counts = {}, {}
    for payload in payloads:
        kind = EntryKind(payload["kind"])
        counts[kind] = counts.get(kind, 0) + 1
        found[kind, counts[kind]] = parse_entry(payload)
    return Record("m", "A machine", found)


def spent(**more):
    return {"kind": "outlay", "what": "x", **more}


def rate(one, worth, date, currency="EUR"):
    return {
        "kind": "rate",
        "one": one,
        "worth": worth,
        "currency": currency,
        "date": date,
        "by": "a bank",
    }


OUTLAYS = (
    spent(hours="2", date="1893-04-03", step="treat"),  # a Monday
    spent(cost="10", currency="GBP", date="1893-04-09", step="treat"),  # the Sunday of that week
    spent(cost="5", currency="EUR", date="1893-04-10", step="running"),
    spent(hours="1.5", date="1893-04"),  # a month is no week
    spent(cost="1.10", currency="GBP"),
)


def test_sums_keep_each_purse_apart_where_no_rate_leads():
    purses = purses_of(record(*OUTLAYS))
    assert purses.whole.hours == Decimal("3.5")
    assert purses.whole.costs == (("EUR", Decimal("5")), ("GBP", Decimal("11.10")))
    assert purses.whole.together is None
    assert purses.money == ""
    assert [(s.of, s.hours, s.costs) for s in purses.by_week] == [
        ("week 14 of 1893", Decimal("2"), (("GBP", Decimal("10")),)),
        ("week 15 of 1893", Decimal(0), (("EUR", Decimal("5")),)),
        ("no week said", Decimal("1.5"), (("GBP", Decimal("1.10")),)),
    ]
    assert [s.of for s in purses.by_step] == [
        "Get it sewing",
        "Treat, and keep the record",
        "no step said",
    ]


def test_the_rate_of_the_day_leads_from_one_purse_to_the_other():
    purses = purses_of(
        record(*OUTLAYS, rate("GBP", "1.2", "1893-04-01"), rate("GBP", "1.5", "1893-04-20"))
    )
    # 10 GBP at 1.2, 5 EUR, and 1.10 GBP of no day at the last rate
    assert purses.whole.together == Decimal("12.00") + 5 + Decimal("1.65")
    assert purses.whole.with_hours is None  # an hour has no rate
    assert [name for name, _ in purses.rates] == ["rate 1", "rate 2"]


def test_a_rate_serves_the_other_way_and_hours_have_one_of_their_own():
    purses = purses_of(
        record(*OUTLAYS, rate("EUR", "0.8", "1893", "GBP"), rate("hour", "2", "1893", "GBP"))
    )
    assert purses.money == "GBP"
    assert purses.whole.together == Decimal("11.10") + 4
    assert purses.whole.with_hours == Decimal("15.10") + 7


def test_a_purse_without_a_rate_is_named_and_not_added():
    purses = purses_of(record(*OUTLAYS, rate("USD", "0.9", "1893")))
    assert purses.without_rate == ("GBP",)
    assert purses.whole.together is None


def test_one_purse_needs_no_rate_and_none_says_nothing():
    assert purses_of(record()) is None
    assert purses_of(record(spent(cost="4", currency="EUR"))).whole.together is None


def test_the_steps_an_outlay_names_are_those_of_the_job():
    step = next(field for field in fields_of(Outlay) if field.name == "step")
    assert dict(step.choices) == {"": "not said", **STEPS}
    steps, _ = job_of(record())
    assert {one.key: one.title for one in steps} == STEPS
    for key in STEPS:
        assert parse_entry(spent(hours="1", step=key)).step == key
