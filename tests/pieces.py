"""Sample pieces shared by the tests of allowances, marks and papers. All lengths in mm."""

from collections.abc import Sequence

import numpy as np

from flatten.pieces.allowance import add_allowances
from flatten.pieces.notches import notch_marks, stations
from flatten.pieces.piece import CutOrder, Edge, EdgeKind, FlatMesh, InnerLine, Mark, MarkKind, Piece

FLAT = FlatMesh(np.zeros((0, 2)), np.zeros((0, 3), dtype=int), np.zeros((0, 2)), np.zeros((0, 2)))


def bent(*corners: tuple[float, float], bulge: float = 0.0, count: int = 24) -> np.ndarray:
    """Points of an edge between two corners, bent outwards by `bulge` of its length as a parabola."""
    (a, b), t = np.array(corners, dtype=float), np.linspace(0.0, 1.0, count)
    along = b - a
    out = np.array([along[1], -along[0]])
    return a + t[:, None] * along + (4.0 * bulge * t * (1.0 - t))[:, None] * out


def edges_of(
    corners: Sequence[tuple[float, float]],
    allowances: Sequence[float],
    *,
    bulges: Sequence[float] | None = None,
    names: Sequence[str] | None = None,
    kinds: Sequence[EdgeKind] | None = None,
) -> tuple[Edge, ...]:
    """One edge between each corner and the next."""
    n = len(corners)
    made = []
    for k in range(n):
        bulge = bulges[k] if bulges else 0.0
        points = bent(corners[k], corners[(k + 1) % n], bulge=bulge, count=40 if bulge else 2)
        kind = kinds[k] if kinds else EdgeKind.SEWN
        name = names[k] if names else f"side {k + 1}"
        seam = f"face / {name}" if kind in (EdgeKind.SEWN, EdgeKind.WELTED) else None
        made.append(Edge(name, kind, points, float(allowances[k]), seam))
    return tuple(made)


def piece_of(name: str, edges: tuple[Edge, ...], *, corner: str = "square", **more: object) -> Piece:
    """A piece with notches on all its seams and a grain arrow up its middle."""
    marks: list[Mark] = []
    for edge in edges:
        if edge.seam:
            shares = stations(float(np.linalg.norm(np.diff(edge.points, axis=0), axis=1).sum()), 120.0)
            if len(shares):
                marks += notch_marks(edge, shares[:-1], double=False)
                marks += notch_marks(edge, shares[-1:], double=True)
    sew = np.concatenate([edge.points[:-1] for edge in edges])
    low, high = sew.min(axis=0), sew.max(axis=0)
    half = min(0.2 * (high[1] - low[1]), 75.0)
    middle = 0.5 * (low + high)
    grain = np.array([middle - np.array([0.0, half]), middle + np.array([0.0, half])])
    marks += more.pop("marks", ())  # type: ignore[arg-type]
    return Piece(
        name=name,
        pad="cushion",
        panels=(name,),
        edges=edges,
        outline=add_allowances(edges, corner=corner),
        marks=tuple(marks),
        grain=grain,
        mesh=FLAT,
        **more,  # type: ignore[arg-type]
    )


def boxed_cushion(length: float = 508.0, width: float = 457.2, allowance: float = 12.7) -> Piece:
    """The top of a boxed cushion, 20 in by 18 in with half an inch all round."""
    corners = [(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)]
    names = ["front band", "right band", "rear band", "left band"]
    edges = edges_of(corners, [allowance] * 4, names=names, kinds=[EdgeKind.WELTED] * 4)
    centre = Mark(MarkKind.CENTRE, np.array([length / 2, 0.0]), np.array([0.0, -1.0]), allowance, "centre")
    fold = InnerLine("fold", np.array([[40.0, 60.0], [length - 40.0, 60.0]]))
    return piece_of("face", edges, marks=(centre,), inner=(fold,), notes=("ease the rear corners",))


def round_piece(radius: float = 150.0, allowance: float = 10.0) -> Piece:
    """A disc with two seams, 240 points round, rounded allowance."""
    edges = []
    for k in range(2):
        angles = np.linspace(np.pi * k, np.pi * (k + 1), 121)
        points = radius * np.column_stack([np.cos(angles), np.sin(angles)])
        edges.append(Edge(f"half {k + 1}", EdgeKind.SEWN, points, allowance, f"face / half {k + 1}"))
    edges[1] = Edge("half 2", EdgeKind.SEWN, np.vstack([edges[1].points[:-1], edges[0].points[:1]]), allowance, "s")
    return piece_of("round", tuple(edges), corner="round")


def l_shape() -> Piece:
    """An L with one inward corner and four different allowances."""
    corners = [(0.0, 0.0), (420.0, 0.0), (420.0, 160.0), (170.0, 160.0), (170.0, 380.0), (0.0, 380.0)]
    kinds = [EdgeKind.PULLED, EdgeKind.SEWN, EdgeKind.SEWN, EdgeKind.SEWN, EdgeKind.CLOSED, EdgeKind.WELTED]
    return piece_of("corner piece", edges_of(corners, [50, 12, 12, 12, 25, 10], kinds=kinds))


def long_band() -> Piece:
    """A boxing band 1400 mm long, 95 mm high, pulled at the foot."""
    corners = [(0.0, 0.0), (1400.0, 0.0), (1400.0, 95.0), (0.0, 95.0)]
    names = ["tack line front", "right band", "face", "left band"]
    kinds = [EdgeKind.PULLED, EdgeKind.SEWN, EdgeKind.WELTED, EdgeKind.SEWN]
    edges = edges_of(corners, [50, 12, 12, 12], names=names, kinds=kinds, bulges=[-0.004, 0, 0.004, 0])
    return piece_of("front band", edges, order=CutOrder(2))


def curved() -> Piece:
    """A piece with really curved edges, as a flattened bolster has."""
    corners = [(0.0, 0.0), (300.0, 20.0), (260.0, 420.0), (30.0, 400.0)]
    names = ["inset", "right band", "tack line rear", "left band"]
    kinds = [EdgeKind.SEWN, EdgeKind.WELTED, EdgeKind.PULLED, EdgeKind.WELTED]
    edges = edges_of(corners, [12, 12, 50, 12], names=names, kinds=kinds, bulges=[-0.12, 0.08, 0.05, 0.1])
    return piece_of("left bolster (right bolster mirrored)", edges, order=CutOrder(mirrored=1))


def small() -> Piece:
    """A piece too small for a 100 mm scale bar."""
    corners = [(0.0, 0.0), (70.0, 0.0), (60.0, 55.0), (5.0, 50.0)]
    return piece_of("end cap", edges_of(corners, [12.0] * 4))


def all_pieces() -> tuple[Piece, ...]:
    """One of each."""
    return boxed_cushion(), round_piece(), l_shape(), long_band(), curved(), small()
