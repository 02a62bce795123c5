"""A face and its outline become the bare support surface on the pad's chart, with a fan of directors for the padding.

Round the edge the section is a circular arc of the edge radius laid on the height field of the face, then a straight
run down to the tack line. Directors are the normals of the face, turning evenly round the edge into the normal of the
side; round a sharp edge or corner they fan, so padding gets the round it has in life. Lengths mm, angles rad.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import BoolArray, FloatArray
from meshes.support.chart import Chart
from meshes.support.face import Face
from meshes.support.over import RolledOver


@dataclass(frozen=True, eq=False)
class Support:
    """The bare support at every chart vertex: points (n, 3) mm and directors (n, 3), unit, along which padding is
    laid."""

    points: FloatArray
    directors: FloatArray


def loft(chart: Chart, face: Face, plan: FloatArray, u: FloatArray, c: FloatArray) -> Support:
    """Support points and directors of chart vertices: plan (n, 2) where c < 0, else the section place (u, c)."""
    radius, padded, turn = chart.radius(u), chart.padded_radius(u), chart.turn(u)
    # Without radius the edge is sharp: the turn happens at c = 0, all at once.
    angle = np.where(padded > 1e-9, np.clip(c, 0.0, None) / np.maximum(padded, 1e-9), np.where(c > 1e-9, turn, 0.0))
    angle = np.minimum(angle, turn)
    below = np.maximum(c - chart.turn_end(u), 0.0)
    outward = chart.outline.normal(u)
    aside = radius * (np.sin(angle) - 1.0) + below * np.cos(turn)
    at = np.where((c < 0)[:, None], plan, chart.outline.point(u) + outward * aside[:, None])
    sunk = radius * (1.0 - np.cos(angle)) + below * np.sin(turn)
    points = np.column_stack([at, face.height(at) - np.where(c < 0, 0.0, sunk)])
    angle = np.where(c < 0, 0.0, angle)
    side = np.column_stack([outward, np.zeros(len(u))])
    directors = face.normal(at) * np.cos(angle)[:, None] + side * np.sin(angle)[:, None]
    for over in chart.overs:
        own, rolled = _over(chart, over, face, plan, u, c)
        points[own], directors[own] = rolled.points, rolled.directors
    return Support(points, directors / np.linalg.norm(directors, axis=1, keepdims=True))


def _over(
    chart: Chart, over: RolledOver, face: Face, plan: FloatArray, u: FloatArray, c: FloatArray
) -> tuple[BoolArray, Support]:
    """Those of the vertices that lie on the section over which the face runs on, or round the edge beside it."""
    at = over.rolled_of(plan, u, c, chart.turn_end(u))
    angle, outward = at.angle, over.outward
    around, aside, normal = np.zeros(len(angle)), np.zeros((len(angle), 2)), np.zeros((len(angle), 2))
    for k, b in enumerate(over.beside):
        own = (at.number == k) & (at.c_side > 0.0)
        around[own] = b.angle(at.c_side[own])
        normal[own] = b.normal
        # From the place of the section to the edge beside, which goes round with the radius of that side.
        back, out = b.radius * (np.cos(around[own]) - 1.0), b.radius * np.sin(around[own]) - at.c_side[own]
        aside[own] = (back * np.sin(angle[own]))[:, None] * outward + out[:, None] * b.normal
        at.sunk[own] -= back * np.cos(angle[own])
    where = at.plan + aside
    points = np.column_stack([where, face.height(where) - at.sunk])
    flat = np.column_stack([np.broadcast_to(outward, where.shape), np.zeros(len(where))])
    front = face.normal(where) * np.cos(angle)[:, None] + flat * np.sin(angle)[:, None]
    side = np.column_stack([normal, np.zeros(len(where))])
    directors = front * np.cos(around)[:, None] + side * np.sin(around)[:, None]
    return at.on, Support(points, directors / np.linalg.norm(directors, axis=1, keepdims=True))
