"""How the shapes of one padding layer are cut, which all of them have in common."""

from dataclasses import dataclass

from flatten.foam.rounding import Rounding
from meshes.base.units import Unit


@dataclass(frozen=True)
class LayerCut:
    """How the shapes of one layer are cut: numbers of the layers counted from 0, whether they are foam, which can be
    split, the thicknesses of the sheets that lie on each other (none where it comes in no thickness), oversize, corner
    rule, how many parts there are, roundings that the layer is in, and the unit of the sheet."""

    numbers: tuple[int, ...]
    foam: bool
    sheets_mm: tuple[float, ...]
    over_mm: float
    corner: str
    parts: int
    roundings: tuple[Rounding, ...]
    unit: Unit

    @property
    def sheets(self) -> int:
        """How many lie on each other."""
        return max(len(self.sheets_mm), 1)

    @property
    def last(self) -> tuple[Rounding, ...]:
        """Roundings that are done once this layer is glued."""
        return tuple(one for one in self.roundings if one.layers[-1] - 1 in self.numbers)

    @property
    def words(self) -> str:
        """Which layers these are."""
        return ("layer " if len(self.numbers) < 2 else "layers ") + " and ".join(str(k + 1) for k in self.numbers)
