"""A visitor to the bench, who has a browser that runs no script."""

import re
import warnings
from functools import cached_property

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

    @cached_property
    def token(self):
        """What each form of this bench carries, as its first page told it."""
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
