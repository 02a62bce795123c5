"""The certificate that a flat piece is one-to-one: no place of the leather would have to lie in two places of the seat.

A map of a disc, linear on its triangles, that keeps the orientation of every triangle and whose rim is a simple
polygon is one-to-one: the number of triangles over a point is the winding number of the rim about it, which is one
inside a simple closed curve and zero outside (degree argument: Floater, One-to-one piecewise linear mappings over
triangulations, 2003; Lipman, Bijective mappings of meshes with boundary and the degree in mesh processing, 2014). Both
conditions are tested exactly, for the coordinates as they leave.
"""

from dataclasses import dataclass

from meshes.base.arrays import FloatArray, IntArray
from meshes.base.surface import boundary_loops, is_disc
from meshes.numerics.predicates import crossings, orientation


@dataclass(frozen=True)
class Certificate:
    """disc: whether the mesh is one; flipped: triangles flat or turned over; rim_crossings: pairs of rim edges that
    touch though they are no neighbours, or fold back onto each other.
    """

    disc: bool
    flipped: int
    rim_crossings: int

    @property
    def holds(self) -> bool:
        """Whether the piece is proven one-to-one."""
        return self.disc and self.flipped == 0 and self.rim_crossings == 0


def certify(points: FloatArray, triangles: IntArray, *, rim: IntArray | None = None) -> Certificate:
    """Test a flat map. points (n, 2); triangles (m, 3), counter-clockwise on the seat seen from its outer side.

    rim: the boundary loop of a mesh already found to be a disc, which saves finding it out again.
    """
    a, b, c = (points[triangles[:, k]] for k in range(3))
    turned = int((orientation(a, b, c) <= 0).sum())
    if rim is None:
        if not is_disc(triangles):
            return Certificate(False, turned, 0)
        rim = boundary_loops(triangles)[0]
    return Certificate(True, turned, len(crossings(points[rim])))
