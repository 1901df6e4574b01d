import json

import pypdfium2
import pytest

from ironlace.cli import main
from ironlace.record import Mark
from ironlace.survey.sharing.report_block import compose, reports_in
from ironlace.workshop import Workshop

SLUG = "test-head"


@pytest.fixture
def run(capsys, tmp_path):
    with Workshop.create(tmp_path / "w") as workshop:
        workshop.records.create("Test head")
        mark = Mark(reads="C°94·201", where="bed", grade="seen", purpose="serial number")
        workshop.records.add(SLUG, mark)

    def run(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main(["survey", *(str(word) for word in words), "-w", str(tmp_path / "w")])
        out, err = capsys.readouterr()
        return end.value.code or 0, out, err

    return run


@pytest.fixture
def sent(tmp_path):
    file = tmp_path / "report.txt"
    file.write_text(compose({"reads": "C°95·7", "sender": "A. Person", "sender_as": "by my name"}))
    return file


def test_a_call_is_written_as_page_cards_and_text(run, tmp_path):
    out = tmp_path / "call"
    code, told, _ = run("call", SLUG, "--out", out, "--mail", "a@b.example", "--json")
    assert code == 0
    names = ["call.html", "call.txt", "card-a5.pdf", "card-a6.pdf"]
    assert json.loads(told)["files"] == names
    assert sorted(file.name for file in out.iterdir()) == names
    assert "a@b.example" in (out / "call.txt").read_text()
    for name, size in (("card-a6.pdf", (105, 148)), ("card-a5.pdf", (148, 210))):
        card = pypdfium2.PdfDocument(out / name)
        assert len(card) == 1
        assert [round(edge * 25.4 / 72) for edge in card[0].get_size()] == list(size)
        assert "a@b.example" in card[0].get_textpage().get_text_range()
    assert run("call", SLUG, "--out", out)[0] == 2


def test_a_call_without_an_address_says_so(run, tmp_path):
    out = tmp_path / "call"
    code, told, _ = run("call", SLUG, "--out", out)
    assert code == 0
    assert "No mailbox was given" in told
    assert "No address was given with this call" in (out / "call.html").read_text()


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--mail", "a@b.example?bcc=c@d.example", "no address of a mailbox"),
        ("--photograph", "photograph 9", "no photograph 9"),
        ("--at", "1,2", "name the photograph too"),
    ],
)
def test_what_a_call_cannot_say_is_refused(run, tmp_path, option, value, says):
    code, _, err = run("call", SLUG, "--out", tmp_path / "call", option, value)
    assert code == 2
    assert says in err
    assert not (tmp_path / "call").exists()


def test_the_tray_from_the_first_to_the_thanks(run, sent, tmp_path):
    code, told, _ = run("tray", "take-in", SLUG, sent, "--json")
    assert (code, json.loads(told)) == (0, {"sent": ["sent 1"], "came_before": [], "left": []})
    (one,) = json.loads(run("tray", "list", SLUG, "--json")[1])["sent"]
    assert (one["name"], one["reads"], one["verdict"]) == ("sent 1", "C°95·7", "waiting")
    code, told, _ = run("tray", "decide", SLUG, "sent 1", "kept", "--json")
    assert json.loads(told) == {"sent": "sent 1", "verdict": "kept", "report": "report 1"}
    assert run("tray", "list", SLUG)[1] == "Nothing waits in the tray.\n"
    assert "kept, report 1" in run("tray", "list", SLUG, "--decided")[1]
    assert "A. Person: C°95·7" in run("tray", "thanks", SLUG)[1]
    out = tmp_path / "thanks.txt"
    assert run("tray", "thanks", SLUG, "--out", out)[0] == 0
    assert "A. Person" in out.read_text()
    assert "report 1 is withdrawn" in run("tray", "take-back", SLUG, "sent 1")[1]


def test_what_cannot_be_is_refused_with_one_sentence(run, sent, tmp_path):
    assert run("tray", "take-in", SLUG, tmp_path / "none.eml")[0] == 2
    run("tray", "take-in", SLUG, sent)
    for words in (
        ("sent 2", "kept"),
        ("sent 1", "turned down"),
        ("sent 1", "kept", "--dated-is", "perhaps"),
        ("sent 1", "waiting"),
    ):
        code, _, err = run("tray", "decide", SLUG, *words)
        assert code == 2
        assert err.count("\n") == 1


def test_the_text_of_a_call_is_filled_in_and_comes_back(run, tmp_path):
    run("call", SLUG, "--out", tmp_path / "call")
    text = (tmp_path / "call" / "call.txt").read_text()
    filled = tmp_path / "answer.txt"
    filled.write_text(text.replace("+ The number reads:", "+ The number reads: C°96·5"))
    assert reports_in(filled.read_text())[0].of("reads") == "C°96·5"
    assert "sent 1" in run("tray", "take-in", SLUG, filled)[1]
