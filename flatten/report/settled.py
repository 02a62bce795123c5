"""The report page's part about a settled pad: how the cover rests, how round its edges are, what would make them so."""

from markupsafe import Markup

from flatten.job.pulls import settled_words
from flatten.report.markup import figure, fixed, joined_up, part, table
from flatten.sections.drawing import section_drawing
from meshes.base.files import number
from meshes.base.units import Unit
from meshes.seat.build import BuiltPad, Tension
from meshes.settle.pad import PadRest
from meshes.settle.proposal import Comparison
from meshes.settle.section import STRAIGHT_RADIUS_MM
from meshes.view.settled_maps import RISEN_MM


def sections_part(pad: BuiltPad, tension: Tension, unit: Unit = "mm") -> Markup:
    """Figures of the cover at rest, a table of cuts, and the cut through what matters as a drawing.
    tension: at which it was settled; unit: of the sheet."""
    rest = pad.rest
    if rest is None:
        return part("paragraph", "Free padding: no tension of the cover is known, so nothing is pressed down.")
    low, high = rest.height_change_mm
    risen = f" and up to {number(high, 1)} mm above it over hollows" if high > RISEN_MM else ""
    figures = (
        f"Reckoned with a pull of {settled_words(pad, tension)} the cover rests up to {number(-low, 1)} mm below the "
        f"free padding{risen}"
    )
    parts = [part("paragraph", f"{figures}{_given_way(pad, rest)}.")]
    if pad.sections:
        rows = [_row(cut) for cut in pad.sections]
        head = ["cut", "edge", "radius as measured mm|", "radius as padded mm|", "hard line °|", "proposal"]
        parts.append(table(head, rows, caption="How round the edges come out", kind="small", unit=unit))
        words = "The pad cut open, before and after: what carries it, its layers, its cover; dashed, the free padding."
        # Front roll and rear edge are both drawn; across only where something is proposed there.
        shown = [cut for cut in pad.sections if cut.padded.cut.direction == "along" or cut.ridge.gap or cut.proposal]
        parts += [figure(section_drawing(pad.pad, cut, unit).svg(), words) for cut in shown]
    return joined_up(parts)


def _given_way(pad: BuiltPad, rest: PadRest) -> str:
    """What is pressed together below the cover; nothing is said of foam or springs where there are none."""
    told = []
    if any(rest.foam_layers):
        told.append(f"foam is crushed by {100 * rest.foam_compression_max:.0f} % at most")
    if not all(rest.foam_layers):
        told.append(f"padding of any kind is pressed together by {100 * rest.padding_compression_max:.0f} %")
    if pad.pad.springs is not None:
        down = f"{rest.spring_deflection_mm:.1f}"
        told.append("springs do not go down" if down == "0.0" else f"springs go down by {down} mm at most")
    return f"; {', '.join(told)}" if told else ""


def _row(cut: Comparison) -> list[str]:
    words = "" if cut.proposal is None else cut.proposal.text
    return [
        f"{cut.name} mm",
        cut.ridge.side,
        _radius(cut.ridge_radius_bare_mm),
        _radius(cut.ridge_radius_mm),
        fixed(cut.ridge.hard_line_deg, 1),
        words,
    ]


def _radius(value: float) -> str:
    return number(value, 0) if value < STRAIGHT_RADIUS_MM else f"over {STRAIGHT_RADIUS_MM:.0f}"
