"""Which tests are slow: a kept list, measured in seconds of one core and never asserted.

`python3 run.py test --measure-slow` runs the tests and writes `slow.txt` beside this file anew:
what took more than `SLOW_S` of processor time, in this process and those it started. What other
programs do at the same time hardly moves that, so the list is much the same on every machine. Tests
in the list are marked slow; `python3 run.py quick` leaves them out.

`--slow-share K/N` deals the files with slow tests into N shares that take about as long each, and
runs of all slow tests those of the Kth alone, with what stands in `ALWAYS`.

A run of more than `TOLD_FROM_S` says at its end what each room's tests took of one core.

What is there once the tests are collected (a million objects) stays to the end, so that looking
through it for litter again and again would only take time.
"""

import argparse
import gc
import os
from collections import Counter, defaultdict
from pathlib import Path

import pytest

SLOW_S = 0.3
TOLD_FROM_S = 60
DEAREST = 12
"""So many files are named beside the rooms."""
LIST = Path(__file__).with_name("slow.txt")
_HEAD = f"""# Tests that take more than {SLOW_S} s of one core; the figure is for the slowest case.
# Written by: python3 run.py test --measure-slow
"""
ALWAYS = ("tests/house/", "tests/web/test_walk_browser.py", "tests/workshop/test_demo_workshop.py")
"""Run every time: the rules of the house, and the job as a newcomer and the README begin it."""
_PROPERTY = "core_s"


def pytest_addoption(parser):
    parser.addoption(
        "--measure-slow", action="store_true", help="write tests/house/slow.txt anew from this run"
    )
    parser.addoption(
        "--slow-share",
        type=share,
        metavar="K/N",
        help="run the slow tests of one of N shares of the files alone, for instance 2/3",
    )


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    # also where others collect, or collecting fails: what follows has its litter searched for
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_collection_modifyitems(config, items):
    slow = listed()
    takes = Counter()
    for name, seconds in slow.items():
        takes[name.partition("::")[0]] += seconds
    for item in items:
        if name_of(item.nodeid) in slow:
            item.add_marker(pytest.mark.slow)
    if chosen := config.getoption("--slow-share"):
        resting = at_rest(*chosen, items, slow)
        config.hook.pytest_deselected(items=resting)
        dropped = set(resting)
        items[:] = [item for item in items if item not in dropped]
    # the longest files first, so that none is begun alone at the end of a run on several cores
    items.sort(key=lambda item: -takes[item.nodeid.partition("::")[0]])


def share(text):
    number, _, of = text.partition("/")
    if not (number.isdecimal() and of.isdecimal() and 1 <= int(number) <= int(of)):
        raise argparse.ArgumentTypeError(f"{text!r} is no share: say 1/3, 2/3 or 3/3")
    return int(number), int(of)


def at_rest(number, of, items, slow):
    """The slow tests of the files that other shares hold, the dearest files dealt first."""
    files = defaultdict(list)
    for item in items:
        if name_of(item.nodeid) in slow and not item.nodeid.startswith(ALWAYS):
            files[item.nodeid.partition("::")[0]].append(item)
    cost = {name: sum(slow[name_of(it.nodeid)] for it in held) for name, held in files.items()}
    shares = [0.0] * of
    resting = []
    for name in sorted(files, key=lambda name: (-cost[name], name)):
        lightest = shares.index(min(shares))
        shares[lightest] += cost[name]
        if lightest != number - 1:
            resting += files[name]
    return resting


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    began = _core_s() - item.stash.get(_SETUP, 0.0)
    result = yield
    item.user_properties.append((_PROPERTY, round(_core_s() - began, 2)))
    return result


@pytest.hookimpl(wrapper=True)
def pytest_runtest_setup(item):
    began = _core_s()
    result = yield
    item.stash[_SETUP] = _core_s() - began
    return result


def pytest_terminal_summary(terminalreporter, config):
    _tell_rooms(terminalreporter)
    if chosen := config.getoption("--slow-share"):
        told = "of the slow tests those of share {} of {} of the files were run".format(*chosen)
        terminalreporter.write_line(told)
    if not config.getoption("--measure-slow"):
        return
    took = {name: seconds for name, seconds in listed().items() if _not_run(terminalreporter, name)}
    for report in _called(terminalreporter):
        seconds = dict(report.user_properties).get(_PROPERTY, 0.0)
        name = name_of(report.nodeid)
        if seconds > max(SLOW_S, took.get(name, 0.0)):
            took[name] = seconds
    lines = [f"{name} {seconds:.1f}\n" for name, seconds in sorted(took.items())]
    LIST.write_text(_HEAD + "".join(lines), encoding="utf-8")
    terminalreporter.write_line(f"{LIST.name}: {len(lines)} slow tests")


def _tell_rooms(reporter):
    """Say where the processor's time went: what each room's tests took, and the dearest files."""
    rooms, files = Counter(), Counter()
    for report in _called(reporter):
        seconds = dict(report.user_properties).get(_PROPERTY, 0.0)
        file = report.nodeid.partition("::")[0]
        files[file] += seconds
        rooms["/".join(file.split("/")[:2])] += seconds
    if rooms.total() < TOLD_FROM_S:
        return
    reporter.write_sep("=", f"{rooms.total():.0f} s of one core, by room and dearest files")
    for name, seconds in rooms.most_common() + files.most_common(DEAREST):
        reporter.write_line(f"{seconds:7.1f} s  {name}")


def listed():
    """The listed tests, with the seconds that were measured."""
    lines = LIST.read_text(encoding="utf-8").splitlines() if LIST.is_file() else []
    parted = (line.rsplit(" ", 1) for line in lines if line and not line.startswith("#"))
    return {name: float(seconds) for name, seconds in parted}


def name_of(nodeid):
    """A test's file and name without its case."""
    return nodeid.partition("[")[0]


def _called(reporter):
    reports = (report for kind in ("passed", "failed") for report in reporter.stats.get(kind, ()))
    return (report for report in reports if report.when == "call")


def _not_run(reporter, name):
    return all(name_of(report.nodeid) != name for report in _called(reporter))


def _core_s():
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


_SETUP = pytest.StashKey[float]()
