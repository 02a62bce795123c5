"""The order of dependence: a folder imports only folders above it in the list in DEVELOPERS.md, no file in a circle."""

import ast
import re
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
# How many files a folder holds.
FEWEST, MOST = 4, 14
# The command itself, which hands on to the command line.
DOOR = "flatten.__main__"


@cache
def house() -> list[str]:
    """Folders in the order of the list in DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text()
    block = re.search(r"```house\n(.*?)```", text, re.S)
    assert block, "DEVELOPERS.md lists the house in a block named house"
    return [line.split()[0] for line in block.group(1).splitlines() if line[:1].strip()]


@cache
def modules() -> list[str]:
    files = [p for top in ("meshes", "flatten") for p in (ROOT / top).rglob("*.py")]
    names = [".".join(p.relative_to(ROOT).with_suffix("").parts) for p in files]
    return sorted(n for n in names if not n.endswith("__init__"))


@cache
def imports(name: str) -> set[str]:
    """Modules of this project that a module imports, anywhere in it."""
    tree = ast.parse((ROOT / Path(*name.split("."))).with_suffix(".py").read_text())
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{name} uses a relative import"
            known = modules()
            whole = {f"{node.module}.{alias.name}" for alias in node.names} & set(known)
            found |= whole or {node.module}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return {m for m in found if m.split(".")[0] in ("meshes", "flatten")}


def folder(name: str) -> str:
    return name.rsplit(".", 1)[0]


def test_every_module_lies_in_a_folder_of_the_house():
    assert {folder(name) for name in modules() if name != DOOR} == set(house())


@pytest.mark.parametrize("name", [n for n in modules() if n != DOOR])
def test_imports_only_folders_above(name):
    order = house()
    for other in imports(name):
        assert order.index(folder(other)) <= order.index(folder(name)), f"{name} imports {other}, which stands below it"


def test_no_file_imports_in_a_circle():
    # static_order raises CycleError with the circle
    assert list(TopologicalSorter({name: imports(name) for name in modules()}).static_order())


@pytest.mark.parametrize("name", house())
def test_a_folder_is_neither_crowded_nor_a_cupboard_for_one(name):
    count = sum(folder(module) == name for module in modules())
    assert FEWEST <= count <= MOST, f"{name} holds {count} files"


def test_the_seat_never_imports_the_cover():
    assert not [
        name for name in modules() if name.startswith("meshes") for o in imports(name) if o.startswith("flatten")
    ]


def test_only_the_view_draws_with_pyvista():
    users = [
        p
        for p in [*(ROOT / "meshes").rglob("*.py"), *(ROOT / "flatten").rglob("*.py")]
        if re.search(r"^\s*(import|from) pyvista", p.read_text(), re.M)
    ]
    assert {str(p.relative_to(ROOT)) for p in users} <= {"meshes/view/view.py", "meshes/view/child.py"}


def test_starting_up_loads_nothing_heavy():
    import subprocess
    import sys

    heavy = ("numpy", "scipy", "trimesh", "pyvista", "ezdxf", "reportlab", "shapely")
    code = f"import sys, flatten, meshes, flatten.app.cli; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_no_two_test_files_share_a_name():
    """They are imported by their bare names, so that two of a name cannot be collected together."""
    names = [path.name for kind in ("test_*.py", "bench_*.py") for path in (ROOT / "tests").rglob(kind)]
    assert not {name for name in names if names.count(name) > 1}


def test_the_files_to_look_in_first_are_there():
    text = (ROOT / "DEVELOPERS.md").read_text()
    table = text.partition("## Where to look first")[2].partition("\n## ")[0]
    rows = [re.findall(r"`([\w/]+\.py)`", row) for row in table.splitlines()]
    assert sum(map(len, rows)) > 10
    for first, *rest in filter(None, rows):
        beside = (ROOT / first).parent
        assert (ROOT / first).is_file(), first
        assert all((ROOT / path if "/" in path else beside / path).is_file() for path in rest), rest
