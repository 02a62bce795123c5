"""One line of an order: what, how much, where the figure comes from, and what it costs where a price is known."""

from dataclasses import dataclass

PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class OrderLine:
    """item: as a price table names it; what_for: in words; quantity in units of `unit`; source: where the figure
    comes from; price: of one unit, None where none is known."""

    item: str
    what_for: str
    quantity: float
    unit: str
    source: str
    price: float | None = None

    @property
    def cost(self) -> float | None:
        """Price times quantity."""
        return None if self.price is None else self.price * self.quantity


def total_cost(lines: tuple[OrderLine, ...]) -> float:
    """What all lines with a price cost."""
    return sum(line.cost or 0.0 for line in lines)
