"""The figures of a job as lines of plain text for a terminal."""

from flatten.job.continuing import continues_words
from flatten.job.pipeline import Job
from flatten.job.straight_notes import straight_words
from flatten.pieces.over_notes import over_words
from flatten.trim.words import board_words
from meshes.closed.words import closed_words


def summary(job: Job) -> str:
    """One line per piece with its verdict, one per seam that does not sew, one per pad."""
    lines = [f"{job.sheet.name}, in {job.leather.name}"]
    for pad in job.pads:
        facts = pad.facts
        residual = max((p.residual_mm for p in facts.profiles), default=0.0)
        lines.append(
            f"  {pad.pad.name}: cover {facts.area_mm2 / 1e6:.2f} m2, padding {facts.thickness_mm[0]:.0f} to "
            f"{facts.thickness_mm[1]:.0f} mm, profiles met within {residual:.2f} mm"
        )
        if pad.rest is not None:
            lines.append(
                f"    cover at rest {-pad.rest.height_change_mm[0]:.0f} mm down at most, foam crushed by "
                f"{100 * pad.rest.foam_compression_max:.0f} % at most, springs down by "
                f"{pad.rest.spring_deflection_mm:.1f} mm"
            )
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
    off = [seam for seam in job.seams if not seam.sews]
    lines.append(f"  seams: {len(job.seams)}, of which {len(off)} differ by more than a hand eases in")
    lines.append(f"  {job.seconds:.1f} s")
    return "\n".join(lines)
