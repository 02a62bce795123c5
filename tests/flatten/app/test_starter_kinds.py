"""`trimloft start FILE --like KIND`: each sheet goes through the job untouched; nothing is said against it."""

from pathlib import Path

import pytest

from meshes.sheet.starter import KINDS
from tests.flatten.app.test_cli import run

README = Path(__file__).parents[3] / "README.md"


@pytest.mark.parametrize("kind", KINDS)
def test_a_starter_fits_as_it_stands(kind, tmp_path):
    sheet = tmp_path / f"{kind}.toml"
    begun = run("start", sheet, "--like", kind)
    assert (begun.returncode, begun.stderr) == (0, "")
    checked = run("check", "--strict", sheet)
    assert (checked.returncode, checked.stderr) == (0, "")


def test_an_unknown_kind_is_told_with_those_there_are(tmp_path):
    done = run("start", tmp_path / "new.toml", "--like", "throne")
    assert done.returncode == 2
    assert 'C108 --like: no such kind of seat: found "throne"' in done.stderr
    assert all(kind in done.stderr for kind in KINDS)
    assert not list(tmp_path.iterdir())


def test_the_help_and_the_readme_name_every_kind():
    told = " ".join(run("start", "--help").stdout.replace("│", " ").split())
    named = f"The kind of seat: {', '.join(sorted(KINDS)[:-1])} or {sorted(KINDS)[-1]}."
    assert named in told
    assert f"a short sheet for a kind of seat: {', '.join(sorted(KINDS))}\n" in README.read_text(encoding="utf-8")
