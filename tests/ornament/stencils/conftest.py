import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from ironlace.ornament.stencils import Process, known_process


@pytest.fixture(scope="session")
def laser() -> Process:
    return known_process("film-laser")
