"""How far springs go down under the fitted cover, and with what force: what a hand or a clamp has to hold while the
cover is tacked.

Held at the heights of the settled cover, padding and springs push on it as hard as the cover at rest pushes on them, so
its edges come to their marks without pulling against the springs. Rates of springs count per area seen square on, so
the force in all is (preload + rate x mean travel) x area where they give. The cover draws down with its tension along
its rim, by as much of it as runs upright there.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray, IntArray
from meshes.seat.build import BuiltPad

# Springs that go down by less than this stay where they are, as far as a ruler tells.
STILL_SPRINGS_MM = 0.05
_N_PER_KPA_MM2 = 1e-3
# Springs that push with less in all hold themselves: 1 kg.
LEAST_HELD_N = 9.80665
# A hand laid flat, fingers closed: 100 x 180 mm (common practice, no source).
HAND_WIDE_MM, HAND_LONG_MM = 100.0, 180.0


@dataclass(frozen=True)
class SpringLoad:
    """Springs under the fitted cover. area_mm2: where they go down; mean_mm, most_mm: how far; springs_n: what that
    takes in all; cover_n: what the cover draws the whole pad down with; twine_kpa: with which held springs press
    against their twine; hand_mm: how far a flat hand presses the padding down to where the cover holds it, in the mean
    over what faces up; hand_n: the force of that; give_n: that from which a hand presses held springs too."""

    area_mm2: float
    mean_mm: float
    most_mm: float
    springs_n: float
    cover_n: float
    twine_kpa: float
    hand_mm: float = 0.0
    hand_n: float = 0.0
    give_n: float = 0.0

    @property
    def give(self) -> bool:
        """Whether the cover presses the springs down at all, so that somebody has to hold them."""
        return self.most_mm >= STILL_SPRINGS_MM and self.springs_n >= LEAST_HELD_N


def spring_load(pad: BuiltPad) -> SpringLoad | None:
    """The load on the springs of a pad as it was before panels were cut; None on board, and where no cover presses."""
    springs, rest = pad.pad.springs, pad.rest
    if springs is None or rest is None:
        return None
    settled = rest.settled
    area = plan_areas(settled.points, pad.surface.triangles)
    down = np.where(settled.spring_mm > 0.0, settled.spring_mm, 0.0)
    pressed = float(area[down > 0.0].sum())
    mean = float(area @ down) / pressed if pressed else 0.0
    force = _N_PER_KPA_MM2 * pressed * (springs.preload_kpa + springs.rate_kpa_per_mm * mean)
    cover = rest.tension_n_per_mm * drawn_down_mm(settled.points, pad.surface.triangles)
    hand = _N_PER_KPA_MM2 * HAND_WIDE_MM * HAND_LONG_MM
    whole = float(area.sum())
    return SpringLoad(
        pressed,
        mean,
        float(down.max(initial=0.0)),
        force,
        cover,
        springs.preload_kpa,
        hand_mm=max(-float(area @ rest.change_mm) / whole, 0.0),
        hand_n=hand * float(area @ settled.pressure_kpa) / whole,
        give_n=hand * springs.preload_kpa,
    )


def drawn_down_mm(points: FloatArray, triangles: IntArray) -> float:
    """The length of a surface's rim, each stretch counted by the share with which the surface goes straight down there:
    times its tension, what a cover draws down with. points (n, 3), triangles facing outward."""
    # Every edge with the corner opposite; those of the rim belong to one triangle only.
    corners = np.concatenate([np.roll(triangles, -k, axis=1) for k in range(3)])
    both = np.sort(corners[:, :2], axis=1)
    _, which, counts = np.unique(both, axis=0, return_inverse=True, return_counts=True)
    rim = points[corners[counts[which.ravel()] == 1]]
    along = rim[:, 1] - rim[:, 0]
    long = np.linalg.norm(along, axis=1, keepdims=True)
    along = along / np.maximum(long, 1e-12)
    inward = rim[:, 2] - rim[:, 0]
    inward -= np.einsum("ij,ij->i", inward, along)[:, None] * along
    inward /= np.maximum(np.linalg.norm(inward, axis=1, keepdims=True), 1e-12)
    return float(np.sum(long[:, 0] * inward[:, 2]))


def plan_areas(points: FloatArray, triangles: IntArray) -> FloatArray:
    """The area (n,) mm2 that every vertex stands for, seen square on; of what faces up alone. points (n, 3)."""
    a, b, c = (points[triangles[:, k], :2] for k in range(3))
    one, two = b - a, c - a
    each = np.maximum(0.5 * (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]), 0.0) / 3.0
    found = np.zeros(len(points))
    np.add.at(found, triangles.ravel(), np.repeat(each, 3))
    return found
