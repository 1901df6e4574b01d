"""Reading what a page sends: fields with limits, files straight to disk, the token checked first.

Every write goes through `FormDep` or `token_in_header`, so none can forget the token (a test walks
all routes). In a multipart form the token must stand before the first file, so that nothing is
written to disk for a stranger.
"""

import json
from collections.abc import AsyncIterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Annotated, Any
from urllib.parse import parse_qsl

from fastapi import Depends
from python_multipart.exceptions import MultipartParseError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from ironlace.evidence.errors import IronlaceError
from ironlace.web.bench import Bench, Limits, bench_of
from ironlace.web.tokens import TOKEN_FIELD, TOKEN_HEADER, NotOursError
from ironlace.workshop.store.originals import Incoming, Receiving, Store, TooLargeError

_PIECE = 1 << 20
"""Bytes gathered before they are written: one call to another thread for each (judged)."""


class FormError(IronlaceError):
    """A request's body is not a form that can be read."""

    http_status = 400


class StaleFormError(NotOursError):
    """A form of ours whose token is not this visitor's: what was typed is handed back."""

    def __init__(self, fields: list[tuple[str, str]]) -> None:
        super().__init__(
            "This page was opened before the browser forgot this bench (cookies were cleared, or "
            "it was opened from another program): nothing is lost, send it again."
        )
        self.fields = fields


@dataclass(frozen=True, slots=True)
class ReceivedFile:
    """A file that came in with a form: whole on disk, or refused with a sentence."""

    came_as: str
    incoming: Incoming | None
    refused: str = ""


@dataclass
class Form:
    """What a person sent."""

    fields: list[tuple[str, str]] = field(default_factory=list)
    files: list[ReceivedFile] = field(default_factory=list)

    def one(self, name: str, default: str = "") -> str:
        """The last value of a field, without blanks around it."""
        return next((v.strip() for n, v in reversed(self.fields) if n == name), default)

    def many(self, name: str) -> list[str]:
        """All values of a field, without empty ones."""
        return [value.strip() for n, value in self.fields if n == name and value.strip()]

    def each(self, name: str) -> list[str]:
        """All values of a field, empty ones among them: those after it keep their places."""
        return [value.strip() for n, value in self.fields if n == name]

    def rows(self, columns: Sequence[str]) -> list[dict[str, str]]:
        """The rows of a table that is sent cell by cell; one that was left empty is none.

        Empty cells count here, else those of a later row would slide into their place.
        """
        cells = {one: self.each(one) for one in columns}
        count = max((len(column) for column in cells.values()), default=0)
        rows = [
            {one: column[n] if n < len(column) else "" for one, column in cells.items()}
            for n in range(count)
        ]
        return [row for row in rows if any(row.values())]

    def number(self, name: str) -> int | None:
        """A field that holds a whole number, None when it does not."""
        text = self.one(name)
        return int(text) if text.isdecimal() and len(text) < 16 else None


async def _read_form(request: Request) -> AsyncIterator[Form]:
    bench = bench_of(request)
    kind, options = parse_options_header(request.headers.get("content-type"))
    with ExitStack() as held:
        form = Form()
        if kind == b"application/x-www-form-urlencoded":
            await _read_urlencoded(request, bench.limits, form)
            _check_token(request, bench, form)
        elif kind == b"multipart/form-data" and options.get(b"boundary"):
            parts = _Parts(request, bench, form, held)
            await _read_multipart(request, options[b"boundary"], parts)
            _check_token(request, bench, form)
        else:
            raise FormError("Nothing was sent that can be read as a form: use the bench's pages.")
        yield form


FormDep = Annotated[Form, Depends(_read_form)]
# for a form whose token is all that is read of it
WITH_TOKEN = [Depends(_read_form)]


def token_in_header(request: Request) -> None:
    """Refuse a script's request that does not carry this visitor's token."""
    if not bench_of(request).gate.admits(
        request.state.visitor, request.headers.get(TOKEN_HEADER, "")
    ):
        raise NotOursError("This request carries no token of this bench: reload the page.")


async def read_json(request: Request, limits: Limits) -> dict[str, Any]:
    """Read what a script sends: one JSON object, no longer than a form's text may be."""
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > limits.fields:
            raise _too_much_text(limits)
    try:
        told = json.loads(body.decode("utf-8"))
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        raise FormError("What was sent is not JSON: reload the page and try again.") from error
    if not isinstance(told, dict):
        raise FormError("What was sent is not one JSON object: reload the page and try again.")
    return told


async def receive_body(request: Request, store: Store, limit: int, came_as: str) -> "Held":
    """Stream a request's bare body to disk."""
    held = ExitStack()
    try:
        receiving = held.enter_context(store.receive(limit, came_as))
        gathered = bytearray()
        async for piece in request.stream():
            gathered += piece
            if len(gathered) >= _PIECE:
                await run_in_threadpool(receiving.write, bytes(gathered))
                gathered.clear()
        await run_in_threadpool(receiving.write, bytes(gathered))
        return Held(await run_in_threadpool(receiving.whole), held)
    except BaseException:
        held.close()
        raise


@dataclass(frozen=True, slots=True)
class Held:
    """A file on its way in, gone when the holder lets go of it unless it was kept."""

    incoming: Incoming
    held: ExitStack

    def __enter__(self) -> Incoming:
        return self.incoming

    def __exit__(self, *_: object) -> None:
        self.held.close()


def _check_token(request: Request, bench: Bench, form: Form) -> None:
    if not bench.gate.admits(request.state.visitor, form.one(TOKEN_FIELD)):
        raise StaleFormError([(n, v) for n, v in form.fields if n != TOKEN_FIELD])


async def _read_urlencoded(request: Request, limits: Limits, form: Form) -> None:
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > limits.fields:
            raise _too_much_text(limits)
    try:
        form.fields = parse_qsl(
            body.decode(), keep_blank_values=True, errors="strict", max_num_fields=20_000
        )
    except (UnicodeDecodeError, ValueError) as error:
        raise FormError("The form is not readable text: reload the page and try again.") from error


async def _read_multipart(request: Request, boundary: bytes, parts: "_Parts") -> None:
    limits = parts.bench.limits
    try:
        parser = MultipartParser(
            boundary,
            {
                "on_part_begin": parts.begin,
                "on_header_field": parts.header_name,
                "on_header_value": parts.header_value,
                "on_header_end": parts.header_end,
                "on_headers_finished": parts.headers_finished,
                "on_part_data": parts.data,
                "on_part_end": parts.end,
                "on_end": parts.finish,
            },
        )
        total = 0
        gathered = bytearray()
        async for piece in request.stream():
            total += len(piece)
            if total > limits.request:
                raise TooLargeError(
                    f"More than {limits.request // 1_000_000} MB came at once: send fewer files."
                )
            gathered += piece
            if len(gathered) >= _PIECE:
                await run_in_threadpool(parser.write, bytes(gathered))
                gathered.clear()
        await run_in_threadpool(parser.write, bytes(gathered))
    except MultipartParseError as error:
        raise FormError("The form broke off on its way: send it again.") from error
    if not parts.finished:
        raise FormError("The form broke off on its way: send it again.")


class _Parts:
    """The parts of a multipart form as they come in, each to its place."""

    def __init__(self, request: Request, bench: Bench, form: Form, held: ExitStack) -> None:
        self.request, self.bench, self.form, self.held = request, bench, form, held
        self.finished = False
        self._headers: dict[bytes, bytes] = {}
        self._name = self._value = b""
        self._field = ""
        self._text = bytearray()
        self._text_total = 0
        self._came_as: str | None = None
        self._receiving: Receiving | None = None
        self._refused = ""

    def begin(self) -> None:
        self._headers, self._name, self._value = {}, b"", b""
        self._text, self._came_as = bytearray(), None
        self._receiving, self._refused = None, ""

    def header_name(self, data: bytes, start: int, end: int) -> None:
        self._name += data[start:end]

    def header_value(self, data: bytes, start: int, end: int) -> None:
        self._value += data[start:end]

    def header_end(self) -> None:
        self._headers[self._name.lower()] = self._value
        self._name = self._value = b""

    def headers_finished(self) -> None:
        _, options = parse_options_header(self._headers.get(b"content-disposition"))
        self._field = options.get(b"name", b"").decode("utf-8", "replace")
        if b"filename" not in options:
            return
        # only the last step of a name is of interest, and never as a path
        name = options[b"filename"].decode("utf-8", "replace").replace("\\", "/")
        self._came_as = name.rpartition("/")[2][:200]
        if not self._came_as:
            return
        _check_token(self.request, self.bench, self.form)
        if len(self.form.files) >= self.bench.limits.files:
            self._refused = (
                f"More than {self.bench.limits.files} files came at once: send the rest after."
            )
            return
        self._receiving = self.held.enter_context(
            self.bench.workshop.store.receive(self.bench.limits.photograph, self._came_as)
        )

    def data(self, data: bytes, start: int, end: int) -> None:
        if self._came_as is None:
            self._text_total += end - start
            if self._text_total > self.bench.limits.fields:
                raise _too_much_text(self.bench.limits)
            self._text += data[start:end]
        elif self._receiving is not None and not self._refused:
            try:
                self._receiving.write(data[start:end])
            except TooLargeError as error:
                self._refused = str(error)

    def end(self) -> None:
        if self._came_as is None:
            self.form.fields.append((self._field, self._text.decode("utf-8", "replace")))
        elif self._refused:
            self.form.files.append(ReceivedFile(self._came_as, None, self._refused))
        elif self._receiving is not None:
            self.form.files.append(ReceivedFile(self._came_as, self._receiving.whole()))

    def finish(self) -> None:
        self.finished = True


def _too_much_text(limits: Limits) -> TooLargeError:
    return TooLargeError(
        f"More than {limits.fields // 1_000_000} MB of text came in one form: "
        "keep long documents as photographs or files, and name them here."
    )
