"""What the tests of several rooms share."""

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def darkroom():
    """The renderer that shares nothing with the solver, kept beside the ornament's tests."""
    place = Path(__file__).parent / "ornament" / "darkroom.py"
    spec = importlib.util.spec_from_file_location("darkroom_of_all", place)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
