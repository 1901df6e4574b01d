import re
from html import unescape
from html.parser import HTMLParser
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from bench_visitor import ADDRESS, Person, TestClient  # noqa: F401  (the pages' tests take them from here)
from ironlace.web import create_app
from ironlace.web.bench import Limits

from .browsing import browser


class _Words(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found = []

    def handle_data(self, data):
        self.found.append(data)

    def handle_starttag(self, tag, attrs):
        if tag not in ("a", "del", "ins", "strong", "span"):
            self.found.append(" ")


def words(answer):
    """The words on a page, without its tags."""
    parser = _Words()
    parser.feed(answer.text)
    return " ".join("".join(parser.found).split())


def typed(answer, name):
    """What stands in a field of a page."""
    found = re.search(rf'<input[^>]*name="{name}"[^>]*value="([^"]*)"', answer.text)
    if found is None:
        found = re.search(rf'<textarea[^>]*name="{name}"[^>]*>([^<]*)</textarea>', answer.text)
    return unescape(found[1]) if found else None


def jpeg(seed=0, size=(64, 48)):
    rows = np.random.default_rng(seed).integers(0, 255, (size[1], size[0], 3), dtype=np.uint8)
    out = BytesIO()
    Image.fromarray(rows).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture(scope="module")
def chromium():
    """A browser of the system, for all tests of a file: a context of its own keeps each apart.

    No longer than a file: while it lives, its event loop is the thread's.
    """
    with browser() as opened:
        yield opened


@pytest.fixture
def limits():
    return Limits(photograph=200_000, request=1_000_000, fields=20_000, files=5)


@pytest.fixture
def app(folder, limits):
    made = create_app(folder, foreman=False, limits=limits)
    yield made
    made.state.bench.workshop.close()


@pytest.fixture
def bench(app):
    return app.state.bench


@pytest.fixture
def person(app):
    return Person(app)


@pytest.fixture
def slug(bench):
    return bench.workshop.records.create("Test head no. 1")
