"""What the sources keep to, read from their syntax trees."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
SOURCES = sorted(p for top in ("meshes", "flatten") for p in (ROOT / top).rglob("*.py"))
# Folders that compute and read no text, no files and no settings: there a ValueError is a fault of the program.
COMPUTE = (
    *("meshes/numerics", "meshes/records", "meshes/support", "meshes/padding", "meshes/pleats", "meshes/settle"),
    *("meshes/seat", "flatten/bounds", "flatten/maps", "flatten/demand", "flatten/relief", "flatten/pieces"),
    *("flatten/foam", "flatten/draw"),
)
COMPUTERS = [p for p in SOURCES if str(p.parent.relative_to(ROOT)) in COMPUTE]
SOLVER = "meshes/numerics/solver.py"


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def caught(tree: ast.AST) -> set[str]:
    """Names of all exceptions that handlers in a tree name; "everything" for a bare one."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ExceptHandler):
            kinds = node.type.elts if isinstance(node.type, ast.Tuple) else [node.type]
            found |= {"everything" if kind is None else ast.unparse(kind) for kind in kinds}
    return found


@pytest.mark.parametrize("path", COMPUTERS, ids=name_of)
def test_a_fault_of_the_program_is_never_taken_for_advice(path):
    # Any library call may raise one of these: constructions refuse with exceptions of their own.
    assert not caught(ast.parse(path.read_text())) & {"ValueError", "TypeError", "Exception", "everything"}


@pytest.mark.parametrize("path", SOURCES, ids=name_of)
def test_only_the_solver_factors_sparse_matrices(path):
    makers = {"splu", "spilu", "factorized", "spsolve", "cholmod", "umfpack", "inv"}
    tree = ast.parse(path.read_text())
    names = {alias.name.split(".")[-1] for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) for alias in n.names}
    names |= {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute) and "linalg" in ast.unparse(n.value)}
    sparse_ones = makers - {"inv"} if "scipy" not in path.read_text() else makers
    if name_of(path) == SOLVER:
        assert "splu" in names, "the check sees how the solver factors"
    else:
        assert not names & sparse_ones


@pytest.mark.parametrize("path", SOURCES, ids=name_of)
def test_problems_are_returned_and_never_caught_as_warnings(path):
    tree = ast.parse(path.read_text())
    calls = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    assert not calls & {"warnings.warn", "warnings.catch_warnings", "warn", "catch_warnings"}


def types_of(path: Path) -> list[str]:
    """Names of the classes, protocols, type aliases and type variables that a file makes."""
    tree = ast.parse(path.read_text())
    found = [node.name for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    for node in tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names = [t.id for t in targets if isinstance(t, ast.Name)]
            found += [name for name in names if name.lstrip("_")[:1].isupper() and not name.isupper()]
    return found


def test_a_type_has_one_home_and_no_namesake():
    homes: dict[str, set[str]] = {}
    for path in SOURCES:
        for name in types_of(path):
            homes.setdefault(name.lstrip("_").lower(), set()).add(f"{name} in {name_of(path)}")
    assert {"sheet", "panel", "piece", "progress"} <= set(homes), "the check sees the types there are"
    assert not {name: sorted(found) for name, found in homes.items() if len(found) > 1}


@pytest.mark.parametrize("path", SOURCES, ids=name_of)
def test_pages_come_from_templates_that_escape(path):
    tags = re.compile(
        r"</?(a|article|body|dd|div|dl|dt|figure|h\d|head|html|img|li|main|p|pre|section|span|strong|t[dhr]|table|ul)\b[^<]*>"
    )
    texts = [n.value for n in ast.walk(ast.parse(path.read_text())) if isinstance(n, ast.Constant)]
    assert not [text for text in texts if isinstance(text, str) and tags.search(text)]


def numbers_of(path: Path) -> dict[str, str]:
    """Constants of a file that are numbers, with what they are set to."""
    found: dict[str, str] = {}
    for node in ast.parse(path.read_text()).body:
        if not isinstance(node, ast.Assign) or any(isinstance(n, ast.Name) for n in ast.walk(node.value)):
            continue
        for target in node.targets:
            paired = isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple)
            pairs = zip(target.elts, node.value.elts, strict=True) if paired else [(target, node.value)]
            for name, value in pairs:
                number = any(isinstance(n, ast.Constant) and isinstance(n.value, int | float) for n in ast.walk(value))
                if isinstance(name, ast.Name) and name.id.isupper() and number:
                    found[name.id] = ast.unparse(value)
    return found


def test_a_tolerance_has_one_home():
    homes: dict[str, list[str]] = {}
    for path in SOURCES:
        for name, value in numbers_of(path).items():
            homes.setdefault(name.lstrip("_"), []).append(f"{value} in {name_of(path)}")
    assert {"SNAP_MM", "LIFT_SEEN_MM", "SEAM_TOLERANCE_MM"} <= set(homes), "the check sees the tolerances there are"
    assert not {name: found for name, found in homes.items() if len(found) > 1}
