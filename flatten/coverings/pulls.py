"""What panels of unlike leathers, sewn together, are asked: one least stretch for all, and tensions of their own."""

from collections.abc import Iterable, Sequence

import numpy as np

from flatten.leather.card import Card


def shared_pull(cards: Iterable[Card]) -> float:
    """The least stretch - 1 of pieces that are sewn together: what the leather needs that needs most to lie smooth, so
    that none is slack; but no more than halfway up the budget of the one that gives least."""
    cards = list(cards)
    room = min(0.5 * (card.pull + min(card.stretch_along, card.stretch_across)) for card in cards)
    # Every card gives more than its own pull, so that the room is above the least of the pulls.
    return min(max(card.pull for card in cards), room)


def shared_rest(cards: Sequence[Card], wishes: Sequence[float]) -> float:
    """The stretch - 1 that pieces sewn together come to where they are free to: the mean of what each of them has at
    its own wished tension."""
    return float(np.mean([card.strain_at(wish) for card, wish in zip(cards, wishes, strict=True)]))
