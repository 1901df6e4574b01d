"""A club's database on each kind that there is, empty for each test."""

from itertools import count

import pytest

import database_server
from ironlace.workshop.club.address import address_of
from ironlace.workshop.club.ledger import Ledger

MEMBERS = {"anna": "reviewer", "dora": "reviewer", "ben": "reporter", "cora": "reader"}
_NUMBERS = count(1)


@pytest.fixture(scope="session")
def server():
    if database_server.programs() is None:
        pytest.skip("There is no PostgreSQL on this computer: install Debian's postgresql.")
    with database_server.running() as found:
        logins = (f"CREATE ROLE {name} LOGIN" for name in [*MEMBERS, "keeper", "nobody_there"])
        found.ask("postgres", *logins, "ALTER ROLE keeper CREATEROLE")
        yield found


@pytest.fixture
def club(server):
    """A club's survey on PostgreSQL: the address of each member's way to it."""
    name = f"club{next(_NUMBERS)}"
    server.ask("postgres", f"CREATE DATABASE {name} OWNER keeper")
    server.ask(name, "GRANT ALL ON SCHEMA public TO keeper")
    ledger, roles = Ledger.make(address_of(server.address("keeper", name)), "Treadle Circle")
    ledger.close()
    server.ask(name, *(f"GRANT {roles[right]} TO {who}" for who, right in MEMBERS.items()))
    return {who: server.address(who, name) for who in [*MEMBERS, "keeper", "nobody_there"]}


@pytest.fixture(params=["sqlite", "postgresql"])
def reviewers(request, tmp_path):
    """Two reviewers' addresses of one club's survey, on either kind of database."""
    if request.param == "sqlite":
        address = f"sqlite:///{tmp_path / 'club.sqlite'}"
        Ledger.make(address_of(address), "Treadle Circle")[0].close()
        return address, address
    club = request.getfixturevalue("club")
    return club["anna"], club["dora"]
