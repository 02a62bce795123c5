"""Mutated meshes through reading and flattening: one flat piece with a certificate, or numbered problems.

Panels of many shapes are written as PLY (ascii and binary), OBJ and STL; then the mesh is spoilt, or the file.
"""

import random
from collections.abc import Callable
from pathlib import Path

import numpy as np

from flatten.demand.develop import flatten
from meshes.base.problems import ProblemError
from meshes.intake.read import read_mesh
from tests.fuzz.case import Outcome, chance, refused

REPAIRS = ("merge", "orient", "drop-loose", "largest-part")
Mesh = tuple[np.ndarray, np.ndarray]
Spoil = Callable[[np.ndarray, np.ndarray, random.Random], Mesh]
_HALF_SPOILT = 0.75


def panel(dice: random.Random) -> Mesh:
    """A disc of triangles: a grid bent into a dome, saddle, cylinder, ripple or nothing, evenly or unevenly meshed."""
    across, along = dice.randint(2, 14), dice.randint(2, 14)
    size = dice.choice((1.0, 30.0, 200.0, 900.0))
    x, y = np.meshgrid(np.linspace(-1, 1, across), np.linspace(-1, 1, along))
    noise = np.random.default_rng(dice.randrange(1 << 30))
    jitter = dice.choice((0.0, 0.0, 0.2)) / max(across, along)
    x, y = x + jitter * noise.uniform(-1, 1, x.shape), y + jitter * noise.uniform(-1, 1, y.shape)
    bend = dice.choice((0.0, 0.05, 0.2, 0.5, 1.2))
    shapes = (x * x + y * y, x * x - y * y, x * x, np.sin(6 * x) * np.sin(5 * y), 0 * x, noise.normal(size=x.shape))
    points = np.column_stack([x.ravel(), y.ravel(), (bend * dice.choice(shapes)).ravel()]) * size
    corner = np.arange(across * along).reshape(along, across)
    a, b, c, d = (corner[s, t].ravel() for s, t in (_from(0, 0), _from(0, 1), _from(1, 1), _from(1, 0)))
    return points, np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])


def _from(row: int, column: int) -> tuple[slice, slice]:
    return slice(row, None if row else -1), slice(column, None if column else -1)


def _turned_triangle(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    k = dice.randrange(len(triangles))
    triangles[k] = triangles[k, ::-1]
    return points, triangles


def _inside_out(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points, triangles[:, ::-1].copy()


def _hole(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points, np.delete(triangles, dice.randrange(len(triangles)), axis=0)


def _twice(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points, np.vstack([triangles, triangles[dice.randrange(len(triangles))]])


def _other_vertex(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    value = dice.choice((0, len(points) - 1, len(points), -1, 1 << 30, -(1 << 31)))
    triangles[dice.randrange(len(triangles)), dice.randrange(3)] = value
    return points, triangles


def _other_place(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    value = dice.choice((np.nan, np.inf, 1e308, -1e30, 0.0, 1e-300, 5e5))
    points[dice.randrange(len(points)), dice.randrange(3)] = value
    return points, triangles


def _same_place(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    a, b = dice.randrange(len(points)), dice.randrange(len(points))
    points[a] = points[b] + dice.choice((0.0, 1e-9, 1e-3))
    return points, triangles


def _fan_parts(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    moved = points + np.array([0.0, 0.0, 3.0 * max(1.0, float(np.ptp(points)))])
    return np.vstack([points, moved]), np.vstack([triangles, triangles + len(points)])


def _loose(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return np.vstack([points, points[:1] + 7.0]), triangles


def _unwelded(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points[np.clip(triangles.ravel(), 0, len(points) - 1)], np.arange(3 * len(triangles)).reshape(-1, 3)


def _scaled(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points * dice.choice((1e-9, 1e-3, 0.03937, 25.4, 1e4, 1e12)), triangles


def _squashed(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    points[:, dice.randrange(3)] *= dice.choice((0.0, 1e-6, 1e-3))
    return points, triangles


def _rough(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    noise = np.random.default_rng(dice.randrange(1 << 30)).normal(size=points.shape)
    return points + noise * dice.choice((0.01, 0.1)) * float(np.ptp(points)), triangles


def _closed(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points, np.vstack([triangles, triangles[:, ::-1]])


def _fewer(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> Mesh:
    return points, triangles[: dice.choice((0, 1, 2))]


SPOILS: tuple[Spoil, ...] = (
    *(_turned_triangle, _inside_out, _hole, _twice, _other_vertex, _other_place, _same_place, _fan_parts),
    *(_loose, _unwelded, _scaled, _squashed, _rough, _closed, _fewer),
)


def _ply(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> bytes:
    order = dice.choice(("ascii", "binary_little_endian", "binary_big_endian"))
    head = f"ply\nformat {order} 1.0\nelement vertex {len(points)}\n"
    head += "".join(f"property double {axis}\n" for axis in "xyz")
    head += f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    if order == "ascii":
        rows = [" ".join(repr(float(v)) for v in p) for p in points] + [f"3 {a} {b} {c}" for a, b, c in triangles]
        return (head + "\n".join(rows) + "\n").encode()
    end = "<" if "little" in order else ">"
    faces = np.zeros(len(triangles), dtype=[("n", "u1"), ("v", f"{end}i4", 3)])
    faces["n"], faces["v"] = 3, np.clip(triangles, -(1 << 31), (1 << 31) - 1)
    return head.encode() + points.astype(f"{end}f8").tobytes() + faces.tobytes()


def _obj(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> bytes:
    slash = dice.choice(("", "/1", "//1"))
    rows = [f"v {a!r} {b!r} {c!r}" for a, b, c in points.tolist()]
    rows += ["f " + " ".join(f"{v + 1}{slash}" for v in face) for face in triangles.tolist()]
    return ("\n".join(rows) + "\n").encode()


def _stl(points: np.ndarray, triangles: np.ndarray, dice: random.Random) -> bytes:
    corners = points[np.clip(triangles, 0, len(points) - 1)]
    if dice.random() < 0.5:
        rows = ["solid x"]
        for face in corners.tolist():
            rows += [
                "facet normal 0 0 1",
                "outer loop",
                *(f"vertex {a!r} {b!r} {c!r}" for a, b, c in face),
                "endloop",
                "endfacet",
            ]
        return ("\n".join([*rows, "endsolid x"]) + "\n").encode()
    faces = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    faces["corners"] = corners
    return b"\0" * 80 + np.uint32(len(triangles)).tobytes() + faces.tobytes()


WRITERS = {"ply": _ply, "obj": _obj, "stl": _stl}
NUMBERS = (b"0", b"-1", b"999999999999", b"1e400", b"nan", b"4294967295", b"99999999999999999999999999", b"0x10", b"")


def spoilt_file(data: bytes, dice: random.Random) -> bytes:
    """The bytes of a mesh file with a few of them changed, or a number of its text."""
    for _ in range(dice.choice((1, 1, 2, 5))):
        at, way = dice.randrange(len(data) + 1), dice.randrange(5)
        if way == 0:
            data = data[:at] + dice.randbytes(dice.choice((1, 4))) + data[at + 1 :]
        elif way == 1:
            data = data[:at]
        elif way == 2:
            data = data[:at] + data[at + dice.choice((1, 9, 80)) :]
        elif way == 3:
            data = data[:at] + data[max(0, at - dice.choice((1, 20, 300))) :]
        else:
            words = data[:4000].split(b" ")
            k = dice.randrange(len(words))
            words[k] = dice.choice(NUMBERS) + (b"\n" if b"\n" in words[k] else b"")
            data = b" ".join(words) + data[4000:]
    return data


def mesh_file(seed: int) -> tuple[str, bytes, tuple[str, ...], bool]:
    """Ending, bytes, repairs asked for, and whether the file is sound."""
    with np.errstate(all="ignore"):
        return _mesh_file(chance("meshes", seed))


def _mesh_file(dice: random.Random) -> tuple[str, bytes, tuple[str, ...], bool]:
    points, triangles = panel(dice)
    sound = True
    if dice.random() < _HALF_SPOILT:
        sound = False
        for _ in range(dice.choice((1, 1, 2, 3))):
            if len(triangles):
                points, triangles = dice.choice(SPOILS)(points.copy(), triangles.copy(), dice)
    ending = dice.choice(tuple(WRITERS))
    data = WRITERS[ending](points, triangles, dice)
    if dice.random() < 0.35:
        data, sound = spoilt_file(data, dice), False
    repairs = tuple(dice.sample(REPAIRS, dice.choice((0, 0, 1, 2, 4))))
    return ending, data, repairs, sound


def work(seed: int, folder: Path) -> Outcome:
    """Read and flatten the mesh of a seed."""
    ending, data, repairs, _ = mesh_file(seed)
    path = folder / f"mesh.{ending}"
    path.write_bytes(data)
    text = f"{path.name} {repairs}\n" + data[:3000].decode("latin-1")
    try:
        mesh = read_mesh(path, repair=repairs)
        flat = flatten(mesh.vertices, mesh.triangles, leather=chance("leather", seed).choice((None, "soft")))
    except ProblemError as fault:
        found = refused(fault)
        return Outcome("refused", sorted({p.code for p in fault.problems}), found, text=text)
    found = []
    if not flat.certified or flat.flipped:
        found.append("a piece without a certificate")
    figures = np.array(
        [
            flat.demand,
            flat.figures.area_piece_mm2,
            flat.figures.area_seat_mm2,
            *flat.points.ravel(),
            *flat.stretch.ravel(),
        ]
    )
    if not np.isfinite(figures).all():
        found.append("figures that are no numbers")
    if flat.points.shape != (len(mesh.vertices), 2):
        found.append("another number of points than vertices")
    else:
        found += _figures(flat.points[mesh.triangles], flat.figures.area_piece_mm2)
    return Outcome("flat", [], found, text=text)


def _figures(corners: np.ndarray, area: float) -> list[str]:
    """What the flat triangles say against the area told: none turned over, and as much of it."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    twice = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    found = ["triangles turned over"] if (twice <= 0.0).any() else []
    if abs(0.5 * twice.sum() - area) > 1e-6 * area:
        found.append(f"area {area} is told of {0.5 * twice.sum()}")
    return found
