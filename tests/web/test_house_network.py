"""Which addresses of this computer the phone's door may be at."""

import socket

import pytest

from ironlace.web.phone import house_network
from ironlace.web.phone.house_network import (
    HouseAddress,
    HouseNetworkError,
    check_address,
    choose_address,
    house_addresses,
    is_public,
)


@pytest.fixture
def found(monkeypatch):
    """What the system is made to tell: interfaces, and addresses by which one goes out."""

    def tell(interfaces, outward=""):
        monkeypatch.setattr(house_network, "_by_interface", lambda: interfaces)
        monkeypatch.setattr(
            house_network,
            "_going_out_by",
            lambda family, _: outward if family == socket.AF_INET else "",
        )

    return tell


def test_only_private_ones_are_offered_the_one_for_going_out_first(found):
    found(
        [
            ("lo", "127.0.0.1"),
            ("wired", "10.1.2.3"),
            ("wifi", "192.168.1.7"),
            ("net", "8.8.4.4"),
            ("shared", "100.64.3.2"),
        ],
        "192.168.1.7",
    )
    assert house_addresses() == [
        HouseAddress("192.168.1.7", "wifi"),
        HouseAddress("10.1.2.3", "wired"),
    ]


def test_the_only_one_is_taken_and_of_several_one_must_be_said(found):
    found([("wifi", "192.168.1.7")], "192.168.1.7")
    assert choose_address() == "192.168.1.7"
    found([("wifi", "192.168.1.7"), ("wired", "10.1.2.3")])
    with pytest.raises(HouseNetworkError, match=r"192\.168\.1\.7 \(wifi\), 10\.1\.2\.3 \(wired\)"):
        choose_address()
    assert choose_address("10.1.2.3") == "10.1.2.3"


def test_a_public_one_is_never_chosen_but_may_be_typed(found):
    found([("net", "8.8.4.4")], "8.8.4.4")
    with pytest.raises(HouseNetworkError, match="no address on a house network"):
        choose_address()
    assert choose_address("8.8.4.4") == "8.8.4.4"
    assert is_public("8.8.4.4")
    assert not is_public("fd00::7")


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "224.0.0.1", "ff02::1"])
def test_no_address_that_stands_for_many(address):
    with pytest.raises(HouseNetworkError, match="many addresses at once"):
        check_address(address)


@pytest.mark.parametrize(
    "address", ["", "localhost", "my.house.example", "192.168.1", "1.2.3.4:80"]
)
def test_what_is_no_address_in_figures_is_told(address):
    with pytest.raises(HouseNetworkError, match="not an address in figures"):
        check_address(address)


def test_ipv6_is_written_one_way_and_needs_no_interface():
    assert check_address("[FD00:0::7]") == "fd00::7"
    with pytest.raises(HouseNetworkError, match="name of an interface"):
        check_address("fe80::1%eth0")


def test_the_system_is_asked_without_sending_or_looking_up_anything(monkeypatch):
    def never(*_, **__):
        raise AssertionError("the network was asked")

    for name in ("getaddrinfo", "gethostbyname", "gethostbyname_ex", "create_connection"):
        monkeypatch.setattr(socket, name, never)
    for name in ("send", "sendto", "sendall"):
        monkeypatch.setattr(socket.socket, name, never, raising=False)
    assert all(not is_public(one.address) for one in house_addresses())
