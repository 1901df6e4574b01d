"""A survey kept by many: what one member writes all have, and nobody's word is lost in silence."""

import numpy as np
import pytest

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.evidence.sources import Source, SourceKind
from ironlace.record import Allowed, Mark, ReportEntry
from ironlace.survey.answers.comparison import compare
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import read_reports
from ironlace.workshop import Workshop
from ironlace.workshop.club.address import ClubError, LostError, address_of
from ironlace.workshop.club.counts import club_table
from ironlace.workshop.club.exchange import exchange, join, leave, link_of, to_send
from ironlace.workshop.club.ledger import Ledger
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.survey.reports_of_record import reports_of

HOME = "the widow in Mill Lane"
"""What only the member may know who wrote it."""


def report(reads, name=HOME, **more):
    return ReportEntry(name=name, reads=reads, grade="seen", **more)


def mark(reads):
    return Mark(where="bed", reads=reads, purpose="serial number", grade="seen")


class Member:
    """A workshop at home, with a machine whose survey is kept with the club."""

    def __init__(self, folder, title, serial, address, *reports):
        self.workshop = Workshop.create(folder)
        self.slug = self.workshop.records.create(title)
        self.workshop.records.add(self.slug, mark(serial))
        self.reports = [self.write(one) for one in reports]
        self.join(address)

    def join(self, address):
        if self.workshop.records.survey_of(self.slug) is None:
            self.write(report("1·88·1", "a first one"))
        join(self.workshop, self.slug, address)

    def write(self, entry, name=None):
        if name is None:
            return self.workshop.records.add(self.slug, entry)
        self.workshop.records.change(self.slug, name, entry)
        return name

    def exchange(self):
        return exchange(self.workshop, self.slug)

    def read(self):
        return self.workshop.records.read(self.slug)

    def marks(self):
        return sorted(str(one.mark) for one in reports_of(self.read()).counted)

    def entry(self, reads):
        return next((n, e) for n, e in self.read().of(ReportEntry) if e.reads == reads)


@pytest.fixture
def member(tmp_path):
    made = []

    def make(title, serial, address, *reports):
        made.append(Member(tmp_path / title, title, serial, address, *reports))
        return made[-1]

    yield make
    for one in made:
        checked = check_workshop(one.workshop)
        assert checked.wrong == ()
        one.workshop.close()


@pytest.fixture
def both(member, reviewers):
    a = member("Plover head", "4·92·117", reviewers[0], report("5·95·1164"), report("7·93·12"))
    b = member("Wick head", "6·93·431", reviewers[1], report("9·96·88"))
    return a, b


def test_each_member_has_the_reports_of_all_and_their_machines(both):
    a, b = both
    said = [one.in_words() for one in to_send(a.workshop, a.slug)]
    assert len(said) == 3  # its own machine is a report for the others
    assert not any(HOME in one for one in said)
    assert a.exchange().sent
    heard = b.exchange()
    assert (len(heard.sent), len(heard.came)) == (2, 3)
    assert len(a.exchange().came) == 2
    assert (
        a.marks()
        == b.marks()
        == sorted(["4·92·117", "5·95·1164", "6·93·431", "7·93·12", "9·96·88"])
    )
    assert a.exchange().sentences() == ["Treadle Circle: nothing new."]
    assert b.exchange().sentences() == ["Treadle Circle: nothing new."]
    assert link_of(b.workshop, b.slug).known == 5
    name, entry = b.entry("5·95·1164")
    assert entry.name == "Treadle Circle 1"
    assert b.workshop.records.changes(b.slug, name)[0].made_by.startswith("Treadle Circle")


def test_what_is_private_stays_at_home_and_is_kept_there(member, reviewers):
    seen = Source(kind=SourceKind.PERSON, says="Mrs Hale")
    secret = report(
        "5·95·1164", place="12 Mill Lane, Northport", reporter="Mrs Hale", note="pays in eggs",
        sources=(seen,), dated="1896", dated_is="sold",
    )  # fmt: skip
    open_one = report("7·93·12", place="Northport", reporter="J. Crane", allowed=Allowed.NAMED)
    a = member("Plover head", "4·92·117", reviewers[0], secret, open_one)
    a.exchange()
    with Ledger(address_of(reviewers[1])) as ledger:
        stored = repr([change.told for change in ledger.changes_since(0)])
        for planted in (HOME, "Mill Lane", "Hale", "eggs"):
            assert planted not in stored
        assert "J. Crane" in stored
        theirs = next(c for c in ledger.changes_since(0) if c.told["reads"] == "5·95·1164")
        ledger.write(
            "k", theirs.told | {"reads": "5·95·1161"}, report=theirs.report, after=theirs.number
        )
    assert a.exchange().changed == [a.reports[0]]
    _, now = a.entry("5·95·1161")
    assert now == secret.model_copy(update={"reads": "5·95·1161"})


def test_of_two_who_change_one_report_neither_is_lost(both):
    a, b = both
    a.exchange(), b.exchange(), a.exchange()
    name, entry = a.entry("5·95·1164")
    a.write(entry.model_copy(update={"reads": "5·95·1161"}), name)
    theirs, other = b.entry("5·95·1164")
    b.write(other.model_copy(update={"reads": "5·95·1160"}), theirs)
    b.exchange()
    told = a.exchange()
    assert [n for n, _ in told.overtaken] == [name]
    assert any("your change was not taken" in one for one in told.sentences())
    assert a.entry("5·95·1160")[0] == name
    history = [c.entry.reads for c in a.workshop.records.changes(a.slug, name)]
    assert history == ["5·95·1164", "5·95·1161", "5·95·1160"]
    assert a.exchange().sentences() == b.exchange().sentences() == ["Treadle Circle: nothing new."]
    # looked at, and written again, it is taken
    a.write(a.entry("5·95·1160")[1].model_copy(update={"reads": "5·95·1161"}), name)
    assert a.exchange().sent == [name]
    assert b.exchange().changed == [theirs]


def test_withdrawn_there_is_withdrawn_here_and_a_race_is_told(both):
    a, b = both
    a.exchange(), b.exchange(), a.exchange()
    name, _ = a.entry("7·93·12")
    theirs, other = b.entry("7·93·12")
    a.write(None, name)
    assert a.exchange().sent == [name]
    assert b.exchange().withdrawn == [theirs]
    name, _ = a.entry("9·96·88")
    theirs, other = b.entry("9·96·88")
    b.write(other.model_copy(update={"reads": "9·96·83"}), theirs)
    a.write(None, name)
    b.exchange()
    assert [n for n, _ in a.exchange().overtaken] == [name]
    assert a.exchange().sentences() == ["Treadle Circle: nothing new."]
    assert b.marks() == sorted(["4·92·117", "5·95·1164", "6·93·431", "9·96·83"])


def test_a_second_sighting_is_one_everywhere(both):
    a, b = both
    a.exchange(), b.exchange()
    theirs, _ = b.entry("5·95·1164")
    b.write(report("5·95·11?4", "seen at a fair", same_as=theirs, counts=False))
    b.exchange()
    a.exchange()
    name, _ = a.entry("5·95·1164")
    assert a.entry("5·95·11?4")[1].same_as == name
    a.exchange(), b.exchange()
    assert a.exchange().sentences() == b.exchange().sentences() == ["Treadle Circle: nothing new."]
    assert a.marks() == b.marks()


def test_what_a_reporter_sends_in_waits_and_is_then_the_same_report(member, club):
    ben = member("Finch head", "2·91·5", club["ben"], report("3·91·77"), report("3·91·7?"))
    anna = member("Plover head", "4·92·117", club["anna"], report("7·93·12"))
    cora = member("Rook head", "8·94·9", club["cora"])
    sent = ben.exchange()
    assert len(sent.offered) == 3
    assert sent.waits == 3
    assert ben.exchange().offered == []
    anna.exchange()
    assert "3·91·77" not in anna.marks()
    assert any("only read there" in one for one in cora.exchange().sentences())
    with Ledger(address_of(club["anna"])) as ledger:
        waiting = {offer.told["reads"]: offer for offer in ledger.offers()}
        better = waiting["3·91·77"].told | {"reads": "3·91·71"}
        ledger.decide(waiting["3·91·77"].number, kept=True, told=better)
        ledger.decide(waiting["2·91·5"].number, kept=True)
        ledger.decide(waiting["3·91·7?"].number, kept=False, reason="the same as the other")
    heard = ben.exchange()
    assert len(heard.kept) == 2
    assert heard.turned_down[0][1] == "the same as the other"
    assert heard.changed == [ben.entry("3·91·71")[0]]
    assert len(heard.came) == 2
    assert len(anna.exchange().came) == 2
    assert ben.exchange().sentences() == ["Treadle Circle: nothing new."]
    # a correction waits as well, and comes back as a change when it is kept
    name, entry = ben.entry("3·91·71")
    ben.write(entry.model_copy(update={"dated": "1892", "dated_is": "sold"}), name)
    assert ben.exchange().offered == [name]
    with Ledger(address_of(club["anna"])) as ledger:
        (waits,) = ledger.offers()
        ledger.decide(waits.number, kept=True)
    assert ben.exchange().kept == [name]
    assert anna.exchange().changed == [anna.entry("3·91·71")[0]]
    assert cora.exchange().sentences()[0].startswith("Treadle Circle: 2 came new")
    assert anna.entry("3·91·71")[1].dated == "1892"


def test_the_club_can_be_left_and_another_is_not_taken_for_it(both, tmp_path):
    a, _ = both
    a.exchange()
    with pytest.raises(ConflictError, match="leave that first"):
        a.join(link_of(a.workshop, a.slug).address)
    other = f"sqlite:///{tmp_path / 'other.sqlite'}"
    Ledger.make(address_of(other), "Another")[0].close()
    with pytest.raises(ClubError, match="another club's survey"):
        exchange(a.workshop, a.slug, address=other)
    leave(a.workshop, a.slug)
    with pytest.raises(NotFoundError, match="no club"):
        a.exchange()
    before = a.marks()
    assert a.marks() == before


def test_a_report_that_cannot_be_read_is_named_and_the_rest_comes(both):
    a, b = both
    a.exchange()
    with Ledger(address_of(link_of(a.workshop, a.slug).address)) as ledger:
        for sent, told in (("x", {"reads": "4(", "grade": "seen"}), ("y", {"reads": "1·92·3"})):
            ledger.write(sent, told, report=None, after=0)
    heard = b.exchange()
    assert [number for number, _ in heard.unread] == [4, 5]
    assert len(heard.came) == 3
    assert b.exchange().sentences() == ["Treadle Circle: nothing new."]


class CutOff(Ledger):
    """A way to the club on which what was done is not always heard of: the answer is lost."""

    def __init__(self, url, rng):
        super().__init__(url)
        self.rng, self.cuts = rng, 0

    def _maybe(self):
        if self.rng.random() < 0.3:
            self.cuts += 1
            raise LostError("cut")

    def write(self, *words, **more):
        self._maybe()
        told = super().write(*words, **more)
        self._maybe()
        return told

    def offer(self, *words, **more):
        self._maybe()
        super().offer(*words, **more)
        self._maybe()

    def changes_since(self, number):
        self._maybe()
        return super().changes_since(number)


@pytest.mark.parametrize("who", ["anna", "ben"])
def test_whatever_answers_are_lost_each_report_is_there_once(member, club, who):
    rng = np.random.default_rng(7)
    marks = [f"{1 + k % 12}·9{k % 10}·{100 + k}" for k in range(12)]
    a = member("Plover head", "4·92·117", club[who], *(report(one) for one in marks))
    with CutOff(address_of(club[who]), rng) as way:
        while True:
            try:
                exchange(a.workshop, a.slug, ledger=way)
            except LostError:
                continue
            break
        assert way.cuts > 5
    with Ledger(address_of(club["anna"])) as ledger:
        for offer in ledger.offers():
            ledger.decide(offer.number, kept=True)
        there = sorted(change.told["reads"] for change in ledger.changes_since(0))
    assert there == sorted(["4·92·117", *marks])
    assert a.exchange().came == []
    assert a.marks() == sorted(["4·92·117", *marks])


def test_studies_read_the_clubs_own_counts(both):
    a, b = both
    b.write(report("5·95·1164", "the same, told by another"))
    b.write(report("8·94·2?"))
    b.write(report("8·94·2?", "another", strings="8·94·21 0.6; 8·94·27 0.3"))
    b.write(report("8·94·200", "not trusted", counts=False))
    theirs = b.entry("9·96·88")[0]
    b.write(report("9·96·8?", same_as=theirs, dated="1897", dated_is="sold", counts=False))
    a.exchange(), b.exchange(), a.exchange(), b.exchange()
    address = link_of(a.workshop, a.slug).address
    at_club = Reports.from_table(read_reports(club_table(address)))
    assert sorted(str(one.mark) for one in at_club.counted) == b.marks()
    assert [str(one.dated.kind) for one in at_club.counted if one.dated] == ["sold"]
    mine, theirs = compare(reports_of(b.read()).counted), compare(at_club.counted)
    # in another order the reports are the same reports
    assert theirs.best.name == mine.best.name
    assert theirs.best.log_evidence == pytest.approx(mine.best.log_evidence, abs=1e-6)
