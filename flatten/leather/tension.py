"""What a piece as cut pulls with on the seat, and how much further its leather lets it be pulled.

Strips give the stiffness of a leather along and across its backbone; without a measured one both ways at once, the two
are taken to act side by side (no Poisson coupling). Tension N per mm of width.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatten.leather.budget_use import beyond, squared
from flatten.leather.card import Card
from flatten.leather.stretch import Stretch
from meshes.base.arrays import FloatArray


@dataclass(frozen=True)
class Pull:
    """How a piece is pulled. least, mean: stretch - 1, the mean over area and both directions; tension: N/mm, mean over
    area and both directions; stiffness: N/mm by which the tension grows when all stretches grow by their own size;
    room: the factor by which all stretches may still grow until some place uses its whole budget, below 1 when some
    place is beyond it; area: of the seat, mm2."""

    least: float
    mean: float
    tension_n_per_mm: float
    stiffness_n_per_mm: float
    room: float
    area_mm2: float

    def grown(self, factor: float) -> float:
        """The tension in N/mm when all stretches are larger by a factor."""
        return self.tension_n_per_mm + (factor - 1.0) * self.stiffness_n_per_mm


def pull_of(field: Stretch, backbone: FloatArray | None, card: Card) -> Pull:
    """How a piece is pulled by its leather.

    field: its stretches; backbone (2,): unit direction on the piece; without one the piece may lie anyhow, and both
    directions count alike.
    """
    way = np.array([0.0, 1.0]) if backbone is None else backbone
    stiff = np.array([card.stiffness_along, card.stiffness_across])
    if backbone is None:
        stiff = np.full(2, stiff.mean())
    area = field.areas_seat
    mean = ways_stretched(field, way)
    grows = float(0.5 * stiff @ mean)
    return Pull(
        least=float(field.values.min()) - 1.0,
        mean=float(mean.mean()) - 1.0,
        tension_n_per_mm=grows - float(0.5 * stiff.sum()),
        stiffness_n_per_mm=grows,
        room=1.0 / (1.0 + float(beyond(field.values, field.along, way, card.limits).max())),
        area_mm2=float(area.sum()),
    )


def ways_stretched(field: Stretch, backbone: FloatArray) -> FloatArray:
    """Length on the seat / length on the piece along and across the backbone, (2,): means over the area of the seat."""
    turned = field.along @ np.array([[backbone[0], -backbone[1]], [backbone[1], backbone[0]]])
    lengths = np.sqrt(squared(field.values, turned)[:, [0, 2]])
    return np.asarray(np.average(lengths, axis=0, weights=field.areas_seat))


def common_factor(pulls: Sequence[Pull], wanted_n_per_mm: float) -> float:
    """By how much all stretches of pieces that are sewn together should grow for their mean tension to come as near to
    what is wanted as their budgets allow: at least 1, as no place may be slack; their seams stay of one length."""
    area = np.array([pull.area_mm2 for pull in pulls])
    now = float(np.average([pull.tension_n_per_mm for pull in pulls], weights=area))
    grows = float(np.average([pull.stiffness_n_per_mm for pull in pulls], weights=area))
    factor = 1.0 + (wanted_n_per_mm - now) / grows
    return max(1.0, min(factor, *(pull.room for pull in pulls)))
