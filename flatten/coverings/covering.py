"""Which leather or roll goods each panel is cut from."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from flatten.leather.card import Card
from meshes.records.coverings import RollGoods


@dataclass(frozen=True)
class Covering:
    """A card, and the roll it comes on; None for a hide."""

    card: Card
    roll: RollGoods | None = None


@dataclass(frozen=True, eq=False)
class Coverings:
    """The sheet's leather; what is cut from something else, by the name of its panel; what covers welt cord; measured:
    cards of panels whose leather was found to give otherwise than the card of what they are cut from says."""

    main: Covering
    other: Mapping[str, Covering] = field(default_factory=dict)
    welt: Covering | None = None
    measured: Mapping[str, Card] = field(default_factory=dict)

    def of(self, panel: str) -> Covering:
        """What a panel is cut from."""
        return self.other.get(panel, self.main)

    def card(self, panel: str) -> Card:
        """The card a panel is reckoned with."""
        return self.measured.get(panel) or self.of(panel).card

    @property
    def of_welt(self) -> Covering:
        """What covers the welt cord."""
        return self.welt or self.main

    @property
    def all(self) -> tuple[Covering, ...]:
        """Every covering once, the sheet's leather first."""
        found: dict[str, Covering] = {}
        for one in (self.main, *self.other.values(), self.of_welt):
            found.setdefault(one.card.name, one)
        return tuple(found.values())
