import json

import numpy as np
import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare
from ironlace.survey.answers import next_report as asking
from ironlace.survey.answers.comparison import as_likely
from ironlace.survey.answers.next_report import kinds_of_report, next_report, with_report

MANY = (
    "4.96.217 11.95.30 7.93.412 2.97.118 12.94.77 9.96.301 1.95.140 6.94.255 3.97.9 10.93.188 "
    "8.95.61 5.92.330 12.96.19 4.94.402"
)
FIVE = "4.96.217 11.95.30 7.93.412 2.97.118 12.94.77"


def reports(text):
    return [Report(f"R{i}", parse_marking(m)) for i, m in enumerate(text.split())]


def test_one_more_report_agrees_with_comparing_again():
    all_five = reports(FIVE)
    quick = with_report(compare(all_five[:4]), all_five[4])
    slow = compare(all_five)
    for result in slow.results[:6]:
        assert quick.of(result.name).posterior == pytest.approx(result.posterior, abs=0.02)
        if result.posterior > 0.1:
            # of an unlikely running number the order with the new date is judged only by comparing
            assert quick.of(result.name).log_evidence == pytest.approx(result.log_evidence, abs=0.2)


def test_what_next_is_the_same_for_the_same_drawings_and_reads_plainly():
    found = compare(reports(FIVE), ["month, dot, year, dot, number in month"])
    one = next_report(found, np.random.default_rng(1), trials=60, most=5)
    two = next_report(found, np.random.default_rng(1), trials=60, most=5)
    assert one == two
    json.dumps(one.as_dict(), allow_nan=False)
    assert all(kind.bits > -0.02 for kind in one.kinds)
    assert any(s.mark == parse_marking("13.96.217") for s in one.sinks)
    # the odds of the one page are those of the other, in the same words
    assert f"would turn it from {as_likely(found.odds, found.against)} to " in one.sentences()[-1]
    assert as_likely(found.odds, found.against) in found.sentences()[0]


def test_how_many_more_is_told_from_one_route():
    found = compare(reports("4.96.217 11.95.30 7.93.412"))
    told = next_report(found, np.random.default_rng(1), trials=60, most=5)
    assert told.sentences()[0].startswith("Ask next for a ")
    assert any("four cases out of five" in s or "more than 5" in s for s in told.sentences())
    assert not [s for s in found.sentences() if " more " in s and "report" in s]


def test_when_all_is_settled_nothing_more_is_needed():
    found = compare(reports(MANY), ["month, dot, year, dot, number in month"])
    told = next_report(found, np.random.default_rng(1), trials=60, most=5)
    assert told.settled
    said = told.sentences()
    assert said[0].startswith("Nothing more is needed: 'month, year, number within the month' is")
    assert "bits" not in " ".join(said)


def test_power_rises_with_more_reports():
    found = compare(reports("4.96.217 11.95.30"), ["month, dot, year, dot, number in month"])
    told = next_report(found, np.random.default_rng(2), trials=80, most=6)
    for power in told.power:
        assert np.all(np.diff(power.chance) > -0.15)
    assert told.power[0].chance[-1] >= told.power[1].chance[-1]


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(
    "text", ["4.96.217", "4.96.217 11.95.30 7.93.412", "1204 3391 877 2045", "B°93·412 C°91·20"]
)
def test_a_report_that_says_less_never_tells_more(text, seed):
    found = compare(reports(text))
    told = next_report(found, np.random.default_rng(seed), trials=40, most=2)
    assert [kind.what.split()[-1] for kind in told.kinds] == ["photograph", "far", "told"]
    bits = [kind.bits for kind in told.kinds]
    assert bits == sorted(bits, reverse=True)


def test_the_order_is_in_the_drawings_and_not_only_made(monkeypatch):
    monkeypatch.setattr(asking, "_never_rising", list)
    found = compare(reports("4.96.217 11.95.30"))
    playing = [r for r in found.results if r.posterior > 1e-5]
    drawn = [
        [k.bits for k in kinds_of_report(playing, found.assumptions, np.random.default_rng(s), 60)]
        for s in range(6)
    ]
    careful, so_far, by_word = np.mean(drawn, axis=0)
    # standard error of each difference over these draws: 0.01 bits
    assert careful > so_far - 0.02 and so_far > by_word - 0.02 and careful > by_word


def test_a_theory_less_likely_than_the_rest_sinks_by_shares():
    why = "13 where the month should stand"
    said = asking.WouldSink(parse_marking("13.83.14"), why, 1 / 3, 1 / 99, "the others").sentence()
    assert said == f"A single clear 13·83·14 ({why}) would bring it from 25.0 % down to 1.0 %."


def test_what_no_mark_can_part_is_not_called_settled():
    found = compare(reports("5541 1203 7800 4410 3333 901 6120 2750"))
    assert found.beside(found.best.name)
    asked = next_report(found, np.random.default_rng(1), trials=20, most=2, odds=(2.0, 20.0))
    said = asked.sentences()[0]
    assert asked.settled
    assert said.startswith("No further mark can tell more")
    assert "came with a date" in said
