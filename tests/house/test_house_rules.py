"""The rules of the house that no linter knows, over the program's own text.

What breaks a rule today stands in `still_to_mend.txt`, which may only shrink: a new one fails, and
so does one that was mended and still stands there.
"""

import ast
import re
from collections import Counter
from pathlib import Path

import pytest
from sources import ROOT, SRC, functions, head_of, sources

LONGEST = 60
"""Lines of a function, from its `def`; a longer one says why on its first line."""
STILL_TO_MEND = Path(__file__).with_name("still_to_mend.txt")

NOT_NAMED_AFTER_A_MODULE = {
    "tests/outside/": "published values and other libraries, by subject",
    "tests/house/": "the house itself",
    "tests/test_docs.py": "the manual",
    "tests/demo/test_material.py": "the demo's material, which is no module",
    "tests/web/test_failures.py": "one shape for every failure",
    "tests/web/test_survey_pages.py": "the survey's pages together, step by step",
    "tests/web/test_survey_browser.py": "the same in a real browser",
    "tests/web/test_call_browser.py": "a stranger's round trip in a real browser",
    "tests/web/test_site_browser.py": "the same from the public site, and back onto it",
    "tests/web/test_phone_browser.py": "the phone's door in a real browser",
    "tests/web/test_walk_browser.py": "the whole job in a real browser",
    "tests/web/test_look_browser.py": "how pages look and print, in a real browser",
    "tests/dossier/test_pack.py": "the pack as a whole: every part of it from one account",
    "tests/dossier/test_privacy.py": "what must not be told, wherever it might be",
    "tests/survey/answers/test_calibration.py": "intervals on simulated surveys, several answers",
    "tests/survey/answers/test_odd_surveys.py": "surveys that mislead, several answers",
    "tests/ornament/stencils/planning/test_changes.py": "a change from memory is planning afresh",
    "tests/ornament/stencils/test_judged.py": "the finished files, judged from pictures of them",
    "tests/survey/answers/test_worn_plates.py": "readings of worn plates, several answers",
    "tests/survey/likelihood/test_mixtures.py": "strings with chances, through several modules",
    "tests/workshop/club/test_cut.py": "a club's connections cut at random",
    "tests/workshop/work/test_kill.py": "the program killed anywhere",
}
"""Test files, or folders of them, that follow a question instead of a module, and which."""

USED_ELSEWHERE = {
    "dxftags": "called by the library that writes DXF",
    "process_bind_param": "called by the library that keeps the database",
    "process_result_value": "called by the library that keeps the database",
    "robust": "the published method by itself: tests and benches hold what reliefs use against it",
    "compose": "the page of the call composes so in the browser; tests hold it to this",
}
"""Public names that nothing in the program calls, and who does."""


def long_functions():
    """Functions over LONGEST lines without `# long: why` on their first lines."""
    for source in sources():
        for name, node in functions(source.tree):
            length = node.end_lineno - node.lineno + 1
            if length > LONGEST and not re.search(r"\blong: \w", head_of(source, node)):
                yield f"{source.path}::{name}"


def untyped_doors():
    """Functions taken by another room that speak in `dict[str, Any]` without `# dict: why`."""
    taken = {}
    for source in sources():
        for node in ast.walk(source.tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("ironlace."):
                for alias in node.names:
                    taken.setdefault((node.module, alias.name), set()).add(source.room)
    for source in sources():
        for node in source.tree.body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            others = taken.get((source.module, node.name), set()) - {source.room}
            spoken = [a.annotation for a in ast.walk(node.args) if isinstance(a, ast.arg)]
            words = [ast.unparse(a) for a in (*spoken, node.returns) if a is not None]
            untyped = any("dict[str, Any]" in word for word in words)
            if others and untyped and not re.search(r"\bdict: \w", head_of(source, node)):
                yield f"{source.path}::{node.name}"


def wordless_numbers():
    """Numeric constants of a module with neither a docstring below nor a comment beside them."""
    for source in sources():
        body = source.tree.body
        for index, node in enumerate(body):
            target, value = _constant(node)
            if target is None or not _numeric(value):
                continue
            after = body[index + 1] if index + 1 < len(body) else None
            told = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
            above = source.lines[node.lineno - 2].lstrip().startswith("#")
            if not (told or above or source.comment(node.lineno, node.end_lineno)):
                yield f"{source.path}::{target}"


def _constant(node):
    if isinstance(node, ast.Assign) and len(node.targets) == 1:
        target, value = node.targets[0], node.value
    elif isinstance(node, ast.AnnAssign) and node.value is not None:
        target, value = node.target, node.value
    else:
        return None, None
    named = isinstance(target, ast.Name) and re.fullmatch(r"_?[A-Z][A-Z0-9_]*", target.id)
    return (target.id, value) if named else (None, None)


def _numeric(node):
    if isinstance(node, ast.Constant):
        return isinstance(node.value, int | float) and not isinstance(node.value, bool)
    if isinstance(node, ast.UnaryOp):
        return _numeric(node.operand)
    if isinstance(node, ast.BinOp):
        return _numeric(node.left) and _numeric(node.right)
    return isinstance(node, ast.Tuple) and bool(node.elts) and all(map(_numeric, node.elts))


def modules_without_a_first_line():
    """Modules that do not say on their first line what they are about."""
    for source in sources():
        first = ast.get_docstring(source.tree, clean=False)
        if not first or not first.splitlines()[0].strip() or not source.text.startswith('"""'):
            yield source.path


def strangely_named_tests():
    """Test files that are named after no module of the room they stand in."""
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        place = path.relative_to(ROOT).as_posix()
        if any(place.startswith(known) for known in NOT_NAMED_AFTER_A_MODULE):
            continue
        room = SRC / path.relative_to(ROOT / "tests").parent
        name = path.stem.removeprefix("test_")
        if not any(room.rglob(f"{name}.py")) and not any(room.rglob(name)):
            yield place


def timed_tests():
    """Tests that look at a clock or sleep for a time that is not written down."""
    for path in sorted((ROOT / "tests").rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            clock = isinstance(node, ast.Attribute) and node.attr in CLOCKS
            sleeps = isinstance(node, ast.Call) and ast.unparse(node.func) == "time.sleep"
            if clock or (sleeps and not isinstance(node.args[0], ast.Constant)):
                yield path.relative_to(ROOT).as_posix()


def unused_names():
    """Public functions, classes and methods that nothing in the program names but themselves."""
    used = Counter()
    for source in sources():
        used.update(_named(source.tree))
    for path in SRC.rglob("*"):
        # what a room offers in its .pyi is there for scripts too
        if path.suffix in (".html", ".typ", ".js", ".pyi"):
            used.update(set(re.findall(r"\w+", path.read_text(encoding="utf-8"))))
    for source in sources():
        classes = [node for node in ast.walk(source.tree) if isinstance(node, ast.ClassDef)]
        defined = [*functions(source.tree), *((node.name, node) for node in classes)]
        for name, node in defined:
            last = name.rpartition(".")[2]
            called_by_a_library = bool(node.decorator_list) and any(
                isinstance(d, ast.Call) and isinstance(d.func, ast.Attribute | ast.Name)
                for d in node.decorator_list
            )
            hidden = any(step.startswith("_") for step in name.split("."))
            if not (used[last] or hidden or called_by_a_library or last in USED_ELSEWHERE):
                yield f"{source.path}::{name}"


def _named(tree):
    """Every name a module uses, in code or in a string that is no docstring."""
    told = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr
        elif isinstance(node, ast.alias) and node.asname not in (None, node.name):
            yield node.name
        elif isinstance(node, ast.Constant) and id(node) not in told:
            yield from re.findall(r"\w+", node.value) if isinstance(node.value, str) else ()


def circles():
    """Modules that import each other in a circle as they are loaded."""
    known = {source.module for source in sources()}
    arrows = {source.module: set(_loaded(source.tree.body, known)) for source in sources()}
    reach = {module: _reached(module, arrows) for module in arrows}
    for module in sorted(arrows):
        if module in reach[module]:
            yield module


def _loaded(body, known):
    for node in body:
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                if inner in known:
                    yield inner
                elif node.module in known:
                    yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in known)


def _reached(start, arrows):
    reached, rest = set(), list(arrows[start])
    while rest:
        module = rest.pop()
        if module not in reached:
            reached.add(module)
            rest += arrows[module]
    return reached


CLOCKS = {"perf_counter", "monotonic", "process_time", "perf_counter_ns", "monotonic_ns"}

RULES = {
    "timed test": timed_tests,
    "long function": long_functions,
    "untyped door": untyped_doors,
    "number without a word": wordless_numbers,
    "no first line": modules_without_a_first_line,
    "test named after no module": strangely_named_tests,
    "unused": unused_names,
    "import circle": circles,
}


def still_to_mend(rule):
    lines = STILL_TO_MEND.read_text(encoding="utf-8").splitlines() if STILL_TO_MEND.exists() else ()
    parted = (line.partition(": ") for line in lines if line and not line.startswith("#"))
    return {where for kept, _, where in parted if kept == rule}


@pytest.mark.parametrize("rule", RULES)
def test_the_rule_holds(rule):
    found, known = set(RULES[rule]()), still_to_mend(rule)
    assert sorted(found - known) == [], f"new: {rule}"
    assert sorted(known - found) == [], f"mended: take it out of {STILL_TO_MEND.name}"


def test_the_table_of_test_names_is_needed():
    for place in NOT_NAMED_AFTER_A_MODULE:
        assert (ROOT / place).exists(), f"{place} is gone: take it out of the table"


def write_what_is_still_to_mend():
    """Write `still_to_mend.txt` anew, for whoever has just mended some."""
    lines = [f"{rule}: {where}\n" for rule, find in RULES.items() for where in sorted(set(find()))]
    head = "# What breaks a rule of the house today; may only shrink (see test_house_rules.py).\n"
    STILL_TO_MEND.write_text(head + "".join(lines), encoding="utf-8")


if __name__ == "__main__":
    write_what_is_still_to_mend()
