"""What the drawing of faults keeps to."""

import ast
import tomllib
from pathlib import Path

import pytest

from tests.mutations.__main__ import EQUIVALENT, drawn, equivalents, folder_sites, house
from tests.mutations.order import Reach, order
from tests.mutations.reached import Probes
from tests.mutations.sites import sites
from tests.mutations.trial import ROOT, copied

SAMPLE = '''"""A text of 3 words."""
__all__ = ["a"]
LENGTH_MM: float = 2.0


def size(a: "int | None", b: float = 4.0) -> float:
    """Not 5."""
    if a is None or b < 0:
        raise ValueError(f"{b * 7} is too small")
    return max(scaled(a, b), LENGTH_MM) - 6 * b + 12


class Kind:
    ready = not True
'''
CHANGES = {
    "2.0 -> 4.0",
    "4.0 -> 8.0",
    "a is None or b < 0 -> a is None and b < 0",
    "a is None -> a is not None",
    "b < 0 -> b >= 0",
    "0 -> 1",
    "max(scaled(a, b), LENGTH_MM) - 6 * b -> max(scaled(a, b), LENGTH_MM) + 6 * b",
    "max(scaled(a, b), LENGTH_MM) - 6 * b + 12 -> max(scaled(a, b), LENGTH_MM) - 6 * b - 12",
    "12 -> 24",
    "max(scaled(a, b), LENGTH_MM) -> min(scaled(a, b), LENGTH_MM)",
    "max(scaled(a, b), LENGTH_MM) -> scaled(a, b)",
    "max(scaled(a, b), LENGTH_MM) -> LENGTH_MM",
    "scaled(a, b) -> scaled(b, a)",
    "6 * b -> 6 / b",
    "6 -> 7",
    "not True -> True",
    "True -> False",
}


def test_offers_every_fault_of_running_code_and_none_in_texts(tmp_path):
    (tmp_path / "sample.py").write_text(SAMPLE)
    found = sites(tmp_path, "sample.py")
    assert {site.change for site in found} == CHANGES
    for site in found:
        changed = site.applied(SAMPLE)
        assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(SAMPLE))
        # All of the file but the changed place stays.
        assert changed.startswith(SAMPLE[: site.start])
        assert changed.endswith(SAMPLE[site.end :])


@pytest.mark.parametrize("folder", house())
def test_every_fault_of_the_house_is_code_that_differs(folder):
    offered = folder_sites(folder)
    texts = {site.file: (ROOT / site.file).read_text(encoding="utf-8") for site in offered}
    assert offered
    for site in offered:
        there = texts[site.file][site.start : site.end]
        there = ast.parse(f"({there})" if site.put.startswith("(") else there)
        assert ast.dump(there) != ast.dump(ast.parse(site.put)), site
    for site in drawn(folder, 7, 10):
        whole = ast.parse(site.applied(texts[site.file]))
        assert ast.dump(whole) != ast.dump(ast.parse(texts[site.file])), site


def test_a_seed_draws_the_same_faults_again_and_another_seed_others():
    folder = house()[0]
    first = drawn(folder, 1, 5)
    assert len({(site.file, site.line) for site in first}) == 5
    assert drawn(folder, 1, 5) == first != drawn(folder, 2, 5)


def test_every_equivalent_fault_stands_in_the_code_and_has_a_reason():
    entries = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8")).get("equivalent", [])
    assert all(set(e) == {"file", "line", "change", "reason"} and len(e["reason"]) > 20 for e in entries)
    for file, line, change in equivalents():
        assert (file, line, change) in {site.key for site in sites(ROOT, file)}, f"{file}: {line}: {change} is no more"


def test_a_fault_is_tried_in_a_copy_and_taken_back():
    site = drawn("meshes.numerics", 3, 1)[0]
    before = (ROOT / site.file).read_bytes()
    reached = {"tests/a.py::test": Reach(0.1, False, {site.file: [site.line]})}
    with copied() as copy:
        seen = []
        copy._tests = lambda files, limit_s, **given: seen.append((copy.root / site.file).read_text()) or "killed"
        assert copy.tried(site, reached) == "killed"
        assert seen == [site.applied(before.decode())]
        assert (copy.root / site.file).read_bytes() == before
    assert (ROOT / site.file).read_bytes() == before


def test_probes_tell_which_statements_were_reached():
    source = """
def parted(a):
    \"\"\"Its text stays its text.\"\"\"
    if a > 1:
        found = [
            x for x in range(a)
        ]
    else:
        found = []
    for _ in (
        *(),
    ):
        found.append(1)

    def inner():
        return 7
    return found
"""
    probes, hits = Probes(100), set()
    names = {"__reached__": hits.add}
    exec(compile(ast.fix_missing_locations(probes.visit(ast.parse(source))), "parted", "exec"), names)
    assert names["parted"].__doc__ == "Its text stays its text."
    assert names["parted"](3) == [0, 1, 2]
    lines = {line for hit in hits for line in range(probes.spans[hit - 100][0], probes.spans[hit - 100][1] + 1)}
    assert lines == {4, 5, 6, 7, 10, 11, 12, 15, 17}
    assert names["parted"](0) == []
    assert {probes.spans[hit - 100] for hit in hits} >= {(4, 4), (9, 9)}


def tree(tmp_path, text):
    (tmp_path / "meshes").mkdir()
    (tmp_path / "meshes" / "a.py").write_text(text)
    return tmp_path


def test_those_are_asked_first_that_reach_the_line_quickest(tmp_path):
    root = tree(tmp_path, "def f(x):\n    return x + 1\n")
    reached = {
        "slow.py::reaches": Reach(9.0, False, {"meshes/a.py": [2]}),
        "slow.py::reads_what_was_reached": Reach(0.1, False, {}),
        "quick.py::reaches": Reach(1.0, False, {"meshes/a.py": [2]}),
        "other.py::is_elsewhere": Reach(0.1, False, {"meshes/a.py": [9]}),
        "command.py::starts": Reach(0.2, True, {}),
    }
    site = sites(root, "meshes/a.py")[0]
    assert order(root, site, reached) == [
        "quick.py::reaches", "slow.py::reaches", "slow.py::reads_what_was_reached", "command.py::starts"
    ]  # fmt: skip


def test_a_constant_is_held_first_by_those_who_reach_its_users_and_then_by_all(tmp_path):
    root = tree(tmp_path, "LENGTH = 2.0\n\n\ndef f(x):\n    return x + LENGTH\n")
    reached = {
        "a.py::quick": Reach(0.1, False, {}),
        "a.py::uses": Reach(5.0, False, {"meshes/a.py": [5]}),
    }
    assert order(root, sites(root, "meshes/a.py")[0], reached) == ["a.py::uses", "a.py::quick"]


def test_a_function_that_runs_while_its_module_is_read_is_held_by_all(tmp_path):
    root = tree(
        tmp_path, "def f(x):\n    return x + 1\n\n\nTABLE = (f(2), f(3))\n\n\ndef g(x):\n    return x * TABLE[0]\n"
    )
    reached = {
        "a.py::quick": Reach(0.1, False, {}),
        "b.py::reads": Reach(5.0, False, {"meshes/a.py": [9]}),
    }
    first = next(site for site in sites(root, "meshes/a.py") if site.line == 2)
    assert order(root, first, reached) == ["b.py::reads", "a.py::quick"]
    inside = next(site for site in sites(root, "meshes/a.py") if site.line == 9)
    assert order(root, inside, reached) == ["b.py::reads"]


def test_every_folder_of_the_house_has_tests_of_its_own():
    places = {folder: ROOT / "tests" / Path(*folder.split(".")) for folder in house()}
    assert [folder for folder, place in places.items() if not any(place.glob("test_*.py"))] == []
