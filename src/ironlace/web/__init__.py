"""The bench in a browser: pages made on the server, for one person at one workshop.

`create_app` makes the application, `serve` runs it on loopback. Pages work without script except
where a picture is worked on.
"""

from ironlace.web.app import create_app
from ironlace.web.serving import PhoneAsked, serve

__all__ = ["PhoneAsked", "create_app", "serve"]
