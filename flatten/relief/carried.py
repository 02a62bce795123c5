"""A cut carried over to a panel that has moved: the same lines on the same mesh, which lies elsewhere."""

from dataclasses import replace

import numpy as np

from flatten.relief.cutting import interpolated
from flatten.relief.search import Relief
from meshes.base.arrays import FloatArray


def carried_over(relief: Relief, vertices: FloatArray) -> Relief:
    """A proposal for a panel whose vertices, in the same order and with the same triangles, are (n, 3) mm now.

    Its lines run through the same places of the mesh. What it was found to win and its length stay what they were.
    """
    drawn = replace(relief.drawn, vertices=interpolated(vertices, relief.drawn.ends, relief.drawn.share))
    return replace(relief, drawn=drawn, cut=replace(relief.cut, vertices=np.asarray(drawn.vertices[relief.cut.origin])))
