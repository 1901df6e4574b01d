"""Joining one phone by a code: once, soon, and not by trying."""

import re
import threading

import pytest

from ironlace.web.phone.pairing import (
    CODE_LASTS_S,
    CODE_LENGTH,
    CODE_SIGNS,
    TRIES,
    Pairing,
    PairingError,
    PairingState,
)


class Clock:
    """A clock that a test turns on."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def pairing(clock):
    return Pairing(clock)


def wrong(code):
    first = next(sign for sign in CODE_SIGNS if sign != code[0])
    return first + code[1:]


def test_a_code_can_be_read_across_a_room_and_typed(pairing):
    codes = {pairing.new_code() for _ in range(300)}
    assert len(codes) == 300
    assert all(re.fullmatch(f"[{CODE_SIGNS}]{{{CODE_LENGTH}}}", code) for code in codes)
    assert not set("0O1IL2Z5S8BUV") & set(CODE_SIGNS)
    assert len(CODE_SIGNS) ** CODE_LENGTH / TRIES > 1e10


def test_the_code_lets_one_phone_in_once(pairing):
    code = pairing.code
    token = pairing.join(f" {code[:4].lower()}-{code[4:]} ")
    assert pairing.state is PairingState.JOINED
    assert pairing.code is None
    assert pairing.admits(token)
    assert not pairing.admits("")
    assert not pairing.admits(token + "x")
    with pytest.raises(PairingError, match="Another phone is joined") as refused:
        pairing.join(code)
    assert refused.value.http_status == 409
    assert pairing.admits(token)


def test_a_second_phone_takes_over_only_by_a_code_that_the_computer_shows(pairing):
    first = pairing.join(pairing.code)
    code = pairing.new_code()
    assert pairing.state is PairingState.CHANGING
    assert pairing.admits(first)  # until the other has typed it
    second = pairing.join(code)
    assert pairing.admits(second)
    assert not pairing.admits(first)


def test_five_wrong_codes_lock_it_and_the_right_one_does_not_open_it(pairing):
    code = pairing.code
    for left in range(TRIES - 1, 0, -1):
        tries = "1 try" if left == 1 else f"{left} tries"
        with pytest.raises(PairingError, match=rf"not the code .* \({tries} left\)"):
            pairing.join(wrong(code))
    with pytest.raises(PairingError, match="Five wrong codes") as refused:
        pairing.join(wrong(code))
    assert refused.value.http_status == 429
    assert pairing.state is PairingState.CODE_LOCKED
    with pytest.raises(PairingError, match="Five wrong codes"):
        pairing.join(code)
    pairing.join(pairing.new_code())


def test_wrong_codes_do_not_throw_out_the_phone_that_is_joined(pairing):
    token = pairing.join(pairing.code)
    code = pairing.new_code()
    for _ in range(TRIES):
        with pytest.raises(PairingError):
            pairing.join(wrong(code))
    assert pairing.admits(token)
    assert pairing.state is PairingState.JOINED


@pytest.mark.parametrize("typed", ["", "ABC", "O0000000", "ACDEFGHJK", "ÄÄÄÄÄÄÄÄ", "x" * 500])
def test_a_slip_of_the_finger_is_no_try(pairing, typed):
    for _ in range(TRIES + 1):
        with pytest.raises(PairingError, match="8 letters and figures"):
            pairing.join(typed)
    pairing.join(pairing.code)


def test_a_code_is_too_old_after_ten_minutes(pairing, clock):
    code = pairing.code
    clock.now += CODE_LASTS_S - 1
    assert pairing.minutes_left == 1
    assert pairing.state is PairingState.CODE_SHOWN
    clock.now += 1
    assert pairing.code is None
    assert pairing.minutes_left == 0
    assert pairing.state is PairingState.CODE_OLD
    with pytest.raises(PairingError, match="no longer counts"):
        pairing.join(code)


def test_a_phone_that_goes_out_needs_a_new_code(pairing):
    token = pairing.join(pairing.code)
    pairing.part("another's")
    assert pairing.admits(token)
    pairing.part(token)
    assert not pairing.admits(token)
    assert pairing.state is PairingState.CODE_OLD


def test_the_end_is_the_end(pairing):
    token, code = pairing.join(pairing.code), pairing.new_code()
    pairing.end()
    assert not pairing.admits(token)
    with pytest.raises(PairingError, match="door is closed"):
        pairing.join(code)
    pairing.new_code()
    assert pairing.code is None
    assert not pairing.admits("")


def test_of_two_phones_at_the_same_moment_one_gets_in(pairing):
    code, inside, refused = pairing.code, [], []
    together = threading.Barrier(8)

    def knock():
        together.wait()
        try:
            inside.append(pairing.join(code))
        except PairingError as error:
            refused.append(error)

    phones = [threading.Thread(target=knock) for _ in range(8)]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join()
    assert (len(inside), len(refused)) == (1, 7)
