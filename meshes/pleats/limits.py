"""What pleats can be made of: room for their filler, length for their taper, a test strip that was measured rightly."""

import numpy as np

from meshes.pleats.layout import Layout, LayoutFault
from meshes.pleats.region import ChartToPad, Region
from meshes.pleats.shape import TEST_PLEATS, PleatSection
from meshes.records.pleats import Filling

# Pleats are followed along their length in steps of about this.
STATION_MM = 4.0
# A test strip that came out further off than this share was measured wrongly.
TEST_STRIP_SHARE = 0.15


def stands(filling: Filling, drawn: PleatSection, layout: Layout) -> None:
    """Every pleat has to have room for its filler, and the test strip to be about five of them. Raises LayoutFault."""
    least = min(layout.widths)
    if filling.filler == "wadding":
        # Narrower pleats stand lower by the same share; no arc rises above the half circle.
        narrow, need = drawn.rise > 0.5 * drawn.nominal, 2.0 * drawn.rise * least / drawn.nominal
    else:
        narrow, need = drawn.thickness > least, drawn.thickness
    if narrow:
        text = f"a pleat of {least:.1f} mm is narrower than its filler allows, which needs {need:.1f} mm"
        raise LayoutFault("G127", "filler_thickness", f"{text}; make the pleats wider or the filler thinner")
    if filling.take_up_measured is not None:
        asked = TEST_PLEATS * drawn.nominal
        if abs(filling.take_up_measured - asked) > TEST_STRIP_SHARE * asked:
            text = f"five pleats should come to {asked:.1f} mm, found {filling.take_up_measured:g} mm"
            advice = "measure the test strip between its outer stitch lines, or leave it out"
            raise LayoutFault("G128", "take_up_measured", f"{text}; {advice}")


def runs_out(taper: float, region: Region, laid: ChartToPad, *, middle: float) -> None:
    """The rise has to run out within the pleat, over `taper` mm at every sewn end; middle: place across at which its
    length is taken. Raises LayoutFault."""
    low, high = region.span
    stations = np.linspace(low, high, max(int(np.ceil((high - low) / STATION_MM)), 2) + 1)
    points = laid(region.place(np.stack([np.full(len(stations), middle), stations], axis=1)))
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    ends = sum(region.sewn)
    if taper * ends > length:
        where = "both ends" if ends == 2 else "one end"
        text = f"a taper of {taper:g} mm at {where} of a pleat {length:.0f} mm long"
        raise LayoutFault("G129", "taper", f"{text}; make the taper shorter")
