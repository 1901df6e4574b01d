"""Set Ironlace up on this machine and run it: `python3 run.py demo`, `python3 run.py test`.

Needs Python 3.11 or newer with venv, and nothing else. The environment is made once in `.venv`
beside this file, from the hashed lock; a changed lock makes it anew. Where IRONLACE_ENVIRONMENT
says, a second one is made, for a second Python.
"""

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ENVIRONMENT = HERE / os.environ.get("IRONLACE_ENVIRONMENT", ".venv")
DEMO = HERE / "build" / "demo-workshop"
USAGE = """usage: python3 run.py demo          set up, make the demo workshop and its pack, open it
       python3 run.py test [...]    set up and run the tests (more words go to pytest)
       python3 run.py quick [...]   set up and run the tests that take no time, while working
       python3 run.py check         set up and run linter, type checker and import contracts
       python3 run.py lock [...]    write both locks anew from pyproject.toml; --upgrade for newer
       python3 run.py oldest [...]  run the quick tests with the oldest libraries it allows
       python3 run.py newest [...]  the same with the newest there are today
       python3 run.py ironlace ...  run any other Ironlace command in this environment
"""
LOCKS = {"requirements.lock": "build", "requirements-dev.lock": "dev"}
"""Each lock, and the dependency group that stands in it beside what the program itself needs."""
LIBRARIES = {"oldest": "lowest-direct", "newest": "highest"}
"""What the resolver calls the libraries of `try_libraries`."""
NOT_INSTALLED = "The libraries could not be installed (see above): check the network, run again."
CHECKS = (
    ("-m", "ruff", "check"),
    ("-m", "ruff", "format", "--check"),
    ("-m", "mypy"),
    ("-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"),
)


def main(words: list[str]) -> int:
    """Do what the words ask; return the exit code."""
    if sys.version_info < (3, 11):  # noqa: UP036  (the one file that an older Python may meet)
        print("Ironlace needs Python 3.11 or newer: install one and use it for run.py.")
        return 2
    match words:
        case ["demo", *rest]:
            prepare("requirements.lock")
            return run("-m", "ironlace", "demo", str(DEMO), *rest)
        case ["test", *rest]:
            prepare("requirements-dev.lock")
            return run("-m", "pytest", *rest)
        case ["quick", *rest]:
            prepare("requirements-dev.lock")
            return run("-m", "pytest", "-m", "not slow and not browser", *rest)
        case ["lock", *rest]:
            return make_locks(*rest)
        case ["oldest", *rest]:
            return try_libraries("oldest", *rest)
        case ["newest", *rest]:
            return try_libraries("newest", *rest)
        case ["check"]:
            prepare("requirements-dev.lock")
            return max(run(*command) for command in CHECKS)
        case ["ironlace", *rest]:
            prepare("requirements.lock")
            return run("-m", "ironlace", *rest)
    print(USAGE, end="")
    return 0 if words in (["-h"], ["--help"]) else 2


def prepare(lock_name: str) -> None:
    """Make the environment hold what a lock lists, unless it does already."""
    lock = HERE / lock_name
    wanted = hashlib.sha256(lock.read_bytes()).hexdigest()
    # the larger lock holds all of the smaller one, so having it is enough for both
    done = ENVIRONMENT / f"{lock_name}.done"
    larger = ENVIRONMENT / "requirements-dev.lock.done"
    if any(mark.exists() and mark.read_text() == wanted_by(mark) for mark in (done, larger)):
        return
    print(f"Setting up in {ENVIRONMENT.name} (once, a minute or two) ...", flush=True)
    if not python().exists():
        venv.create(ENVIRONMENT, with_pip=True)
    install(lock)
    pip("--no-deps", "--no-build-isolation", "--editable", str(HERE))
    done.write_text(wanted)


def install(lock: Path) -> None:
    """Put what a lock lists into the environment: by pip, or by the quicker resolver in a second.

    The lock is whole: nothing is looked up beside it (an old pip looks extras up anew). Modules are
    compiled as they are first used, a few of the many, unless that is forbidden.
    """
    hashed = ["--no-deps", "--require-hashes", "--requirement", str(lock)]
    if "IRONLACE_ENVIRONMENT" not in os.environ:
        pip(*([] if sys.dont_write_bytecode else ["--no-compile"]), *hashed)
        return
    resolver, _ = make_resolver()
    command = [*resolver, "install", "--quiet", "--no-config", "--python", str(python()), *hashed]
    if subprocess.run(command, check=False).returncode:
        sys.exit(NOT_INSTALLED)


def make_locks(*words: str) -> int:
    """Write both locks anew, in an environment of its own; more words go to the resolver.

    What is locked already stays as it is while pyproject.toml allows it. A lock holds for each
    supported Python and system (markers say which line is for which), with the checksum of every
    file that may be installed, and names no address and no path.
    """
    resolver, oldest = make_resolver()
    for lock, group in LOCKS.items():
        command = [*resolver, "compile", "--quiet", "pyproject.toml"]
        command += ["--group", group, "--output-file", lock, "--universal", "--no-config"]
        command += ["--python-version", oldest, "--generate-hashes", "--no-header", "--no-annotate"]
        done = subprocess.run([*command, *words], check=False, cwd=HERE)
        if done.returncode:
            print(f"{lock} is as it was: the resolver's own words are above.")
            return done.returncode
    return 0


def make_resolver() -> tuple[list[str], str]:
    """Set up what resolves libraries; return how it is called, and the oldest Python supported."""
    import tomllib  # noqa: PLC0415  (an older Python reads this file as far as its own message)

    tools = HERE / "build" / "lock-tools"
    if not python(tools).exists():
        venv.create(tools, with_pip=True)
    project = tomllib.loads((HERE / "pyproject.toml").read_text(encoding="utf-8"))
    pip(*project["dependency-groups"]["lock"], environment=tools)
    oldest = project["project"]["requires-python"].removeprefix(">=")
    return [str(python(tools)), "-m", "uv", "pip"], oldest


def try_libraries(which: str, *words: str) -> int:
    """Run the quick tests with the oldest or newest libraries that pyproject.toml allows.

    Without the lock, in an environment made anew each time: what it says changes from day to day,
    so no other check rests on it. Old libraries warn of newer ones, which fails nothing here.
    """
    resolver, _ = make_resolver()
    environment = HERE / "build" / f"{which}-libraries"
    venv.create(environment, clear=True, with_pip=True)
    chosen = str(HERE / "build" / f"{which}.txt")
    own = ["--python", str(python(environment)), "--quiet"]
    compiling = [*resolver, "compile", *own, "pyproject.toml", "--output-file", chosen]
    installing = [*resolver, "install", *own, "--requirement", chosen, "--group", "dev"]
    for command in ([*compiling, "--resolution", LIBRARIES[which]], installing):
        if subprocess.run(command, check=False, cwd=HERE).returncode:
            print("These libraries could not be put together: the resolver says why above.")
            return 1
    pip("--no-deps", "--no-build-isolation", "--editable", str(HERE), environment=environment)
    tests = ["-m", "pytest", "-m", "not slow and not browser and not network"]
    tests += ["-o", "filterwarnings=default", *words]
    return subprocess.run([str(python(environment)), *tests], check=False, cwd=HERE).returncode


def wanted_by(mark: Path) -> str:
    """Return the checksum of the lock that a mark stands for."""
    return hashlib.sha256((HERE / mark.name.removesuffix(".done")).read_bytes()).hexdigest()


def pip(*words: str, environment: Path = ENVIRONMENT) -> None:
    """Install quietly; end with pip's own words when it fails."""
    command = [str(python(environment)), "-m", "pip", "install"]
    command += ["--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*command, *words], check=False)
    if done.returncode:
        sys.exit(NOT_INSTALLED)


def python(environment: Path = ENVIRONMENT) -> Path:
    """Return an environment's Python."""
    if os.name == "nt":
        return environment / "Scripts" / "python.exe"
    return environment / "bin" / "python"


def run(*words: str) -> int:
    """Run the environment's Python; a Ctrl-C ends it and us alike."""
    try:
        return subprocess.run([str(python()), *words], check=False, cwd=HERE).returncode
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
