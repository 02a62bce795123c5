"""`trimloft start FILE --like KIND`: each sheet goes through the job untouched; nothing is said against it."""

import pytest

from meshes.sheet.starter import KINDS
from tests.flatten.app.test_cli import run


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
