"""Triangle meshes read from files: PLY, OBJ or STL in mm, checked, and repaired where asked."""

from collections.abc import Collection
from pathlib import Path
from textwrap import shorten

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.problems import Problem, ProblemError, plain, shown
from meshes.base.reading import UnreadableError
from meshes.intake.mesh_file import EmptyFileError, PolygonError, TooManyError, load
from meshes.intake.repair import Intake, check_repairs, repair_mesh

MESH_SUFFIXES = (".ply", ".obj", ".stl")
_COARSER = "a panel needs some ten thousand triangles, so mesh it coarser"


def read_mesh(path: str | Path, *, repair: Collection[str] = ()) -> Intake:
    """Read a PLY, OBJ or STL file (mm) that holds one disc of triangles.

    repair: see `repair_mesh`; "merge" is always done, and always stated, for STL, which has no shared vertices. Raises
    ProblemError with every fault.
    """
    path = Path(path)
    check_repairs(repair)
    vertices, triangles = _loaded(path)
    wanted = {*repair, "merge"} if path.suffix.lower() == ".stl" else set(repair)
    return repair_mesh(vertices, triangles, repair=wanted, file=str(path))


def _loaded(path: Path) -> tuple[FloatArray, IntArray]:
    def stop(code: str, text: str) -> ProblemError:
        return ProblemError([Problem(code, "", text, file=str(path))])

    if path.suffix.lower() not in MESH_SUFFIXES:
        raise stop(
            "M102", f"not a mesh file this program reads, found {shown(path.suffix)}; give PLY, OBJ or STL in mm"
        )
    try:
        vertices, triangles = load(path)
    except UnreadableError as fault:
        more = f"; {_COARSER}" if fault.too_large else ""
        raise stop("M107" if fault.too_large else "M103", f"{fault}{more}") from fault
    except EmptyFileError as fault:
        raise stop("M104", "the file is empty; write the mesh again") from fault
    except TooManyError as fault:
        raise stop("M107", f"{fault}; {_COARSER}") from fault
    except PolygonError as fault:
        raise stop("M106", f"{fault}; write the surface as triangles, so that the pattern answers to them") from fault
    except (ValueError, KeyError, IndexError, OverflowError) as fault:
        what = shorten(plain(str(fault)), 160, placeholder=" ...")
        raise stop("M105", f"the file cannot be read as a mesh ({what}); write it again as PLY") from fault
    if len(triangles) == 0:
        raise stop("M104", "the file holds no triangles; write the surface as triangles")
    return vertices, triangles
