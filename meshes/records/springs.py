"""Springs under a pad: their rate from coils or per area, and how far twine and cloth hold them down.

A spring unit is a bed of columns: pressure per deflection, kPa/mm. Held lower than its free height it presses against
its twine and cloth, and gives under the cover only once the cover presses harder than that. A board does not move.
"""

import math
from dataclasses import dataclass

# Shear modulus of spring steel wire, N/mm2 (handbooks give 78 500 to 81 500; from memory).
SHEAR_N_PER_MM2 = 79_300.0
# Coils bind when pressed to about this share of their free height (common practice, no source).
BINDING_SHARE = 0.25


@dataclass(frozen=True)
class Springs:
    """A spring unit. rate_kpa_per_mm: pressure per deflection; free_mm, held_mm: height of the springs when nothing
    holds them, and where twine and cloth hold them; both None when they are not known."""

    rate_kpa_per_mm: float
    free_mm: float | None = None
    held_mm: float | None = None

    @property
    def preload_kpa(self) -> float:
        """Pressure with which the held springs press against their twine."""
        if self.free_mm is None or self.held_mm is None:
            return 0.0
        return self.rate_kpa_per_mm * max(self.free_mm - self.held_mm, 0.0)

    @property
    def give_mm_per_kpa(self) -> float:
        """Deflection per pressure."""
        return 1.0 / self.rate_kpa_per_mm


def bed_rate_kpa_per_mm(coil_n_per_mm: float, pitch_mm: float) -> float:
    """Rate of a bed of coils that stand `pitch_mm` apart both ways."""
    return 1000.0 * coil_n_per_mm / pitch_mm**2


def coil_rate_n_per_mm(
    wire_mm: float, mean_diameter_mm: float, turns: float, *, shear_n_per_mm2: float = SHEAR_N_PER_MM2
) -> float:
    """Rate of a round-wire coil with this many active turns (Wahl 1944, Mechanical Springs): G d^4 / (8 D^3 n)."""
    return shear_n_per_mm2 * wire_mm**4 / (8.0 * math.pow(mean_diameter_mm, 3) * turns)
