"""Set Ironlace up on this machine and run it: `python3 run.py demo`, `python3 run.py test`.

Needs Python 3.11 or newer with venv, and nothing else. The environment is made once in `.venv`
beside this file, from the hashed lock; a changed lock makes it anew.
"""

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ENVIRONMENT = HERE / ".venv"
DEMO = HERE / "build" / "demo-workshop"
USAGE = """usage: python3 run.py demo          set up, make the demo workshop and its pack, open it
       python3 run.py test [...]    set up and run the tests (more words go to pytest)
       python3 run.py check         set up and run linter, type checker and import contracts
       python3 run.py ironlace ...  run any other Ironlace command in this environment
"""
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
    # the lock is whole: pip is to look nothing up beside it (an old pip looks extras up anew)
    pip("--no-deps", "--require-hashes", "--requirement", str(lock))
    pip("--no-deps", "--no-build-isolation", "--editable", str(HERE))
    done.write_text(wanted)


def wanted_by(mark: Path) -> str:
    """Return the checksum of the lock that a mark stands for."""
    return hashlib.sha256((HERE / mark.name.removesuffix(".done")).read_bytes()).hexdigest()


def pip(*words: str) -> None:
    """Install quietly; end with pip's own words when it fails."""
    command = [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*command, *words], check=False)
    if done.returncode:
        sys.exit("The libraries could not be installed (see above): check the network, run again.")


def python() -> Path:
    """Return the environment's Python."""
    if os.name == "nt":
        return ENVIRONMENT / "Scripts" / "python.exe"
    return ENVIRONMENT / "bin" / "python"


def run(*words: str) -> int:
    """Run the environment's Python; a Ctrl-C ends it and us alike."""
    try:
        return subprocess.run([str(python()), *words], check=False, cwd=HERE).returncode
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
