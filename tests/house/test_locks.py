"""Both locks are whole, hold for every Python and system, and install with old and new pips."""

import re
import subprocess
import sys
from importlib.metadata import distribution
from pathlib import Path
from tomllib import loads

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT = loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LOCKS = {"requirements.lock": "build", "requirements-dev.lock": "dev"}
PYTHONS = ("3.11", "3.12", "3.13")
OURS = "{}.{}".format(*sys.version_info)
SYSTEMS = (("linux", "Linux"), ("win32", "Windows"), ("darwin", "Darwin"))
PIPS = ("22.3", "")
"""What Python 3.11.0 brings, and the newest there is; `run.py` uses what lies between them."""
LINE = re.compile(
    r"[a-z0-9][a-z0-9._-]*==[0-9][0-9a-z.+]*( ; [a-z_]+ [<>=!]+ '[A-Za-z0-9.]+')? \\"
    r"|    --hash=sha256:[0-9a-f]{64}( \\)?"
)

locks = pytest.mark.parametrize("lock", LOCKS)


def text_of(lock):
    return (ROOT / lock).read_text(encoding="utf-8")


def lines_of(lock, environment):
    """The requirements that a lock holds for one Python on one system, by name."""
    found = {}
    for line in re.findall(r"^(\S.*?) \\$", text_of(lock), re.MULTILINE):
        requirement = Requirement(line)
        if requirement.marker is None or requirement.marker.evaluate(environment):
            name = canonicalize_name(requirement.name)
            assert name not in found, f"{lock} holds {name} twice for {environment}"
            found[name] = requirement
    return found


def wanted(group):
    """What pyproject.toml asks for: the program's own needs and one group's."""
    groups = PROJECT["dependency-groups"]
    asked = list(PROJECT["project"]["dependencies"])
    rest = list(groups[group])
    while rest:
        item = rest.pop()
        if isinstance(item, dict):
            rest += groups[item["include-group"]]
        else:
            asked.append(item)
    return [Requirement(text) for text in asked]


@locks
def test_a_lock_holds_nothing_but_versions_and_checksums(lock):
    # so no address of an index and no path of the machine that made it can stand in it
    odd = [line for line in text_of(lock).splitlines() if not LINE.fullmatch(line)]
    assert odd == []
    for piece in re.split(r"^(?=\S)", text_of(lock), flags=re.MULTILINE)[1:]:
        assert "--hash=sha256:" in piece, f"no checksum: {piece}"


@locks
@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize(("platform", "system"), SYSTEMS)
def test_each_supported_python_finds_one_version_of_each_library(lock, python, platform, system):
    environment = default_environment() | {
        "python_version": python,
        "python_full_version": f"{python}.0",
        "sys_platform": platform,
        "platform_system": system,
    }
    found = lines_of(lock, environment)
    for requirement in wanted(LOCKS[lock]):
        held = found[canonicalize_name(requirement.name)]
        (pin,) = held.specifier
        assert requirement.specifier.contains(pin.version), f"{held} is not {requirement}"


@locks
def test_a_lock_is_whole_and_holds_nothing_to_spare(lock):
    """Every need of every library in it is in it: it is installed without looking beside it."""
    found = lines_of(lock, default_environment())
    reached, rest = set(), [(need, "the project") for need in wanted(LOCKS[lock])]
    done = set()
    while rest:
        need, by = rest.pop()
        name = canonicalize_name(need.name)
        assert name in found, f"{by} needs {need}, which is not in {lock}"
        (pin,) = found[name].specifier
        assert need.specifier.contains(pin.version, prereleases=True), f"{by} needs {need}"
        reached.add(name)
        for extra in ("", *need.extras):
            if (name, extra) in done:
                continue
            done.add((name, extra))
            for text in distribution(name).requires or ():
                inner = Requirement(text)
                if inner.marker is None or inner.marker.evaluate({"extra": extra}):
                    rest.append((inner, name))
    assert set(found) == reached


def test_the_smaller_lock_stands_in_the_larger():
    # having installed the larger one is enough for both (see run.py)
    larger = text_of("requirements-dev.lock")
    for piece in re.split(r"^(?=\S)", text_of("requirements.lock"), flags=re.MULTILINE)[1:]:
        assert piece.strip() in larger


@pytest.fixture(scope="module", params=PIPS, ids=lambda version: f"pip-{version or 'newest'}")
def old_or_new_pip(request, tmp_path_factory):
    """How one version of pip is called, which lies in a folder of its own."""
    home = tmp_path_factory.mktemp("pip")
    wanted_pip = f"pip=={request.param}" if request.param else "pip"
    install = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", wanted_pip]
    subprocess.run([*install, "--target", str(home)], check=True)
    return [sys.executable, str(home / "pip")]


@pytest.mark.slow
@pytest.mark.network
@pytest.mark.skipif(
    sys.version_info >= (3, 12), reason="the oldest pip does not run on newer Pythons"
)
def test_the_programs_lock_installs_with_the_oldest_and_the_newest_pip(old_or_new_pip, tmp_path):
    # the larger one's lines are of the same kind, and it was installed for these tests
    command = [*old_or_new_pip, "install", "--dry-run", "--quiet", "--no-deps"]
    command += ["--require-hashes", "--requirement", str(ROOT / "requirements.lock")]
    # into an empty folder, as what runs these tests has them all
    command += ["--target", str(tmp_path), "--ignore-installed", "--only-binary=:all:"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
@pytest.mark.network
@pytest.mark.parametrize("python", [p for p in (PYTHONS[0], PYTHONS[-1]) if p != OURS])
def test_the_larger_lock_has_a_wheel_for_the_oldest_and_the_newest_python(python, tmp_path):
    # for the Python that runs this, see the test before
    if python == PYTHONS[-1] and (ROOT / "build" / "newer-python").exists():
        pytest.skip("the lock was installed with it for the tests that run on it")
    command = [sys.executable, "-m", "pip", "install", "--dry-run", "--quiet", "--no-deps"]
    command += ["--require-hashes", "--requirement", str(ROOT / "requirements-dev.lock")]
    command += ["--target", str(tmp_path)]
    command += ["--python-version", python, "--only-binary=:all:", "--ignore-installed"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
@pytest.mark.network
def test_the_locks_made_again_hold_the_same_versions(tmp_path):
    # of the checksums only that there are some: a release may get a wheel for one more system
    for name in ("run.py", "pyproject.toml", *LOCKS):
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    command = [sys.executable, str(tmp_path / "run.py"), "lock"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    for lock in LOCKS:
        made = (tmp_path / lock).read_text(encoding="utf-8")
        assert [li for li in made.splitlines() if not LINE.fullmatch(li)] == []
        assert re.findall(r"^\S.*", made, re.MULTILINE) == re.findall(
            r"^\S.*", text_of(lock), re.MULTILINE
        )
