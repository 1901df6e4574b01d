import pytest

from ironlace.ornament.stencils import Process, known_process


@pytest.fixture(scope="session")
def laser() -> Process:
    return known_process("film-laser")
