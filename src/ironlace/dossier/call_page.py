"""The call for reports as one page that opens from a disk: all that it needs is in it.

It sends nothing anywhere. With a script it composes the lines of a report into a mail and into a
file; without one it shows the lines to fill in by hand, and a link to write to.
"""

import base64
import hashlib
import json
from dataclasses import dataclass
from importlib.resources import files
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from ironlace.survey.sharing.call import CAUTION, DISAGREES, LIGHT, NAME, Call
from ironlace.survey.sharing.report_block import (
    BEGINS,
    ENDS_CHECKED,
    KNOWN,
    LABELS,
    NAMED,
    SIGNS,
    YES_NO,
    empty_form,
    longest_of,
)


@dataclass(frozen=True, slots=True)
class PlaceShown:
    """A photograph on which the number's place is shown.

    Attributes
    ----------
    jpeg
        The picture, without notes of its camera.
    across, down
        The place, in hundredths of width and height; None where it is not pointed to.
    caption
        What it shows.
    """

    jpeg: bytes
    across: float | None
    down: float | None
    caption: str


def call_page(call: Call, shown: PlaceShown | None, back: str = "") -> str:
    """Make the page.

    Parameters
    ----------
    call
        What is called for.
    shown
        Where the number sits; a drawn figure stands there where there is no photograph.
    back
        Where the account is that the call stands beside, empty where it stands alone.
    """
    environment = Environment(
        loader=PackageLoader("ironlace.dossier", "templates/call"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    script = _text("call.js")
    style = _text("call.css")
    return environment.get_template("call.html").render(
        call=call,
        light=LIGHT,
        caution=CAUTION,
        disagrees=DISAGREES,
        name_kept=NAME,
        known=KNOWN,
        named=NAMED,
        yes_no=YES_NO,
        labels=LABELS,
        longest={field: longest_of(field) for field in LABELS},
        form=empty_form(call.machine),
        mail_link=_mail_link(call),
        shown=shown,
        picture="data:image/jpeg;base64," + base64.b64encode(shown.jpeg).decode() if shown else "",
        figure=Markup(figure()),  # noqa: S704  (our own drawing)
        style=Markup(style),  # noqa: S704  (our own, as is the script)
        script=Markup(script),  # noqa: S704
        policy=page_policy(),
        back=back,
        told=Markup(_told(call)),  # noqa: S704  (made safe for a script by itself)
    )


def page_policy() -> str:
    """What the page may do: run its own script and style, show its own picture, nothing else."""
    return (
        f"default-src 'none'; img-src data:; style-src '{_digest(_text('call.css'))}'; "
        f"script-src '{_digest(_text('call.js'))}'; base-uri 'none'; form-action 'none'"
    )


def figure() -> str:
    """The drawn figure: a machine's head, and where numbers are often struck."""
    return _text("figure.svg")


def _text(name: str) -> str:
    return files("ironlace.dossier").joinpath("templates", "call", name).read_text("utf-8")


def _digest(text: str) -> str:
    """What a page allows to run or to style by (Content Security Policy, level 2)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _mail_link(call: Call) -> str:
    """A link that begins a mail with the lines to fill in (RFC 6068)."""
    subject = quote(f"Report of a machine: {call.machine}"[:120], safe="")
    body = quote(empty_form(call.machine).replace("\n", "\r\n"), safe="")
    return f"mailto:{quote(call.mail, safe='@')}?subject={subject}&body={body}"


def _told(call: Call) -> str:
    """What the script needs, as JSON that no text can break out of."""
    told = {
        "mail": quote(call.mail, safe="@"),
        "answers": call.machine,
        "labels": LABELS,
        "begins": BEGINS,
        "ends": ENDS_CHECKED,
        "signs": SIGNS,
        "longest": {field: longest_of(field) for field in LABELS},
    }
    text = json.dumps(told, ensure_ascii=True)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
