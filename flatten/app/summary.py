"""The figures of a job as lines of plain text for a terminal."""

from flatten.fit.words import FIGURES_ARE
from flatten.job.continuing import continues_words
from flatten.job.pipeline import Job
from flatten.job.straight_notes import straight_words
from flatten.pieces.over_notes import over_words
from flatten.report.advice import no_room_words
from flatten.trim.words import board_words
from meshes.base.units import span
from meshes.closed.words import closed_words
from meshes.seat.build import BuiltPad
from meshes.settle.pad import PadRest


def _at_rest(pad: BuiltPad, rest: PadRest) -> list[str]:
    """What gives under the cover; nothing is said of foam or springs where there are none."""
    down = f"{abs(rest.height_change_mm[0]):.0f}"
    told = [f"cover at rest {'less than 1' if down == '0' else down} mm down at most"]
    if any(rest.foam_layers):
        told.append(f"foam crushed by {100 * rest.foam_compression_max:.0f} % at most")
    if pad.pad.springs is not None:
        down = f"{rest.spring_deflection_mm:.1f}"
        told.append("springs do not go down" if down == "0.0" else f"springs down by {down} mm")
    return told


def summary(job: Job) -> str:
    """One line per piece with its verdict, one per seam that does not sew, one per pad."""
    lines = [f"{job.sheet.name}, in {job.leather.name}"]
    for pad in job.pads:
        facts = pad.facts
        residual = max((p.residual_mm for p in facts.profiles), default=0.0)
        padding = span(*(f"{mm:.0f}" for mm in facts.thickness_mm))
        told = [f"cover {facts.area_mm2 / 1e6:.2f} m2"]
        told += [f"padding {padding} mm"] if facts.thickness_mm[1] > 0.0 else ["no padding"]
        told += [f"profiles met within {residual:.2f} mm"] if facts.profiles else []
        lines.append(f"  {pad.pad.name}: {', '.join(told)}")
        if pad.rest is not None:
            lines.append(f"    {', '.join(_at_rest(pad, pad.rest))}")
        if words := continues_words(pad):
            lines.append(f"    {words}")
        if words := closed_words(pad) or board_words(pad):
            lines.append(f"    {words}")
        lines += [f"    right is {mm:+.1f} mm against left: {what}" for what, mm in facts.left_right if abs(mm) >= 0.5]
    width = max(len(f"{piece.pad} {piece.name}") for piece in job.pieces)
    lines.append(f"  {'piece':<{width}}  {'':<22} demand  budget  verdict")
    for piece in job.pieces:
        flat = job.flats[piece.panels[0]]
        budget = "-" if flat.budget is None else f"{100 * flat.budget:.1f} %"
        name = f"{piece.pad} {piece.name}"
        figures = f"{100 * flat.demand:5.1f} %  {budget:>6}  {flat.verdict or '-'}"
        if flat.over is not None:
            figures += f", {over_words(piece, flat)}"
        lines.append(f"  {name:<{width}}  {piece.count_text:<22} {figures}")
        if words := straight_words(job.pads, piece, flat):
            lines.append(f"    {words}")
    if job.fitting is not None and job.fitting.told:
        lines.append(f"  {FIGURES_ARE}")
    off = [seam for seam in job.seams if not seam.sews]
    lines.append(f"  seams: {len(job.seams)}, of which {len(off)} differ by more than a hand eases in")
    if words := no_room_words(job.problems):
        lines.append(f"  {words}")
    lines.append(f"  {job.seconds:.1f} s")
    return "\n".join(lines)
