"""What the drawing of faults keeps to."""

import ast
import tomllib

import pytest

from tests.mutations.__main__ import EQUIVALENT, drawn, equivalents, folder_sites, house
from tests.mutations.sites import sites
from tests.mutations.trial import ROOT, copied

SAMPLE = '''"""A text of 3 words."""
__all__ = ["a"]
LENGTH_MM: float = 2.0


def size(a: "int | None", b: float = 4.0) -> float:
    """Not 5."""
    if a is None or b < 0:
        raise ValueError(f"{b * 7} is too small")
    return max(scaled(a, b), LENGTH_MM) - 6 * b


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
def test_every_fault_of_the_house_can_be_compiled(folder):
    for site in folder_sites(folder):
        compile(site.applied((ROOT / site.file).read_text(encoding="utf-8")), site.file, "exec")


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
    with copied() as copy:
        seen = []
        copy._tests = lambda files, limit_s: seen.append((copy.root / site.file).read_text()) or "killed"
        assert copy.tried(site, 1.0) == "killed"
        assert seen == [site.applied(before.decode())]
        assert (copy.root / site.file).read_bytes() == before
    assert (ROOT / site.file).read_bytes() == before
