"""A plugin of pytest: which lines of the code every test reaches, in how many seconds; and tests in a given order.

REACHED names a file that the lines are written to, as JSON. ORDER names a file with one test a line: only those
are run, in that order, in CPU_S seconds of the processor at most. Lines are told by probes put before every statement
of a function while modules are read, which costs far less than following each call. What runs outside functions is
not told, nor what other processes run; tests that start some are marked.
"""

import ast
import json
import os
import resource
import sys
import time
from collections.abc import Iterator, Sequence
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any, ClassVar

import pytest

ROOT = Path(__file__).parents[2]
PROCESSES = {"os.fork", "os.forkpty", "subprocess.Popen", "os.posix_spawn"}
PROBE = "__reached__"
Span = tuple[int, int]


class Probes(ast.NodeTransformer):
    """Puts a probe before every statement of a function. spans: first and last line that each stands for."""

    def __init__(self, first: int) -> None:
        self.first, self.spans, self.depth = first, list[Span](), 0

    def visit(self, node: ast.AST) -> Any:
        inside, function = self.depth > 0, isinstance(node, ast.FunctionDef)
        # Read before probes are put into its body, which stand on no line.
        lines = span(node) if isinstance(node, ast.stmt) else (0, 0)
        self.depth += function
        self.generic_visit(node)
        self.depth -= function
        text = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if not inside or text or not isinstance(node, ast.stmt) or isinstance(node, ast.Nonlocal | ast.Global):
            return node
        probe = ast.parse(f"{PROBE}({self.first + len(self.spans)})").body[0]
        self.spans.append(lines)
        return [ast.copy_location(probe, node), node]


def span(statement: ast.stmt) -> Span:
    """First and last line of a statement, or of its head when others stand in it."""
    body = getattr(statement, "body", None) or getattr(statement, "cases", None)
    inner = [line for part in body for line in _lines(part)] if isinstance(body, list) else []
    last = min(inner) - 1 if inner else statement.end_lineno or 0
    return statement.lineno, max(last, statement.lineno)


def _lines(node: ast.AST) -> list[int]:
    return [part.lineno for part in ast.walk(node) if isinstance(part, ast.stmt | ast.expr)]


class Lines(SourceFileLoader):
    """Reads a module with probes in it, past Python's store of compiled files."""

    hits: ClassVar[set[int]] = set()
    spans: ClassVar[list[tuple[str, Span]]] = []

    def get_code(self, fullname: str) -> CodeType:
        probes = Probes(len(Lines.spans))
        tree = probes.visit(ast.parse(Path(self.path).read_text(encoding="utf-8")))
        Lines.spans += [(os.path.relpath(self.path, ROOT), lines) for lines in probes.spans]
        return compile(ast.fix_missing_locations(tree), self.path, "exec", dont_inherit=True)

    def exec_module(self, module: ModuleType) -> None:
        module.__dict__[PROBE] = Lines.hits.add
        super().exec_module(module)


class Finder:
    @staticmethod
    def find_spec(name: str, path: Sequence[str] | None = None, target: object = None) -> ModuleSpec | None:
        spec = PathFinder.find_spec(name, path) if name.partition(".")[0] in ("meshes", "flatten") else None
        if spec and spec.origin:
            spec.loader = Lines(name, spec.origin)
        return spec


class Followed:
    """Writes down lines and seconds of every test."""

    def __init__(self, path: Path) -> None:
        self.path, self.tests, self.started = path, dict[str, dict[str, object]](), False
        sys.meta_path.insert(0, Finder)  # type: ignore[arg-type]
        sys.addaudithook(self._audit)

    def _audit(self, event: str, _: object) -> None:
        if event in PROCESSES:
            self.started = True

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.started, start = False, time.process_time()
        Lines.hits.clear()
        yield
        lines: dict[str, set[int]] = {}
        for hit in Lines.hits:
            file, (low, high) = Lines.spans[hit]
            lines.setdefault(file, set()).update(range(low, high + 1))
        self.tests[item.nodeid] = {
            "seconds": round(time.process_time() - start, 3),
            "processes": self.started,
            "lines": {file: sorted(found) for file, found in lines.items()},
        }

    def pytest_sessionfinish(self) -> None:
        self.path.write_text(json.dumps(self.tests), encoding="utf-8")


class Ordered:
    """Runs the tests that are asked for, in their order."""

    def __init__(self, path: Path) -> None:
        self.place = {name: k for k, name in enumerate(path.read_text(encoding="utf-8").split("\n"))}
        seconds = int(os.environ["CPU_S"])
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, config: pytest.Config, items: list[pytest.Item]) -> None:
        config.hook.pytest_deselected(items=[item for item in items if item.nodeid not in self.place])
        items[:] = sorted((i for i in items if i.nodeid in self.place), key=lambda item: self.place[item.nodeid])


def pytest_configure(config: pytest.Config) -> None:
    for name, kind in (("REACHED", Followed), ("ORDER", Ordered)):
        if name in os.environ:
            config.pluginmanager.register(kind(Path(os.environ[name])), f"tests-{name.lower()}")
