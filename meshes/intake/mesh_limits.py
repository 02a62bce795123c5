"""How large a mesh file may be, and how one says that it makes no sense.

The largest mesh taken has 2 000 000 triangles, in a file of at most 600 MB. To read and check it takes 3 s and 600 MB
of memory as binary PLY, 7 s and 600 MB as OBJ, 17 s and 850 MB as text STL (one core, measured on a grid), and up to
1.4 GB with the repair "orient". Of text files numbers are read one by one, so a limit on bytes is one on time.
"""

LARGEST_FILE_BYTES = 600_000_000
MOST_TRIANGLES = 2_000_000
# In STL every triangle has vertices of its own.
MOST_VERTICES = 3 * MOST_TRIANGLES


class MeshFileError(ValueError):
    """The file is no mesh of its kind. The text says where it stops making sense."""


class EmptyFileError(MeshFileError):
    """Nothing stands in the file."""


class PolygonError(MeshFileError):
    """A face with other than three corners."""


class TooManyError(MeshFileError):
    """More vertices or triangles than are taken."""


def check_count(what: str, count: int) -> None:
    """Raises TooManyError for more than are taken; what: "vertex" or "face"."""
    most, words = (MOST_VERTICES, "vertices") if what == "vertex" else (MOST_TRIANGLES, "triangles")
    if count > most:
        raise TooManyError(f"{count if count < 10**15 else 'far more'} {words}, and at most {most} are taken")
