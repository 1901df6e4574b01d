"""The addresses this computer has on the house network, found without asking the network."""

import ipaddress
import socket
import struct
import sys
from contextlib import suppress
from dataclasses import dataclass

from ironlace.evidence.errors import IronlaceError

_NOWHERE = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254")
"""Nobody is asked there: a UDP socket only looks up which of our addresses it would go out by. The
first is set aside for examples (RFC 5737), the others lie in the private ranges (RFC 1918)."""
_NOWHERE_V6 = ("2001:db8::1", "fd00::1")
"""The same for IPv6 (RFC 3849, RFC 4193)."""
_SIOCGIFADDR = 0x8915
"""Linux's request for an interface's IPv4 address (netdevice(7))."""


class HouseNetworkError(IronlaceError):
    """There is no address at which a phone could reach this computer, or it is not to be used."""


@dataclass(frozen=True, slots=True)
class HouseAddress:
    """One address of this computer, and the interface it belongs to where that is known."""

    address: str
    interface: str = ""


def house_addresses() -> list[HouseAddress]:
    """Return this computer's private addresses, the one used for going out first.

    Nothing is sent and no name is looked up. On a system that does not tell its interfaces, some
    may be missing; then the address is typed.
    """
    found: dict[str, str] = {}
    for family, places in ((socket.AF_INET, _NOWHERE), (socket.AF_INET6, _NOWHERE_V6)):
        for place in places:
            found.setdefault(_going_out_by(family, place), "")
    found |= {address: interface for interface, address in _by_interface()}
    return [HouseAddress(one, name) for one, name in found.items() if one and _in_the_house(one)]


def check_address(address: str) -> str:
    """Return an address that a person typed, as it is written canonically.

    A public one is let through here: typed out, it was meant. `choose_address` never takes one.

    Raises HouseNetworkError when it is none, or stands for all addresses at once.
    """
    try:
        known = ipaddress.ip_address(address.strip().strip("[]"))
    except ValueError as error:
        raise HouseNetworkError(
            f"'{address[:60]}' is not an address in figures: give one of this computer's, such as "
            "192.168.1.7."
        ) from error
    if known.is_unspecified or known.is_multicast:
        raise HouseNetworkError(
            f"{known} stands for many addresses at once, and would open the door to every network "
            "this computer is in: give the one address that the phone can reach."
        )
    if known.version == 6 and known.is_link_local:
        raise HouseNetworkError(
            f"{known} needs the name of an interface, which no browser takes in an address: give "
            "another of this computer's addresses."
        )
    return str(known)


def choose_address(address: str | None = None) -> str:
    """Return the address that was typed, else the only private one this computer has.

    Raises HouseNetworkError when there is none, or several to choose from.
    """
    if address:
        return check_address(address)
    found = house_addresses()
    if not found:
        raise HouseNetworkError(
            "This computer has no address on a house network that could be found: join it to one, "
            "or give its address with --phone-address."
        )
    if len(found) > 1:
        told = ", ".join(f"{one.address} ({one.interface or 'unnamed'})" for one in found)
        raise HouseNetworkError(
            f"This computer has several addresses: say with --phone-address which the phone can "
            f"reach, of {told}."
        )
    return found[0].address


def is_public(address: str) -> bool:
    """Whether an address can be reached from outside the house, as far as it tells itself.

    >>> is_public("192.168.1.7"), is_public("8.8.4.4"), is_public("127.0.0.1")
    (False, True, False)
    """
    return not (_in_the_house(address) or ipaddress.ip_address(address).is_loopback)


def _in_the_house(address: str) -> bool:
    known = ipaddress.ip_address(address)
    if known.is_loopback or known.is_unspecified or known.is_multicast:
        return False
    if known.version == 6 and known.is_link_local:
        return False  # it needs the name of an interface, which no browser takes in an address
    return known.is_private or known.is_link_local


def _going_out_by(family: socket.AddressFamily, place: str) -> str:
    with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asked:
        asked.connect((place, 9))  # a UDP socket sends nothing by this
        return str(asked.getsockname()[0]).partition("%")[0]
    return ""


def _by_interface() -> list[tuple[str, str]]:
    """Interfaces with their IPv4 address, where the system tells them."""
    if not sys.platform.startswith("linux"):
        return []
    import fcntl

    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                wanted = struct.pack("256s", name.encode()[:15])
                told = fcntl.ioctl(asked.fileno(), _SIOCGIFADDR, wanted)
                found.append((name, socket.inet_ntoa(told[20:24])))
    return found
