"""Which tests of a folder can notice a fault, and in what order to ask: first those that meet it, and quick ones."""

import ast
import hashlib
import json
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.mutations.reached import span
from tests.mutations.sites import Site


@dataclass(frozen=True)
class Reach:
    """What one test reaches. seconds: of the processor; processes: whether it starts some, which are not followed."""

    seconds: float
    processes: bool
    lines: dict[str, list[int]]

    def meets(self, file: str, lines: set[int]) -> bool:
        return not lines.isdisjoint(self.lines.get(file, ()))


Reached = dict[str, Reach]


def read(path: Path) -> Reached:
    return {name: Reach(**told) for name, told in json.loads(path.read_text(encoding="utf-8")).items()}


def kept(root: Path, folder: str) -> Path:
    """Where what a folder's tests reach is kept as long as neither they nor the code changes."""
    digest = hashlib.sha256()
    tests = root / "tests"
    for path in sorted([*root.glob("meshes/**/*.*"), *root.glob("flatten/**/*.*"), *tests.glob("*.py")]):
        if "__pycache__" not in path.parts:
            digest.update(path.read_bytes())
    for path in sorted((tests / Path(*folder.split("."))).glob("*.py")):
        digest.update(path.read_bytes())
    return Path(tempfile.gettempdir()) / f"trimloft-reached-{folder}-{digest.hexdigest()[:16]}.json"


def order(root: Path, site: Site, reached: Reached) -> list[str]:
    """Tests that can notice a fault.

    Of a line in a function: those that reach it, the rest of their files (results are handed on there by fixtures and
    caches), and those that start processes. Of a line that runs while the module is read, or in a function that is
    called then: all, those first that reach a function which says a name that the line gives.
    """
    tree = ast.parse((root / site.file).read_text(encoding="utf-8"))
    inside = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and _holds(node, site.line)]
    if inside and not any(function.name in _said_outside(tree) for function in inside):
        near = {name for name, reach in reached.items() if reach.meets(site.file, {site.line})}
        files = {_file(name) for name in near}
        asked = {name for name, reach in reached.items() if _file(name) in files or reach.processes}
    else:
        users = _users(root, tree, site.line)
        near = {name for name, reach in reached.items() if any(reach.meets(*user) for user in users.items())}
        asked = set(reached)
    known = {name for name in asked if site.file in reached[name].lines}
    return sorted(asked, key=lambda name: (name not in near, name not in known, reached[name].seconds, name))


def _file(name: str) -> str:
    return name.partition("::")[0]


def _holds(function: ast.FunctionDef, line: int) -> bool:
    return any(statement.lineno <= line <= (statement.end_lineno or 0) for statement in function.body)


def _said_outside(tree: ast.Module) -> set[str]:
    """Names of what is called outside functions: while the module is read."""
    statements = [node for node in tree.body if not isinstance(node, ast.FunctionDef | ast.ClassDef)]
    calls = [part for node in statements for part in ast.walk(node) if isinstance(part, ast.Call)]
    return {call.func.id for call in calls if isinstance(call.func, ast.Name)}


def _users(root: Path, tree: ast.Module, line: int) -> dict[str, set[int]]:
    """Lines of the code that say a name which the statement on a line gives."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or 0):
            names |= _given(node)
    found = {}
    for path in [*root.glob("meshes/**/*.py"), *root.glob("flatten/**/*.py")]:
        text = path.read_text(encoding="utf-8")
        if any(name in text for name in names):
            found[str(path.relative_to(root))] = _saying(ast.parse(text), names)
    return found


def _given(node: ast.stmt) -> set[str]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return {node.name}
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    return {part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)}


def _saying(tree: ast.Module, names: set[str]) -> set[int]:
    lines: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt) and not isinstance(node, ast.FunctionDef | ast.ClassDef):
            words = {getattr(part, "id", getattr(part, "attr", "")) for part in ast.walk(node)}
            if words & names:
                low, high = span(node)
                lines |= set(range(low, high + 1))
    return lines
