"""What a picture of a seat shows, and where it is seen from: plain arrays, whoever draws them.

Seat coordinates in mm: X right, Y to the rear, Z up. One camera is worked out here, so that every way of drawing shows
the same view.
"""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from meshes.base.arrays import FloatArray, IntArray, locked_floats, locked_ints
from meshes.view.settled_maps import Legend

Colours = npt.NDArray[np.uint8]

BACKGROUND = (244, 243, 240)
LINE_COLOUR = (44, 42, 40)
# Fine lines are thinner than seams and of another colour.
FINE_COLOUR = (72, 18, 58)
# Exit status of the drawing process when a window was asked for and there is no screen.
NO_SCREEN = 4
# Half the opening of the camera, upright: narrow, so that a seat looks as it does from across the shop.
HALF_OPENING_DEG = 6.0
# Share of the picture that the seat may fill.
FILL = 0.84
# With a key below it the seat is drawn smaller, and higher by this share of half the picture.
KEY_FILL, KEY_RISE = 0.70, 0.10

# Directions from the seat towards the eye. "rear" looks from behind and above, where a backrest rolls over.
CAMERAS = {
    "front": (-0.62, -1.0, 0.62),
    "side": (1.0, -0.05, 0.06),
    "rear": (0.72, 1.0, 0.72),
    "top": (0.0, -0.02, 1.0),
}


@dataclass(frozen=True, eq=False)
class ScenePart:
    """One surface: vertices (n, 3) mm, triangles (m, 3), unit normals (n, 3), colours (n, 3) or (3,): red, green,
    blue."""

    name: str
    vertices: FloatArray
    triangles: IntArray
    normals: FloatArray
    colours: Colours

    def __post_init__(self) -> None:
        colours = np.array(np.broadcast_to(np.asarray(self.colours, dtype=np.uint8), (len(self.vertices), 3)))
        colours.setflags(write=False)
        object.__setattr__(self, "vertices", locked_floats(self.vertices))
        object.__setattr__(self, "triangles", locked_ints(self.triangles))
        object.__setattr__(self, "normals", locked_floats(self.normals))
        object.__setattr__(self, "colours", colours)


@dataclass(frozen=True, eq=False)
class Scene:
    """Surfaces, lines along them (name, points (k, 3)), fine lines that are no seams, lettering.

    names: (piece, place (3,)) to letter; key: what the colours of a map stand for, None where they stand for nothing.
    """

    title: str
    parts: tuple[ScenePart, ...]
    lines: tuple[tuple[str, FloatArray], ...] = ()
    names: tuple[tuple[str, FloatArray], ...] = ()
    fine: tuple[tuple[str, FloatArray], ...] = ()
    key: Legend | None = None

    @property
    def is_map(self) -> bool:
        """Colours stand for figures: there is a key, and light must not darken them."""
        return self.key is not None

    def box(self) -> tuple[FloatArray, FloatArray]:
        """Lowest and highest corner, mm."""
        points = np.concatenate([part.vertices for part in self.parts])
        return points.min(axis=0), points.max(axis=0)


@dataclass(frozen=True, eq=False)
class Camera:
    """Where the eye is and where it looks, mm; axes (3, 3): rows right, up, and from the seat to the eye."""

    eye: FloatArray
    target: FloatArray
    axes: FloatArray

    def seen(self, points: FloatArray, size: tuple[int, int]) -> FloatArray:
        """Points (n, 3) as pixels from the top left corner, and depth from the eye in mm, shape (n, 3)."""
        local = (points - self.eye) @ self.axes.T
        depth = -local[:, 2]
        scale = 0.5 * size[1] / np.tan(np.deg2rad(HALF_OPENING_DEG)) / depth
        return np.column_stack([0.5 * size[0] + scale * local[:, 0], 0.5 * size[1] - scale * local[:, 1], depth])


def camera(scene: Scene, view: str, size: tuple[int, int]) -> Camera:
    """The camera of a named view, far enough away for the whole scene. Raises KeyError for an unknown view."""
    toward = np.array(CAMERAS[view], dtype=float)
    toward /= np.linalg.norm(toward)
    right = np.cross([0.0, 0.0, 1.0], toward)
    right /= np.linalg.norm(right)
    axes = np.stack([right, np.cross(toward, right), toward])
    local = np.concatenate([part.vertices for part in scene.parts]) @ axes.T
    middle = 0.5 * (local.min(axis=0) + local.max(axis=0))
    opening = np.tan(np.deg2rad(HALF_OPENING_DEG))
    up = opening * (KEY_FILL if scene.is_map else FILL)
    across = up * size[0] / size[1]
    off = np.abs(local - middle)
    distance = float((np.maximum(off[:, 0] / across, off[:, 1] / up) + local[:, 2] - middle[2]).max())
    rise = KEY_RISE * distance * opening if scene.is_map else 0.0
    target = (middle - np.array([0.0, rise, 0.0])) @ axes
    return Camera(eye=target + distance * toward, target=target, axes=axes)


def save_scene(scene: Scene, path: Path) -> None:
    """Write a scene as .npz, plain arrays without pickled objects."""
    arrays: dict[str, Any] = {}
    for k, part in enumerate(scene.parts):
        arrays |= {f"v{k}": part.vertices, f"t{k}": part.triangles, f"n{k}": part.normals, f"c{k}": part.colours}
    arrays |= {f"l{k}": points for k, (_, points) in enumerate(scene.lines)}
    arrays |= {f"f{k}": points for k, (_, points) in enumerate(scene.fine)}
    arrays |= {f"w{k}": place for k, (_, place) in enumerate(scene.names)}
    words = {
        "title": scene.title,
        "parts": [part.name for part in scene.parts],
        "lines": [name for name, _ in scene.lines],
        "names": [name for name, _ in scene.names],
        "fine": [name for name, _ in scene.fine],
        "key": None if scene.key is None else asdict(scene.key),
    }
    with path.open("wb") as stream:
        np.savez(stream, words=np.array(json.dumps(words)), **arrays)


def load_scene(path: Path) -> Scene:
    """Read a scene that `save_scene` wrote."""
    with np.load(path, allow_pickle=False) as held:
        words = json.loads(str(held["words"]))
        return Scene(
            title=words["title"],
            parts=tuple(
                ScenePart(name, held[f"v{k}"], held[f"t{k}"], held[f"n{k}"], held[f"c{k}"])
                for k, name in enumerate(words["parts"])
            ),
            lines=tuple((name, held[f"l{k}"]) for k, name in enumerate(words["lines"])),
            names=tuple((name, held[f"w{k}"]) for k, name in enumerate(words["names"])),
            fine=tuple((name, held[f"f{k}"]) for k, name in enumerate(words["fine"])),
            key=None
            if words["key"] is None
            else Legend(**{name: _frozen(value) for name, value in words["key"].items()}),
        )


def _frozen(value: Any) -> Any:
    """Lists as tuples, as JSON knows no tuples."""
    return tuple(_frozen(one) for one in value) if isinstance(value, list) else value
