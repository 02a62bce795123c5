"""Short starter sheets by kind of seat: each works untouched, without a word of warning."""

import pytest

from meshes.sheet.read import read_sheet
from meshes.sheet.starter import KINDS, starter_text


@pytest.mark.parametrize("kind", KINDS)
def test_a_kinds_sheet_is_short_and_reads_without_a_problem(kind, tmp_path):
    path = tmp_path / f"{kind}.toml"
    path.write_text(starter_text(kind))
    sheet = read_sheet(path)
    assert sheet.warnings == ()
    assert len(starter_text(kind).splitlines()) < 0.5 * len(starter_text().splitlines())
    # It works with the usual triangles: none are asked for.
    assert "mesh =" not in starter_text(kind)


def test_an_unknown_kind_is_refused():
    with pytest.raises(ValueError, match="use one of"):
        starter_text("throne")
