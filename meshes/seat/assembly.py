"""Pads placed in one seat: where each pad's own coordinates lie in the seat's, X right, Y to the rear, Z up."""

import numpy as np

from meshes.base.arrays import FloatArray, locked_floats
from meshes.records.pad import Pad


def placement(pad: Pad) -> FloatArray:
    """Matrix (4, 4) from pad to seat coordinates, mm.

    A cushion lies flat and drops to the rear by its rake; a backrest or side stands upright and leans back by its
    rake; then it is turned about the upright axis by `facing` and its origin is set down where the sheet says. A loose
    cushion stands on its lower plate, a roll lies from left to right.
    """
    tilt = np.deg2rad(-pad.rake_deg if pad.kind == "cushion" else 90.0 - pad.rake_deg)
    turn = np.deg2rad(pad.facing_deg)
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    matrix = np.eye(4)
    matrix[:3, :3] = about_z @ about_x
    if pad.closed is not None and pad.closed.form == "roll":
        # A roll is built standing on one end; in the seat it lies from left to right, its zip behind.
        matrix[:3, :3] = matrix[:3, :3] @ np.array([[0, 0, 1], [0, 1, 0], [-1, 0, 0]])
    matrix[:3, 3] = pad.origin
    if pad.closed is not None and pad.closed.form == "box":
        matrix[:3, 3] += matrix[:3, 2] * 0.5 * pad.closed.height
    if pad.closed is not None and pad.closed.form == "knife_edge":
        half = 0.5 * pad.closed.thickness + sum(layer.thickness for layer in pad.layers)
        matrix[:3, 3] += matrix[:3, 2] * half
    return locked_floats(matrix)


def placed(vertices: FloatArray, matrix: FloatArray) -> FloatArray:
    """Points (n, 3) of a pad in seat coordinates."""
    return np.asarray(vertices @ matrix[:3, :3].T + matrix[:3, 3])
