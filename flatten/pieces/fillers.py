"""What lies between cover and backing, and the strip to sew first: filler strips and the test strip of five pleats.

Filler strips are as wide as their pleats come out finished and as long as the pleats are over the surface; towards a
seam they are bevelled over the taper. The test strip is cut with the usual take-up whatever the sheet says it came to,
so that `take_up_measured` always speaks of the same strip. Lengths mm.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from flatten.pieces.piece import Edge, EdgeKind, FlatMesh, InnerLine, LineKind, Piece, PieceKind
from meshes.base.arrays import FloatArray
from meshes.pleats.channels import Pleated
from meshes.pleats.shape import TEST_PLEATS, usual_take_up
from meshes.seat.build import BuiltPad

TEST_LENGTH_MM, TEST_MARGIN_MM = 200.0, 25.0
# Filler strips that differ by less in width and length are cut as one; foam gives that much.
ALIKE_MM, ALIKE_LENGTH_MM = 1.5, 6.0
BACKING_CLOTH = "backing cloth"
LEATHER = ""


def fillers_of(pad: BuiltPad) -> tuple[Piece, ...]:
    """Filler strips of a pad, alike ones drawn once and counted. None for a pad with a single pleat or without."""
    pleats = pad.pleats
    if pleats is None or not pleats.valleys:
        return ()
    outlines = [_filler(pad, pleats, k) for k in range(pleats.plan.count)]
    keys = [_key(outline) for outline in outlines]
    order = sorted(range(len(keys)), key=lambda k: (keys[k], k))
    strips = []
    for number, (_, same) in enumerate(groupby(order, key=lambda k: keys[k]), start=1):
        members = sorted(same)
        strips.append(_filler_piece(pad, pleats, outlines[members[0]], members, number))
    return tuple(strips)


def _filler(pad: BuiltPad, pleats: Pleated, k: int) -> FloatArray:
    """Half widths over lengths (m, 2) of one filler: (length from the low end, half the finished width)."""
    # The valley nearer the middle: those at the sides may be cut short by rounded corners.
    path = pleats.valleys[min(max(k if 2 * k < pleats.plan.count else k - 1, 0), len(pleats.valleys) - 1)]
    steps = np.linalg.norm(np.diff(pad.surface.vertices[path], axis=0), axis=1)
    length = np.concatenate([[0.0], np.cumsum(steps)])
    return np.stack([length, 0.5 * pleats.widths_at(pleats.station[path])[:, k]], axis=1)


def _key(outline: FloatArray) -> tuple[int, ...]:
    spots = np.linspace(0.0, outline[-1, 0], 7)
    half = np.interp(spots, outline[:, 0], outline[:, 1])
    return (round(outline[-1, 0] / ALIKE_LENGTH_MM), *np.round(2.0 * half / ALIKE_MM).astype(int).tolist())


def _filler_piece(pad: BuiltPad, pleats: Pleated, outline: FloatArray, members: Sequence[int], number: int) -> Piece:
    plan = pleats.plan.pleats
    length = float(outline[-1, 0])
    left = np.stack([-outline[::-1, 1], outline[::-1, 0]], axis=1)
    right = np.stack([outline[:, 1], outline[:, 0]], axis=1)
    low, high = np.stack([left[-1], right[0]]), np.stack([right[-1], left[0]])
    shift = np.array([float(outline[:, 1].max()), 0.0])
    edges = [("front end", low), ("valley", right), ("rear end", high), ("valley", left)]
    bevels = []
    for sewn, at in zip(pleats.plan.region.sewn, (plan.taper, length - plan.taper), strict=True):
        if sewn and plan.taper > 0.0:
            half = float(np.interp(at, outline[:, 0], outline[:, 1]))
            bevels.append(InnerLine("bevel", np.array([[-half, at], [half, at]]) + shift))
    names = [pleats.figures[k].name for k in members]
    words = ", ".join(names) if len(names) < 4 else f"for {len(names)} pleats, {names[0]} to {names[-1]}"
    notes: tuple[str, ...] = (words,)
    if bevels:
        notes = (*notes, f"bevel to nothing from the line to the end, {plan.taper:g} mm")
    made = _bare(
        f"filler strip {number}",
        pad.pad.name,
        [(name, points + shift) for name, points in edges],
        bevels,
        notes,
        material=filler_material(pleats),
        count=len(members),
    )
    return replace(made, kind=PieceKind.FILLER)


def filler_material(pleats: Pleated) -> str:
    """What the channels are filled with, in words."""
    plan = pleats.plan.pleats
    what = plan.filler_foam.replace("_", " ") if plan.filler == "foam" else plan.filler
    return f"{what} {plan.filler_thickness:g} mm"


def trial_strip_of(pad: BuiltPad) -> tuple[Piece, ...]:
    """Cover and backing of the strip to sew first, full size; nothing for a pad without pleats."""
    if pad.pleats is None:
        return ()
    section = pad.pleats.plan.section
    finished = section.nominal
    cut = float(section.arc(np.array(finished))) + usual_take_up(pad.pleats.plan.pleats)
    asked = f"sewn, the outer lines should come to {TEST_PLEATS * finished:.1f} mm"
    notes = (f"stitch lines {cut:.2f} mm apart", asked, "write what you measure as take_up_measured")
    return (
        _strip("test strip", pad.pad.name, cut, LineKind.STITCH, notes, LEATHER),
        _strip(
            "backing of the test strip",
            pad.pad.name,
            finished,
            LineKind.BACKING,
            (f"lines {finished:.2f} mm apart", f"fill with {filler_material(pad.pleats)}"),
            BACKING_CLOTH,
        ),
    )


def _strip(name: str, pad: str, spacing: float, kind: LineKind, notes: tuple[str, ...], material: str) -> Piece:
    width = TEST_PLEATS * spacing + 2.0 * TEST_MARGIN_MM
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, TEST_LENGTH_MM], [0.0, TEST_LENGTH_MM]])
    edges = [("margin", corners[[k, (k + 1) % 4]]) for k in range(4)]
    lines = [
        InnerLine(f"line {k + 1}", np.array([[x, 0.0], [x, TEST_LENGTH_MM]]), kind)
        for k, x in enumerate(TEST_MARGIN_MM + spacing * np.arange(TEST_PLEATS + 1))
    ]
    made = _bare(name, pad, edges, lines, notes, material=material, count=1)
    return replace(made, kind=PieceKind.TEST_STRIP)


def _bare(
    name: str,
    pad: str,
    edges: Sequence[tuple[str, FloatArray]],
    inner: Sequence[InnerLine],
    notes: tuple[str, ...],
    *,
    material: str,
    count: int,
) -> Piece:
    """A piece that is cut on its line, without allowance."""
    made = tuple(Edge(word, EdgeKind.BARE, points, 0.0) for word, points in edges)
    outline = np.concatenate([edge.points[:-1] for edge in made])
    middle = 0.5 * (outline.min(axis=0) + outline.max(axis=0))
    reach = min(0.2 * float(np.ptp(outline[:, 1])), 75.0)
    return Piece(
        name=name,
        pad=pad,
        panels=(),
        edges=made,
        cut=outline,
        marks=(),
        grain=middle + np.array([[0.0, -reach], [0.0, reach]]),
        mesh=FlatMesh(outline, np.zeros((0, 3), dtype=np.int64), np.zeros((0, 2)), np.zeros((0, 2))),
        cut_count=count,
        inner=tuple(inner),
        notes=notes,
        material=material,
    )
