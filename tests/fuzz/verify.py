"""What was written for a job, held against laws by code that shares nothing with the program's drawing.

The papers agree with each other; every piece is there, the right way up, clear of the others; its area is the report's,
its rim as long as the stretch told allows; both sides of a seam have one length and the same notches; the cut line
stands off the sew line by the allowance of each edge; mirrored panels are mirror images.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from scipy.linalg import orthogonal_procrustes
from shapely.geometry import LineString, Polygon

from tests.fuzz.papers import (
    PaperError,
    differences,
    dxf_drawing,
    page_sizes,
    pdf_drawings,
    signed_area,
    steps,
    svg_drawing,
)
from tests.fuzz.placed import Placed, placed_pieces, places_along

PAGES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}
# Rounding of the files (PDF has thousandths of a point), and what two sides of a seam may differ by.
ROUNDED_MM, SEAM_MM = 0.03, 1.5
# SVG has four decimals; what differs by more is another length.
SAME_MM = 1e-3
ALLOWANCE_MM = 0.03
# A mitred corner is cut off at so many widths of the wider allowance.
MITRE = 2.6
NOTCH_MM = 0.3
# A seam longer than this carries notches.
NOTCHED_FROM_MM = 100.0


def verify(job: Any, folder: Path) -> list[str]:
    """Everything that is wrong with the files of a job."""
    report = json.loads((folder / "report.json").read_text(), parse_constant=_no_number)
    try:
        drawing, width = svg_drawing(folder / "patterns.svg")
    except PaperError as fault:
        return [str(fault)]
    found, faults = placed_pieces(job, drawing)
    faults += _papers(folder, "patterns", drawing)
    if (folder / "padding.svg").exists():
        faults += _papers(folder, "padding", svg_drawing(folder / "padding.svg")[0])
    faults += _pages(job, folder) + _clear(drawing, width)
    rows = {row["name"]: row for row in report["panels"]}
    for one in found.values():
        faults += _figures(one, job, rows[one.panel.name]) + _allowances(one, job.sheet)
    faults += _seams(job, report, found) + _mirrors(job, report)
    return faults


def _no_number(word: str) -> float:
    raise AssertionError(f"report.json holds {word}")


def _papers(folder: Path, name: str, drawing: Any) -> list[str]:
    faults = [
        f"{name}.dxf is not {name}.svg: {w}"
        for w in differences(drawing, dxf_drawing(folder / f"{name}.dxf"), within=ROUNDED_MM)
    ]
    if name == "patterns":
        pages = pdf_drawings(folder / "patterns-roll.pdf")
        if len(pages) == 1:
            told = differences(drawing, pages[0], within=ROUNDED_MM)
            faults += [f"patterns-roll.pdf is not patterns.svg: {w}" for w in told]
    return faults


def _pages(job: Any, folder: Path) -> list[str]:
    """Tiled pages are all of the paper that was asked for, lying or standing."""
    wanted = sorted(PAGES[job.sheet.output.page])
    sizes = {tuple(round(side, 1) for side in sorted(size)) for size in page_sizes(folder / "patterns.pdf")}
    wrong = [size for size in sizes if np.abs(np.array(size) - wanted).max() > 0.3]
    return [f"patterns.pdf has pages of {size} mm, not {job.sheet.output.page}" for size in wrong]


def _clear(drawing: Any, width: float) -> list[str]:
    """Cut lines are simple, counter-clockwise, inside the sheet, and clear of each other."""
    bodies = [Polygon(stroke.points) for stroke in drawing["cut"]]
    faults = [f"cut line {k} crosses itself" for k, body in enumerate(bodies) if not body.is_valid]
    if faults:
        return faults
    faults += [f"cut line {k} runs clockwise" for k, s in enumerate(drawing["cut"]) if signed_area(s.points) <= 0.0]
    tree = shapely.STRtree(bodies)
    for k, m in tree.query(bodies, predicate="intersects").T:
        if k < m:
            faults.append(f"cut lines {k} and {m} overlap by {bodies[k].intersection(bodies[m]).area:.1f} mm2")
    low, high = min(b.bounds[0] for b in bodies), max(b.bounds[2] for b in bodies)
    if low < -ROUNDED_MM or high > width + ROUNDED_MM:
        faults.append(f"cut lines reach from {low:.1f} to {high:.1f} mm on a sheet {width:g} mm wide")
    return faults


def _spread(one: Placed, job: Any) -> bool:
    """Whether a piece is cut wider than its panel, for pleats."""
    flat = job.flats[one.panel.name].points
    rim = np.concatenate([edge.vertices[:-1] for edge in one.panel.rim])
    return bool(np.abs(steps(flat[rim], closed=True) - steps(one.sew, closed=True)).max() > SAME_MM)


def _figures(one: Placed, job: Any, row: dict[str, Any]) -> list[str]:
    """Areas and lengths of a piece on paper against the seat and the report."""
    name, faults = one.panel.name, []
    corners = one.panel.surface.vertices[one.panel.surface.triangles]
    seat = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
    if abs(row["area_seat_mm2"] - seat) > 1e-4 * seat:
        faults.append(f"{name}: {row['area_seat_mm2']} mm2 on the seat are told, there are {seat:.1f}")
    flat = job.flats[name].points[one.panel.surface.triangles]
    a, b = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    turned = int((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] <= 0.0).sum())
    if turned:
        faults.append(f"{name}: {turned} triangles of the piece are turned over")
    if not all(one.has(rim.vertices) for rim in one.panel.rim):
        # Folded corners are laid over what was cut off: what the piece has more is not of the panel.
        return faults
    if _spread(one, job):
        if next(pad for pad in job.pads if pad.pad.name == one.panel.pad).pleats is None:
            faults.append(f"{name}: the piece on paper is not the one computed, and there are no pleats")
        return faults
    area = signed_area(one.sew)
    if abs(area - row["area_piece_mm2"]) > 1e-4 * area + 1.0:
        faults.append(f"{name}: {row['area_piece_mm2']} mm2 are told, {area:.1f} are on the paper")
    for rim in one.panel.rim:
        stretch = _lengths(one.panel.surface.vertices[rim.vertices]) / np.maximum(_lengths(one.run(rim.vertices)), 1e-9)
        low, high = row["stretch"]["min"] - 2e-3, row["stretch"]["max"] + 2e-3
        long = _lengths(one.run(rim.vertices)) > 1.0
        if long.any() and not (low <= stretch[long].min() and stretch[long].max() <= high):
            reached = f"{stretch[long].min():.4f} to {stretch[long].max():.4f}"
            faults.append(f"{name}: stretch {reached} along {rim.name}, told {low:.4f} to {high:.4f}")
    return faults


def _lengths(points: np.ndarray) -> np.ndarray:
    return steps(points, closed=False)


def _run(one: Placed, number: int) -> np.ndarray:
    """An edge of a piece on paper, by its number."""
    begin = sum(len(edge.points) - 1 for edge in one.piece.edges[:number])
    count = len(one.piece.edges[number].points)
    return np.take(one.sew, range(begin, begin + count), axis=0, mode="wrap")


def _width(one: Placed, number: int, sheet: Any) -> float:
    """The allowance of an edge by what the sheet says of its kind; what the sheet has no number for (leather wrapped
    round boards, corners folded, flies) and what a row of the sheet asks for its seams by what is told of the piece."""
    rim, told = one.panel.rim[number], float(one.piece.edges[number].allowance_mm)
    if rim.seam is not None and told in {row.allowance_mm for row in sheet.seams}:
        return told
    wanted = getattr(sheet.allowance, str(rim.kind), None)
    return told if wanted is None or one.piece.edges[number].kind != rim.kind or _on_fly(one) else float(wanted)


def _on_fly(one: Placed) -> bool:
    return "fly" in one.panel.name


def _allowances(one: Placed, sheet: Any) -> list[str]:
    """Along the normal of every segment of the sew line, the leather goes on for the allowance of its edge, and no
    farther unless another edge's allowance lies there."""
    edge_of_cut = Polygon(one.cut).exterior
    body = Polygon(one.cut)
    rims = [(rim, _width(one, k, sheet), LineString(_run(one, k))) for k, rim in enumerate(one.panel.rim)]
    widest = max(width for _, width, _ in rims)
    corners = shapely.MultiPoint([_run(one, k)[0] for k in range(len(rims))])
    faults = []
    for k, (rim, width, _) in enumerate(rims):
        points = _run(one, k)
        along = np.diff(points, axis=0)
        long = np.linalg.norm(along, axis=1) > 0.5
        # What wraps a board has reliefs cut into it.
        if not long.any() or width <= 0.0 or rim.kind == "wrapped":
            continue
        middles = 0.5 * (points[1:] + points[:-1])[long]
        along = along[long] / np.linalg.norm(along[long], axis=1)[:, None]
        out = np.column_stack([along[:, 1], -along[:, 0]])
        rays = shapely.linestrings(np.stack([middles, middles + (width - ALLOWANCE_MM) * out], axis=1))
        short = shapely.intersects(rays, edge_of_cut)
        if short.any():
            faults.append(
                f"{one.panel.name}: less than {width:g} mm allowance at {int(short.sum())} places of {rim.name}"
            )
        ends = shapely.points(middles + (width + 4 * ALLOWANCE_MM) * out)
        over = shapely.contains(body, ends) & (shapely.distance(ends, corners) > MITRE * widest)
        others = [line for other, _, line in rims if other is not rim]
        for width_2, line in [(w, other) for o, w, other in rims if o is not rim] if others else []:
            over &= shapely.distance(ends, line) > width_2 + ALLOWANCE_MM
        # Within a hollow of the edge itself its own allowance from farther along lies there.
        over &= shapely.distance(ends, LineString(points)) > width + ALLOWANCE_MM
        if over.any():
            faults.append(
                f"{one.panel.name}: more than {width:g} mm allowance at {int(over.sum())} places of {rim.name}"
            )
    return faults


def _seams(job: Any, report: dict[str, Any], found: dict[str, Placed]) -> list[str]:
    faults = []
    told = {row["name"]: row for row in report["seams"]}
    excused = {problem["where"].removeprefix("seam ") for problem in report["problems"] if problem["code"] == "F301"}
    for pad in job.pads:
        for seam in pad.seams:
            sides = [_side(job, found, seam, last) for last in (0, 1)]
            if None in sides:
                continue
            faults += _one_seam(seam, [side for side in sides if side], told[seam.name], seam.name in excused, pad)
    faults += [f"{one.panel.name}: {one.loose} slits belong to no mark" for one in found.values() if one.loose]
    return faults


def _side(
    job: Any, found: dict[str, Placed], seam: Any, last: int
) -> tuple[np.ndarray, list[tuple[float, int]], bool] | None:
    """One side of a seam on paper in the seam's direction: its points, its notches, whether it is cut wider."""
    panel = job.panels[(seam.a, seam.b)[last]]
    edges = [rim for rim in panel.rim if rim.seam == seam.name]
    one = found.get(panel.mirror_of or panel.name)
    if one is None:
        return None
    numbers = edges[-last].vertices
    numbers = numbers if panel.vertices[numbers[0]] == seam.vertices[0] else numbers[::-1]
    run = one.run(numbers)
    flat = _lengths(job.flats[one.panel.name].points[numbers])
    spread = bool(np.abs(flat - _lengths(run)).max() > SAME_MM)
    reach = np.concatenate([[0.0], np.cumsum(_lengths(run))])
    centre = [reach[k] for k, number in enumerate(numbers) if number in one.panel.centre]
    notches = [(at, kind) for at, kind in places_along(run, one.notches) if all(abs(at - c) > 0.1 for c in centre)]
    return run, notches, spread


def _one_seam(seam: Any, sides: list[Any], row: dict[str, Any], excused: bool, pad: Any) -> list[str]:
    (run_a, notches_a, spread_a), (run_b, notches_b, spread_b) = sides
    a, b = float(_lengths(run_a).sum()), float(_lengths(run_b).sum())
    faults = []
    if [kind for _, kind in notches_a] != [kind for _, kind in notches_b]:
        faults.append(
            f"seam {seam.name}: {len(notches_a)} notches on one side, {len(notches_b)} on the other, or other kinds"
        )
    seat = float(_lengths(pad.surface.vertices[seam.vertices]).sum())
    if seat > NOTCHED_FROM_MM and not (notches_a and notches_b):
        faults.append(f"seam {seam.name}: {seat:.0f} mm and no notch")
    if spread_a or spread_b:
        return faults
    for key, length in (("length_a_mm", a), ("length_b_mm", b), ("seat_mm", seat)):
        if abs(row[key] - length) > 0.05:
            faults.append(f"seam {seam.name}: {key} told as {row[key]}, measured {length:.3f}")
    apart = abs(b - (a - row["ease_mm"]))
    if apart > SEAM_MM and not excused:
        faults.append(f"seam {seam.name}: sides of {a:.2f} and {b:.2f} mm, which nobody is told")
    if not faults:
        off = [abs(x / a - y / b) * seat for (x, _), (y, _) in zip(notches_a, notches_b, strict=True)]
        if off and max(off) > NOTCH_MM:
            faults.append(f"seam {seam.name}: notches {max(off):.2f} mm apart")
    return faults


def _off_mirror(panel: Any, source: Any) -> float:
    """How far a panel is off the mirror image of its source, mm: about the middle of a pad, or, for the two faces of a
    closed cover, wherever that image was brought to."""
    apart = float(np.abs(panel.surface.vertices * (-1.0, 1.0, 1.0) - source.surface.vertices).max())
    if apart <= SAME_MM:
        return apart
    # Mirror images have all lengths alike, and triangles that run the other way round.
    a, b = (one.surface.vertices - one.surface.vertices.mean(axis=0) for one in (panel, source))
    turn, _ = orthogonal_procrustes(a, b)
    moved = float(np.abs(a @ turn - b).max())
    return moved if np.linalg.det(turn) < 0.0 or np.linalg.matrix_rank(a, tol=SAME_MM) < 3 else apart


def _mirrors(job: Any, report: dict[str, Any]) -> list[str]:
    """Mirrored panels are mirror images on the seat, and as many pieces are cut as there are panels."""
    faults = []
    for panel in job.panels.values():
        if panel.mirror_of:
            source = job.panels[panel.mirror_of]
            apart = _off_mirror(panel, source)
            if apart > 1e-6 * max(1.0, float(np.abs(panel.surface.vertices).max())):
                faults.append(f"{panel.name} is {apart:.2g} mm off the mirror image of {source.name}")
    served = sorted(name for piece in job.pieces for name in piece.panels)
    if served != sorted(job.panels):
        faults.append("the pieces do not serve every panel once")
    if len(report["panels"]) != len(job.panels):
        faults.append(f"the report has {len(report['panels'])} panels of {len(job.panels)}")
    return faults
