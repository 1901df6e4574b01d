import re
import warnings
from html import unescape
from html.parser import HTMLParser
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from ironlace.web import create_app
from ironlace.web.bench import Limits
from ironlace.workshop import Workshop

with warnings.catch_warnings():
    # it would rather have a successor of httpx, which does the same here
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

ADDRESS = "http://127.0.0.1:8765"


class Person:
    """Someone at the bench with a browser that runs no script."""

    def __init__(self, app):
        self.app = app
        self.client = TestClient(app, base_url=ADDRESS, follow_redirects=False)

    @property
    def token(self):
        page = self.client.get("/").text
        return re.search(r'name="token" value="([0-9a-f]+)"', page)[1]

    def get(self, address, **options):
        return self.client.get(address, **options)

    def post(self, address, fields=(), *, follow=True, **options):
        data = {"token": self.token, **dict(fields)}
        headers = {"origin": ADDRESS, "sec-fetch-site": "same-origin"} | options.pop("headers", {})
        answer = self.client.post(address, data=data, headers=headers, **options)
        if follow and answer.status_code == 303:
            return self.client.get(answer.headers["location"])
        return answer


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


@pytest.fixture
def folder(tmp_path):
    Workshop.create(tmp_path / "workshop").close()
    return tmp_path / "workshop"


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
def slug(person):
    person.post("/machines", {"title": "Test head no. 1"})
    return "test-head-no-1"
