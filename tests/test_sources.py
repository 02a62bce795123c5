"""What the sources keep to, read from their syntax trees."""

import ast
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
