"""The verdict on a piece: what its leather gives where it decides, and how much of that every place uses.

A piece fits when in no direction anywhere it is stretched more than its leather gives in that direction. The budget
told with a verdict is what the leather gives, from its pull on, in the direction that decides it: the one used most
when that is too much, else that of the largest stretch. So demand and budget compare as the verdict says.
"""

from dataclasses import dataclass

import numpy as np

from flatten.bounds.floor import Floor
from flatten.leather.budget_use import excess, use_of
from flatten.leather.card import EASE, Card, verdict
from flatten.leather.stretch import Stretch
from meshes.base.arrays import FloatArray, locked_floats


@dataclass(frozen=True, eq=False)
class Judged:
    """budget: a fraction, None when none is known; verdict; use (m,): share of the budget by triangle, None
    likewise."""

    budget: float | None
    verdict: str | None
    use: FloatArray | None


def judged(
    field: Stretch, floor: Floor | None, *, card: Card | None, budget: float | None, backbone: FloatArray | None
) -> Judged:
    """Judge a piece.

    field: its stretches; floor: its proven limit; card: its leather; budget: the demand allowed, a fraction, in every
    direction, instead of the card's; backbone (2,): unit direction on the piece, None when it may lie in any.
    """
    proven = None if floor is None else floor.value
    if card is not None and budget is None and backbone is not None:
        return _by_direction(field, floor, card, backbone)
    allowed = budget if budget is not None else None if card is None else card.budget
    if allowed is None:
        return Judged(None, None, None)
    logs = np.log(field.values[:, 0] / field.values.min())
    use = logs / np.log1p(allowed) if allowed > 0.0 else np.where(logs > 0.0, np.inf, 0.0)
    return Judged(allowed, verdict(field.demand, allowed, floor=proven), locked_floats(use))


def _by_direction(field: Stretch, floor: Floor | None, card: Card, backbone: FloatArray) -> Judged:
    use = use_of(field.values, field.along, backbone, card.limits)
    worst, largest = use.worst, int(np.argmax(field.values[:, 0]))
    along, across = card.limits
    if use.values[worst] <= 1.0:
        side = field.along[largest] @ backbone
        most = float(np.hypot(np.exp(along) * side, np.exp(across) * np.sqrt(max(1.0 - side * side, 0.0))))
        word = "fits"
    else:
        most = float(use.most[worst])
        beyond = excess(field.values, field.along, backbone, card.limits)
        word = "fits with ease" if beyond <= EASE else "too tight"
        if word == "too tight" and floor is not None and floor.value > _provable(floor, card):
            word = "proven too tight"
    return Judged(most / (1.0 + card.pull) - 1.0, word, locked_floats(use.values))


def _provable(floor: Floor, card: Card) -> float:
    """What a floor must exceed to be beyond the leather however the piece lies."""
    return card.round_budget if floor.kind == "disc" else card.widest_budget
