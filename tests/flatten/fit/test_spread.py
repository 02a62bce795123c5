"""How a piece shares what is taken in at an edge: against closed forms, and on a seat with folded corners."""

from dataclasses import replace

import numpy as np
import pytest

from flatten.fit.spread import spread
from flatten.job.make import fitted_job, make
from flatten.pieces.piece import EdgeKind, MarkKind
from flatten.work.job_steps import job_sheet
from meshes.base.problems import Problem
from meshes.fitting.notes import FitNote, FitSpan
from meshes.schema.cover_tables import LOOSE
from meshes.seat.panels import RimEdge
from meshes.support.line_roles import LineRole
from tests.flatten.fit.test_fit_notes import noted

WIDE, DEEP, TAKEN = 400.0, 300.0, 5.0
SEAT = """
name = "Hall chair seat"
unit = "mm"
[cover]
leather = "furniture"
tension = 100
[output]
mesh = 30
[[pad]]
name = "seat"
kind = "cushion"
[pad.outline]
front_width = 480
rear_width = 480
depth = 420
corner_radius = 25
[pad.sides]
front = { drop = 20, edge_radius = 6 }
right = { drop = 20, edge_radius = 6 }
rear = { drop = 20, edge_radius = 6 }
[pad.fixing]
front = "stapled"
right = "stapled"
rear = "stapled"
[[pad.layer]]
material = "foam_firm"
thickness = 25
[pad.folds]
all = "double"
"""


class Sheet:
    """A flat rectangle in squares of two triangles, its edges from the right one round."""

    def __init__(self, kinds, steps=8):
        x, y = np.meshgrid(np.linspace(0.0, WIDE, steps + 1), np.linspace(0.0, DEEP, steps + 1))
        self.points = np.column_stack([x.ravel(), y.ravel()])
        number = np.arange((steps + 1) ** 2).reshape(steps + 1, steps + 1)
        a, b, c, d = (one.ravel() for one in (number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]))
        self.triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
        runs = (number[:, -1], number[-1, ::-1], number[::-1, 0], number[0])
        self.edges = [
            RimEdge(f"edge {k}", kind, LineRole.TACK, run)
            for k, (kind, run) in enumerate(zip(kinds, runs, strict=True))
        ]

    def lines(self):
        """The right edge taken in, all others where they were, up to it."""
        lines = [self.points[edge.vertices].copy() for edge in self.edges]
        lines[0][:, 0] -= TAKEN
        lines[1][0, 0] -= TAKEN
        lines[3][-1, 0] -= TAKEN
        return lines


def test_between_lines_that_leather_slides_along_a_take_in_is_shared_by_the_whole_width():
    sheet = Sheet([EdgeKind.PULLED] * 4)
    moved = spread(sheet, sheet.edges, sheet.lines())
    assert moved[:, 0] == pytest.approx(-TAKEN * sheet.points[:, 0] / WIDE, abs=1e-9)
    assert moved[:, 1] == pytest.approx(0.0, abs=1e-9)


def test_edges_that_are_sewn_stay_point_for_point():
    sheet = Sheet([EdgeKind.PULLED, EdgeKind.SEWN, EdgeKind.PULLED, EdgeKind.SEWN])
    lines = sheet.lines()
    moved = spread(sheet, sheet.edges, lines)
    for edge, line in zip(sheet.edges[1::2], lines[1::2], strict=True):
        assert sheet.points[edge.vertices] + moved[edge.vertices] == pytest.approx(line, abs=1e-9)
    even = -TAKEN * sheet.points[:, 0] / WIDE
    assert abs(moved[:, 0] - even).max() > 1.0


def test_leather_that_is_folded_goes_as_it_is_drawn():
    kinds = [EdgeKind.PULLED, EdgeKind.FOLDED, EdgeKind.PULLED, EdgeKind.FOLDED]
    sheet = Sheet(kinds)
    moved = spread(sheet, sheet.edges, sheet.lines())
    assert moved[:, 0] == pytest.approx(-TAKEN * sheet.points[:, 0] / WIDE, abs=1e-9)


@pytest.fixture(scope="module")
def seat(tmp_path_factory):
    path = tmp_path_factory.mktemp("folded") / "seat.toml"
    path.write_text(SEAT, encoding="utf-8")
    return make(path, workers=1)


def rows(*notes):
    """Rows of a sheet: out_mm of the right tack line from corner to corner, or a stretch found."""
    ends = ("corner towards front right fold", "corner towards rear right fold")
    found = []
    for k, one in enumerate(notes):
        span = FitSpan("right tack line", *ends, one[1]) if one[0] == "line" else None
        stretched = one[1] if one[0] == "stretched" else None
        found.append(FitNote(1, k, "seat face", span, stretched=stretched, way="along", alone=span is not None))
    return tuple(found)


def with_rows(job, *notes):
    return replace(job, sheet=replace(job.sheet, fits=rows(*notes)))


def test_a_take_in_beside_folded_corners_is_shared_by_the_whole_seat(seat):
    job = fitted_job(with_rows(seat, ("line", -TAKEN)))
    flat, before = job.flats["seat face"], seat.flats["seat face"]
    wide = np.ptp(before.points[:, 0])
    more = flat.stretch.max() / before.stretch.max() - 1.0
    assert more == pytest.approx(TAKEN / wide, rel=0.6)
    # At both corners it is taken in by as much as between them, and what is folded there begins at the new line.
    edges = {edge.name: edge.points for edge in next(p for p in job.pieces if p.name == "face").edges}
    old = {edge.name: edge.points for edge in next(p for p in seat.pieces if p.name == "face").edges}
    for place in (0, -1):
        moved = np.linalg.norm(edges["right tack line"][place] - old["right tack line"][place])
        assert moved == pytest.approx(TAKEN, abs=0.2)
    assert edges["rear right fold"][0] == pytest.approx(edges["right tack line"][-1])
    assert edges["front right fold"][-1] == pytest.approx(edges["right tack line"][0])


def test_every_centre_that_the_job_sheet_names_is_marked_on_the_piece(seat):
    (step,) = [step for step in job_sheet(seat).steps if "Fix the centre marks first" in step.text]
    assert "front and rear, then right and left;" in step.text
    face = next(piece for piece in seat.pieces if piece.name == "face")
    centres = [mark for mark in face.marks if mark.kind is MarkKind.CENTRE]
    assert sorted(mark.text for mark in centres) == ["centre", "centre", "centre across", "centre across"]
    across = np.array([mark.at for mark in centres if mark.text == "centre across"])
    along = np.array([mark.at for mark in centres if mark.text == "centre"])
    # The seat is a rectangle: both lines halve each other, square to each other.
    assert across.mean(axis=0) == pytest.approx(along.mean(axis=0), abs=0.5)
    assert (across[1] - across[0]) @ (along[1] - along[0]) == pytest.approx(0.0, abs=0.01 * WIDE * DEEP)
    assert all(mark.pen for mark in centres)


def told(job) -> dict[str, Problem]:
    return {problem.code: problem for problem in job.problems if problem.code in ("F342", "F348")}


def test_each_row_is_blamed_for_what_it_does_itself():
    loose = FitNote(1, 0, "back face", FitSpan("top band", "1", "2", -6.0), found=LOOSE)
    later = FitNote(2, 1, "back face", FitSpan("top band", "1", "2", -6.0))
    problems = told(noted(loose, later))
    assert problems["F342"].keys[:2] == ("fit", 1)
    assert "back face and back top band too tight" in problems["F342"].text


def test_a_moved_line_and_a_row_about_leather_are_both_told_by_what_they_do(seat):
    leather, line = ("stretched", 0.06), ("line", -12.0)
    assert set(told(fitted_job(with_rows(seat, leather)))) == {"F348"}
    assert set(told(fitted_job(with_rows(seat, line)))) == {"F342"}
    problems = told(fitted_job(with_rows(seat, line, leather)))
    assert problems["F342"].keys[:2] == ("fit", 0)
    assert problems["F348"].keys[:2] == ("fit", 1)
    assert "tighter" in problems["F342"].text
    # A row that changes nothing that is too tight is not told.
    problems = told(fitted_job(with_rows(seat, ("line", 1.0), leather)))
    assert set(problems) == {"F348"}
