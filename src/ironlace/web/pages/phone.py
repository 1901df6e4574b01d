"""The phone's door as the computer sees it: opened, joined by a code, closed."""

import re
from typing import Annotated

import segno
from fastapi import APIRouter, Depends
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import Measurement
from ironlace.web import addresses
from ironlace.web.bench import Bench, BenchDep, HandDep
from ironlace.web.incoming import WITH_TOKEN, Form, FormDep
from ironlace.web.phone.house_network import house_addresses, is_public
from ironlace.web.phone.pairing import PairingState
from ironlace.web.phone.phone_door import DEFAULT_PORT, PhoneDoor, PhoneDoorError
from ironlace.web.phone.sessions import Session
from ironlace.web.rendering import page

router = APIRouter()
_SHOWN = 12
"""Arrivals on the page: the rest is counted."""
_MEASURED_BEFORE = 24
"""Things measured before that are offered to be read again."""


def door_of(request: Request) -> PhoneDoor:
    """The phone's door of the bench that answers a request."""
    found = request.app.state.door
    assert isinstance(found, PhoneDoor)
    return found


DoorDep = Annotated[PhoneDoor, Depends(door_of)]


@router.get(addresses.phone())
def phone(request: Request, bench: BenchDep, door: DoorDep, machine: str = "") -> Response:
    """Show how the door stands; closed, what opening it means."""
    return _phone(request, bench, door, {"machine": machine})


def _phone(
    request: Request,
    bench: Bench,
    door: PhoneDoor,
    values: dict[str, str],
    *,
    says: str = "",
    status: int = 200,
) -> Response:
    session = door.session
    code = session.pairing.code if session else None
    machines = [one for one in bench.records.all() if one.put_away is None]
    chosen = values.get("machine", "") or (session.work.slug if session else "")
    if not chosen and len(machines) == 1:
        chosen = machines[0].slug
    found = house_addresses() if session is None else []
    return page(
        request,
        "phone_door.html",
        status=status,
        session=session,
        state=session.pairing.state.name if session else "CLOSED",
        stands=stands_in_words(session),
        code=code,
        qr=_qr(session, code),
        public=session is not None and is_public(session.where.address),
        arrived=session.arrived[:_SHOWN] if session else [],
        came=_came_in_words(session),
        machines=machines,
        chosen=chosen,
        before=_measured_before(bench, chosen),
        house=found,
        port=DEFAULT_PORT,
        values=values,
        says=says,
    )


@router.post(addresses.phone_open())
def open_door(
    request: Request, bench: BenchDep, door: DoorDep, form: FormDep, hand: HandDep
) -> Response:
    """Open the door at the address chosen or typed."""
    address = form.one("typed") or form.one("address")
    try:
        slug = _machine_in(form)
        if not address:
            raise PhoneDoorError("It is not said at which address: choose one, or type it.")
        port = form.number("port") if form.one("port") else DEFAULT_PORT
        if port is None or port > 65_535:
            raise PhoneDoorError(
                f"'{form.one('port')}' is not a port: use a whole number up to 65535, or "
                f"{DEFAULT_PORT}."
            )
        door.open(address, slug, port=port, wanted=_wanted_in(form), hand=hand)
    except IronlaceError as error:
        values = {name: form.one(name) for name in ("machine", "address", "typed", "port")}
        values["wanted"] = "\n".join(_wanted_in(form))
        return _phone(request, bench, door, values, says=str(error), status=error.http_status)
    return RedirectResponse(addresses.phone(), 303)


@router.post(addresses.phone_close(), dependencies=WITH_TOKEN)
def close_door(door: DoorDep) -> Response:
    """Close the door; the session ends at once."""
    door.close()
    return RedirectResponse(addresses.phone(), 303)


@router.post(addresses.phone_code(), dependencies=WITH_TOKEN)
def another_code(door: DoorDep) -> Response:
    """Show a new code."""
    _session_of(door).pairing.new_code()
    return RedirectResponse(addresses.phone(), 303)


@router.post(addresses.phone_work())
def turn_to(request: Request, bench: BenchDep, door: DoorDep, form: FormDep) -> Response:
    """Turn the phone to a machine, and say what is to be read now."""
    session = _session_of(door)
    try:
        slug = _machine_in(form)
        session.work_for(slug, bench.records.read(slug).title, _wanted_in(form))
    except IronlaceError as error:
        return _phone(request, bench, door, {}, says=str(error), status=error.http_status)
    return RedirectResponse(addresses.phone(), 303)


@router.get(addresses.phone_state())
def state(door: DoorDep) -> Response:
    """How the door stands, for the script of its page."""
    session = door.session
    return JSONResponse(
        {
            "state": session.pairing.state.name if session else "CLOSED",
            "says": stands_in_words(session),
            "arrived": len(session.arrived) if session else 0,
            "came": _came_in_words(session),
        }
    )


def _came_in_words(session: Session | None) -> str:
    number = len(session.arrived) if session else 0
    return f"{number} came by the phone." if number else "Nothing has come by the phone yet."


def stands_in_words(session: Session | None) -> str:
    """How the door stands, in one sentence."""
    if session is None:
        return "The door is closed."
    minutes = session.pairing.minutes_left
    left = "1 more minute" if minutes == 1 else f"{minutes} more minutes"
    return {
        PairingState.CODE_SHOWN: f"No phone is joined yet. The code counts for {left}.",
        PairingState.CODE_OLD: "No phone is joined, and the code no longer counts.",
        PairingState.CODE_LOCKED: (
            "Five wrong codes were tried, so the code no longer counts. If it was not you, someone "
            "else on this network is trying: close the door."
        ),
        PairingState.JOINED: "A phone is joined.",
        PairingState.CHANGING: (
            f"A phone is joined. The code lets another in instead of it, for {left}."
        ),
        PairingState.ENDED: "The door is closed.",
    }[session.pairing.state]


def _session_of(door: PhoneDoor) -> Session:
    if door.session is None:
        raise NotFoundError("The phone's door is closed: open it first.")
    return door.session


def _machine_in(form: Form) -> str:
    slug = form.one("machine")
    if not slug:
        raise PhoneDoorError("It is not said for which machine: choose one.")
    return slug


def _wanted_in(form: Form) -> tuple[str, ...]:
    lines = [" ".join(line.split())[:300] for line in form.one("wanted").splitlines()]
    return tuple(dict.fromkeys(line for line in (*form.many("before"), *lines) if line))


def _measured_before(bench: Bench, slug: str) -> list[str]:
    try:
        record = bench.records.read(slug)
    except IronlaceError:
        return []
    names = dict.fromkeys(entry.what for _, entry in record.of(Measurement))
    return list(names)[: -_MEASURED_BEFORE - 1 : -1]


def _qr(session: Session | None, code: str | None) -> Markup:
    """The way to the door with its code, for the phone's camera; empty when no code counts.

    The code stands after `#`, which a browser keeps to itself: it is in no log.
    """
    if session is None or code is None:
        return Markup("")
    drawn = segno.make(f"{session.where.url}#{code}", error="m", micro=False).svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True
    )
    # the library's own text, of figures alone
    return Markup(re.sub(r"^<svg ", '<svg role="img" aria-label="Code for the phone" ', drawn))  # noqa: S704
