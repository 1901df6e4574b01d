"""The account on one bare page: all that the site tells, and nothing that needs a program."""

import re
from html.parser import HTMLParser

import pytest

from ironlace.dossier.plain_page import PLAIN_FILE, write_plain_page
from ironlace.dossier.site.pages import write_site

VOID = {"meta", "img", "br", "link", "hr", "input"}


class _Page(HTMLParser):
    """Tags opened and closed in order, ids, links, words."""

    def __init__(self, text):
        super().__init__()
        self.open, self.ids, self.to, self.words, self.tags = [], [], [], [], set()
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        told = dict(attrs)
        self.ids += [told["id"]] if "id" in told else []
        self.to += [told[key] for key in ("href", "src") if key in told]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def written(full_account, tmp_path_factory):
    folder = tmp_path_factory.mktemp("plain")
    write_site(full_account, folder / "site")
    return folder, write_plain_page(full_account, folder).read_text(encoding="utf-8")


def test_it_needs_no_style_and_no_script(written):
    page = _Page(written[1])
    assert not page.tags & {"script", "style", "link", "svg", "form", "iframe", "object"}
    assert "style=" not in written[1] and "class=" not in written[1].partition('id="about"')[0]
    assert written[1].startswith("<!DOCTYPE html>")


def test_every_link_leads_somewhere(written):
    folder, text = written
    page = _Page(text)
    assert len(page.ids) == len(set(page.ids))
    for to in page.to:
        if to.startswith("#"):
            assert to[1:] in page.ids, to
        elif not to.startswith("dossier") and to != "record.json":  # these lie beside it in a bag
            assert (folder / to).is_file(), to


def test_it_tells_what_the_site_tells(written, full_account):
    """Every run of words that the site's pages show is on the one page too."""
    folder, text = written
    told = _Page(text).text.lower()
    for page in (folder / "site").glob("*.html"):
        main = re.sub(
            r"<(nav|header|footer|svg|details)\b.*?</\1>",
            " ",
            page.read_text(encoding="utf-8"),
            flags=re.DOTALL,
        )
        for paragraph in re.findall(r"<(?:p class=\"says[^>]*|h3|dd)>([^<>]{12,})<", main):
            words = " ".join(_Page(f"<p>{paragraph}</p>").text.split()).lower()
            assert words in told, words
    for grade in ("seen", "measured", "inferred", "conjectured"):
        assert told.count(f"how it is known: {grade}") or told.count(f"({grade})")


def test_no_secret_is_on_it(written, secret):
    assert secret not in written[1]


def test_an_empty_record_has_a_page_too(make_record, tmp_path):
    from ironlace.dossier.account.record_to_account import account_of

    account = account_of(make_record([]), {}, {})
    write_site(account, tmp_path / "site")
    assert write_plain_page(account, tmp_path).name == PLAIN_FILE
    _Page((tmp_path / PLAIN_FILE).read_text(encoding="utf-8"))
