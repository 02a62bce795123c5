"""Kinds of seams: what each asks of both edges, and that sheets about seams there are not are told."""

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from flatten.demand.develop import flatten
from flatten.edges.makes import LAP_TURNED_MM, LAP_UNDER_MM, TOPSTITCH_MM
from flatten.edges.named import makes_of, seam_faults, sewn_so
from flatten.edges.order import sewing_order
from flatten.edges.rows import row_beside
from flatten.held.lines import held_pieces
from flatten.pieces.pattern import pieces_of
from flatten.pieces.piece import LineKind
from meshes.base.problems import ProblemError
from meshes.records.seam_kinds import SEAM_KINDS, SewnAs
from meshes.seat.build import build
from tests.pads import FLAT, sheet_of

SEAM = "cushion face / front band"
FACE, BAND = "cushion face", "cushion front band"


def rows(*tables: str) -> str:
    # Tables of a pad have to stand together, so seams come first.
    head, rest = FLAT.split("[[pad]]")
    return head + "".join(f"[[seam]]\n{table}\n" for table in tables) + "[[pad]]" + rest


@pytest.fixture(scope="module")
def flat_pad():
    pad = build(sheet_of(FLAT).pads[0], edge_mm=20.0)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}
    return pad, flats


def pieces(flat_pad, row: SewnAs):
    pad, flats = flat_pad
    makes = makes_of([row], [pad])
    (sewn,) = sewn_so([pad], makes)
    return {p.panels[0]: p for p in pieces_of(sewn, flats, sheet_of(FLAT).allowance, makes=makes)}


def edge_of(piece):
    return next(edge for edge in piece.edges if edge.seam == SEAM)


@pytest.mark.parametrize(
    ("kind", "turned", "upper", "lower", "rows_upper", "rows_lower"),
    [
        ("plain", False, 12.0, 12.0, 0, 0),
        ("topstitched", False, 12.0, 12.0, 1, 0),
        ("double topstitched", False, 12.0, 12.0, 1, 1),
        ("lapped", False, 0.0, LAP_UNDER_MM, 1, 0),
        ("lapped", True, LAP_TURNED_MM, LAP_UNDER_MM, 1, 0),
        ("welted", False, 12.0, 12.0, 0, 0),
    ],
)
def test_a_kind_sets_allowances_and_rows_of_both_edges(flat_pad, kind, turned, upper, lower, rows_upper, rows_lower):
    made = pieces(flat_pad, SewnAs(SEAM, kind, FACE, turned))
    for name, allowance, count in ((FACE, upper, rows_upper), (BAND, lower, rows_lower)):
        piece, edge = made[name], edge_of(made[name])
        assert edge.allowance_mm == allowance
        found = [line for line in piece.inner if line.kind is LineKind.ROW]
        assert bool(found) == bool(count)
        for line in found:
            away = [LineString(edge.points).distance(LineString([p, p + 1e-6])) for p in line.points]
            assert np.allclose(away, TOPSTITCH_MM, atol=0.02)
            assert Polygon(piece.sew).buffer(1e-6).contains(LineString(line.points))
    assert ("skive" in edge_of(made[FACE]).note) == (kind == "welted")


def test_a_raw_lapped_edge_is_cut_on_the_seam(flat_pad):
    """The upper piece ends at the seam, the lower one reaches the lap beyond it."""
    plain, lapped = (pieces(flat_pad, SewnAs(SEAM, kind, FACE)) for kind in ("plain", "lapped"))
    edge = edge_of(lapped[FACE])
    middle = edge.points[len(edge.points) // 2]
    assert LineString(np.vstack([lapped[FACE].cut, lapped[FACE].cut[:1]])).distance(
        LineString([middle, middle + 1e-9])
    ) == pytest.approx(0.0, abs=1e-3)
    assert lapped[FACE].cut_mm2 < plain[FACE].cut_mm2 - 0.9 * 12.0 * 300.0
    assert lapped[BAND].cut_mm2 == pytest.approx(plain[BAND].cut_mm2, rel=1e-9)


def test_a_welted_kind_makes_welt_and_a_plain_one_takes_it_away(flat_pad):
    pad, _ = flat_pad
    welt = {
        kind: next(s for s in sewn_so([pad], makes_of([SewnAs(SEAM, kind)], [pad]))[0].seams if s.name == SEAM).welt
        for kind in SEAM_KINDS
    }
    assert [kind for kind, has in welt.items() if has] == ["welted"]


def test_a_row_without_a_name_holds_for_all_others(flat_pad):
    pad, _ = flat_pad
    makes = makes_of([SewnAs(None, "double topstitched"), SewnAs(SEAM, "lapped", BAND)], [pad])
    assert makes[SEAM].kind == "lapped"
    assert makes[SEAM].over == {BAND}
    others = {seam.name for seam in pad.seams} - {SEAM}
    assert others
    assert all(makes[name].kind == "double topstitched" for name in others)


def test_what_ends_in_a_seam_is_sewn_before_it(flat_pad):
    pad, _ = flat_pad
    order = [step.seam for step in sewing_order([pad], {})]
    assert sorted(order) == sorted(seam.name for seam in pad.seams)
    bands = [k for k, name in enumerate(order) if "face" not in name]
    assert bands
    assert max(bands) < min(k for k, name in enumerate(order) if "face" in name)


def test_rows_keep_their_distance_in_a_hollow_and_end_where_the_piece_does():
    sew = np.array([[0.0, 0.0], [50.0, 10.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]])
    (run,) = row_beside(sew[:3], sew, 3.0)
    assert np.allclose([LineString(sew[:3]).distance(LineString([p, p + 1e-9])) for p in run], 3.0, atol=1e-3)
    assert row_beside(sew[:3], np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 1.0], [0.0, 1.0]]), 3.0) == ()


@pytest.mark.parametrize(
    ("table", "key", "words"),
    [
        ('seam = "cushion face / frnt band"\nkind = "plain"', "seam", "did you mean"),
        (f'seam = "{SEAM}"\nkind = "lapped"\nover = "cushion right band"', "over", "no side of this seam"),
    ],
)
def test_rows_about_what_is_not_there_are_told(flat_pad, table, key, words):
    (fault,) = seam_faults(sheet_of(rows(table)), [flat_pad[0]])
    assert fault.code == "F305"
    assert words in fault.text
    assert key in fault.where


def test_one_seam_twice_is_told(flat_pad):
    table = f'seam = "{SEAM}"\nkind = "plain"'
    (fault,) = seam_faults(sheet_of(rows(table, table)), [flat_pad[0]])
    assert "same seam" in fault.text


def test_an_unknown_kind_is_refused():
    with pytest.raises(ProblemError, match="lapped"):
        sheet_of(rows('kind = "laped"'))


@pytest.fixture(scope="module")
def fine_pad():
    """With triangles small enough for the face to run straight on where the seam between the bands ends."""
    pad = build(sheet_of(FLAT).pads[0], edge_mm=11.0)
    return pad, {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}


@pytest.mark.parametrize(("kind", "leathers"), [("plain", 4), ("double topstitched", 0), ("lapped", 0), ("welted", 6)])
def test_where_a_seam_ends_in_another_more_than_three_leathers_are_pared(fine_pad, kind, leathers):
    """Face over the end of the seam between two bands: one leather, and what crosses it."""
    pad, flats = fine_pad
    crossing = "cushion front band / right band"
    makes = makes_of([SewnAs(crossing, kind)], [pad])
    (sewn,) = sewn_so([pad], makes)
    allowance = sheet_of(FLAT).allowance
    made = held_pieces(sewn, pieces_of(sewn, flats, allowance, makes=makes), allowance, makes)
    face = next(piece for piece in made if piece.panels[0] == FACE)
    notes = {edge.seam: edge.note for edge in face.edges}
    for name in (SEAM, "cushion face / right band 1"):
        assert (f"skive at the triangle, {leathers} leathers meet" in notes[name]) == bool(leathers)
    plain = held_pieces(pad, pieces_of(pad, flats, allowance), allowance, {})
    assert not any(edge.note for piece in plain for edge in piece.edges)
