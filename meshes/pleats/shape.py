"""Section of one pleat between its valleys: crest height, length over the crest, and what a stitch line takes up.

Wadding stands up as a circular arc over its chord. Over a foam sheet that is stitched down in both valleys the taut
cover takes the line y = t (1 - cosh(x / l) / cosh(b / 2 l)): the foam pushes with k (t - y), the cover's tension T
bends to it, l = sqrt(T / k) (string on an elastic foundation, after Hetenyi, Beams on Elastic Foundation, 1946).
Lengths mm; a section is measured from the middle between its valleys.
"""

from dataclasses import dataclass

import numpy as np

from meshes.base.arrays import FloatArray
from meshes.numerics.smooth import smooth_step
from meshes.records.materials import STRAINS
from meshes.records.pleats import Filling

# Tension of a cover drawn smooth, where none is known: seat cover materials carry about this at 5 % (16.9 N, width
# assumed 50 mm; C).
USUAL_TENSION_N_PER_MM = 0.34
# Every stitch line pulls this share of the filler's thickness out of the cover's width: 1/8 in for half an inch of sew
# foam (two trade pages, a third says twice as much), so that a test strip is sewn first.
TAKE_UP_SHARE = 0.25
# Loose filling stands up about this share of its thickness before it is stitched (common practice, no source).
WADDING_RISE_SHARE = 0.6
TEST_PLEATS = 5


def arc_radius(chord: float, rise: float) -> float:
    """Radius of the circular arc over a chord: (c^2 / 4 + f^2) / 2 f. Raises ValueError without rise."""
    if rise <= 0.0:
        raise ValueError(f"an arc needs a rise above zero, found {rise:g} mm")
    return (0.25 * chord * chord + rise * rise) / (2.0 * rise)


def arc_length(chord: FloatArray, rise: FloatArray) -> FloatArray:
    """Length of circular arcs over chords, up to the half circle; the chord itself where there is no rise."""
    chord, rise = np.asarray(chord, dtype=np.float64), np.asarray(rise, dtype=np.float64)
    half = np.arctan2(2.0 * rise, chord)
    # Angle at the centre is 4 half; R = c / (2 sin(2 half)). Written as c / sinc, it has no pole at a flat arc.
    return np.asarray(chord / np.sinc(2.0 * half / np.pi))


@dataclass(frozen=True)
class PleatSection:
    """How the filler of a pleat stands up. nominal: the width at which `rise` is reached by wadding; decay: l of the
    foam, mm; take_up: what one pleat's stitching takes of the cut width."""

    filler: str
    nominal: float
    rise: float
    thickness: float
    decay: float
    take_up: float

    def crown(self, width: FloatArray) -> FloatArray:
        """Height of the crest over its valleys at widths (n,)."""
        width = np.asarray(width, dtype=np.float64)
        if self.filler == "wadding":
            return self.rise * np.clip(width / self.nominal, 0.0, 1.0)
        return np.asarray(self.thickness * (1.0 - 1.0 / np.cosh(0.5 * width / self.decay)))

    def height(self, share: FloatArray, width: FloatArray, scale: FloatArray) -> FloatArray:
        """Height over the valleys at shares 0..1 of widths (n,); scale (n,): 1 at full rise, 0 where it has run
        out."""
        share, width = np.clip(share, 0.0, 1.0), np.maximum(width, 1e-9)
        if self.filler == "wadding":
            rise = np.maximum(self.crown(width) * scale, 1e-12)
            radius = (0.25 * width * width + rise * rise) / (2.0 * rise)
            x = (share - 0.5) * width
            lowered = np.sqrt(np.maximum(radius * radius - x * x, 0.0)) - (radius - rise)
            return np.asarray(np.clip(lowered, 0.0, rise))
        shape = np.cosh((share - 0.5) * width / self.decay) / np.cosh(0.5 * width / self.decay)
        return np.asarray(scale * self.thickness * (1.0 - shape))

    def arc(self, width: FloatArray, scale: FloatArray | float = 1.0) -> FloatArray:
        """Length over the crest at widths (n,), with the rise scaled."""
        width = np.asarray(width, dtype=np.float64)
        if self.filler == "wadding":
            return arc_length(width, self.crown(width) * scale)
        nodes, weights = np.polynomial.legendre.leggauss(24)
        x = 0.25 * width[..., None] * (nodes + 1.0)
        top = np.cosh(0.5 * width / self.decay)[..., None]
        slope = np.asarray(scale)[..., None] * self.thickness / self.decay * np.sinh(x / self.decay) / top
        return np.asarray(0.5 * width * (weights * np.sqrt(1.0 + slope * slope)).sum(axis=-1))

    def cut(self, width: FloatArray) -> FloatArray:
        """Cut width of pleats of finished widths (n,): arc and take-up."""
        return self.arc(width) + self.take_up


def pleat_section(
    filling: Filling, nominal: float, *, tension_n_per_mm: float = USUAL_TENSION_N_PER_MM
) -> PleatSection:
    """Section of a pad's pleats; nominal: finished width of an ordinary pleat, mm; tension_n_per_mm: of the cover."""
    thickness = filling.thickness
    rise = filling.rise if filling.rise is not None else WADDING_RISE_SHARE * thickness
    stiffness_n_mm3 = 1e-3 * filling.foam_kpa / STRAINS[0] / thickness
    decay = float(np.sqrt(tension_n_per_mm / stiffness_n_mm3))
    return PleatSection(filling.filler, nominal, rise, thickness, decay, take_up(filling, nominal))


def usual_take_up(filling: Filling) -> float:
    """Take-up per pleat by rule, mm, before any test strip was sewn."""
    return TAKE_UP_SHARE * filling.thickness


def take_up(filling: Filling, nominal: float) -> float:
    """Take-up per pleat, mm: by rule, or put right by what the test strip came to.

    The strip of five is cut for five nominal widths with the usual take-up; what it fell short of, or came out longer
    by, is a fifth of it per pleat.
    """
    usual = usual_take_up(filling)
    if filling.take_up_measured is None:
        return usual
    return usual + (TEST_PLEATS * nominal - filling.take_up_measured) / TEST_PLEATS


def run_out(distance: FloatArray, taper: float) -> FloatArray:
    """Share of the full rise at distances (n,) from an end seam: 0 on the seam, 1 from `taper` on, with no kink."""
    if taper <= 0.0:
        return np.ones_like(np.asarray(distance, dtype=np.float64))
    return smooth_step(np.asarray(distance, dtype=np.float64) / taper)
