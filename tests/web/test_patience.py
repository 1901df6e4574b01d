"""A connection that stops within the head of its request does not stand open for ever."""

import socket
import threading
import time
from contextlib import suppress

import pytest
import uvicorn

from ironlace.web.patience import PatientProtocol


class Hasty(PatientProtocol):
    headers_s = 0.5


async def _slow(scope, receive, send):
    """Answers after longer than a head may take."""
    import asyncio

    await asyncio.sleep(1.2)
    await send(
        {"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]}
    )
    await send({"type": "http.response.body", "body": b"ok"})


@pytest.fixture
def port():
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(
        uvicorn.Config(_slow, http=Hasty, ws="none", lifespan="off", log_level="warning")
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield listening.getsockname()[1]
    server.should_exit = True
    thread.join(10)
    listening.close()


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHost: a", b"GET / HT"])
def test_a_head_that_does_not_come_whole_is_given_up(port, sent):
    with socket.create_connection(("127.0.0.1", port), timeout=10) as one:
        one.sendall(sent)
        assert one.recv(100) == b""  # closed by the other side, before we lose patience


def test_one_that_sends_a_letter_at_a_time_wins_no_time(port):
    letters = b"GET / HTTP/1.1\r\nX: " + b"a" * 200
    sent = 0
    with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=10) as one:
        for letter in letters:  # closed while it still sends
            one.sendall(bytes([letter]))
            sent += 1
            time.sleep(0.05)
    assert sent < len(letters)


def test_a_whole_request_has_all_the_time_its_answer_takes_and_may_be_followed(port):
    with socket.create_connection(("127.0.0.1", port), timeout=10) as one:
        for _ in range(2):
            one.sendall(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
            got = b""
            while not got.endswith(b"ok"):
                piece = one.recv(1000)
                assert piece
                got += piece
        one.sendall(b"GET / HT")
        assert one.recv(100) == b""
