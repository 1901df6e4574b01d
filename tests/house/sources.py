"""The program's own text, read once for the rules of the house."""

import ast
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

ROOT = Path(__file__).parents[2]
SRC = ROOT / "src" / "ironlace"
MIGRATIONS = "migrations"  # a folder written by a tool, read by another


@dataclass(frozen=True)
class Source:
    """One module: its path below the root, its name, its lines and its tree."""

    path: str
    module: str
    text: str

    @cached_property
    def lines(self):
        return self.text.splitlines()

    @cached_property
    def tree(self):
        return ast.parse(self.text)

    @property
    def room(self):
        return self.module.partition(".")[2].partition(".")[0]

    def comment(self, first, last=None):
        """The comments on some lines, joined; numbered from 1."""
        found = (line.partition("#")[2] for line in self.lines[first - 1 : last or first])
        return " ".join(text.strip() for text in found if text)


@cache
def sources():
    """Every module of the program but the databases' migrations."""
    found = []
    for path in sorted(SRC.rglob("*.py")):
        if MIGRATIONS not in path.parts:
            steps = path.relative_to(SRC.parent).with_suffix("").parts
            name = ".".join(steps[:-1] if steps[-1] == "__init__" else steps)
            text = path.read_text(encoding="utf-8")
            found.append(Source(path.relative_to(ROOT).as_posix(), name, text))
    return tuple(found)


def functions(tree, within=""):
    """Every function and method of a module, with its name inside the module."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield f"{within}{node.name}", node
            yield from functions(node, f"{within}{node.name}.")
        elif isinstance(node, ast.ClassDef):
            yield from functions(node, f"{within}{node.name}.")
        elif not isinstance(node, ast.expr):
            yield from functions(node, within)


def head_of(source, function):
    """The comments on a function's decorators and signature."""
    first = min([function.lineno, *(d.lineno for d in function.decorator_list)])
    return source.comment(first, function.body[0].lineno - 1)
