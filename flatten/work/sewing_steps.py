"""Steps at the machine: flat before round. Pleats on the flat piece, darts, joins, insets to bolsters, welt to the
face, bands to the face from the centre marks both ways, and at last flies and what is sewn along outer edges.

Order: `edges.order`. Where welt is joined: 50 mm off a corner, at the rear (common practice, no source).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from flatten.edges.order import SewingStep, seam_stage, sewing_order
from flatten.job.pipeline import Job
from flatten.pieces.fillers import trial_finished_mm
from flatten.pieces.pleat_ends import cut_by_pleat, pleat_ends
from flatten.pieces.welt import WeltLength
from flatten.report.amounts import runs_of_welt, welt
from flatten.work.steps import BLADES, StepFigure, WorkStep
from meshes.base.files import number
from meshes.base.problems import and_words
from meshes.base.units import span
from meshes.closed.words import join_side
from meshes.pleats.shape import TEST_PLEATS
from meshes.records.seam_kinds import PLAIN, WELTED
from meshes.seat.build import BuiltPad
from meshes.seat.panels import Panel, PanelRole, Seam
from meshes.seat.seam_sides import likeness
from meshes.support.line_roles import LineRole

# The ends of a welt that goes all round are joined so far from a corner (P).
WELT_JOIN_OFF_MM = 50.0
# Stages of `seam_stage` that steps differ by, and one more for what is sewn along outer edges.
BAND_STAGE, OUTER_STAGE = 3, 5
# Seams between face and band that are shorter only close them below the edge, at the ends of a band.
SHORT_SEAM_MM = 200.0


@dataclass(frozen=True)
class SeamGroup:
    """Seams that are sewn in one go. stage: as `seam_stage`; step: of the first; joined: which parts, in words; bands:
    those of them that are bands, or strips of a zip; lengths_mm: on paper, mirrored seams once; valley: they lie in the
    valleys of pleats; ring: they close a strip end to end."""

    stage: int
    step: SewingStep
    joined: tuple[str, ...]
    bands: tuple[str, ...]
    lengths_mm: tuple[float, ...]
    valley: bool = False
    ring: bool = False

    @property
    def others(self) -> tuple[str, ...]:
        """The parts that are no bands."""
        parts = dict.fromkeys(part for words in self.joined for part in words.split(" to "))
        return tuple(part for part in parts if part not in self.bands)


def sew_stage(pad: BuiltPad) -> str:
    """What the heading over the sewing of a pad says."""
    return f"Sew the cover of the {pad.pad.name}"


def sewing_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """Everything that is sewn on the cover of a pad on a frame, in its order."""
    stage, name = sew_stage(pad), pad.pad.name
    yield from pleat_steps(job, pad)
    groups = seam_groups(job, pad)
    yield from (_plain(pad, group) for group in groups if group.stage < BAND_STAGE)
    yield from welt_steps(job, pad)
    for group in (group for group in groups if group.stage == BAND_STAGE and group.step.kind == WELTED):
        text = f"Close the welted seam: {and_words(group.bands)} to {and_words(group.others)}."
        how = "Lay the centre marks of band and face on each other, sew from there both ways, notch on notch"
        details = (f"{how}, close to the cord; round a corner clip the band's allowance.",)
        yield WorkStep(stage, name, text, details, (), (BLADES,))
    yield from (_plain(pad, group) for group in groups if group.stage >= BAND_STAGE and group.step.kind != WELTED)


def seam_groups(job: Job, pad: BuiltPad) -> list[SeamGroup]:
    """The seams of a pad in the order of sewing: mirror images in one, all welted ones of a stage, and all short plain
    ones between face and bands."""
    panels = {panel.name: panel for panel in pad.panels}
    seams = {seam.name: seam for seam in pad.seams}
    long = {row.name: max(row.length_a_mm, row.length_b_mm) for row in job.seams}
    found: dict[object, list[SewingStep]] = {}
    for step in sewing_order([pad], job.makes):
        seam = seams.get(step.seam)
        stage = OUTER_STAGE if seam is None else seam_stage(seam, panels)
        short = stage == BAND_STAGE and step.kind == PLAIN and long.get(step.seam, 0.0) < SHORT_SEAM_MM
        like: object = likeness(step.seam, panels) or step.seam
        found.setdefault((stage, WELTED if step.kind == WELTED else short or like), []).append(step)
    groups = [
        _group(steps, [seams[one.seam] for one in steps if one.seam in seams], panels, long) for steps in found.values()
    ]
    return sorted(groups, key=lambda group: group.stage)


def _group(
    steps: Sequence[SewingStep], seams: Sequence[Seam], panels: Mapping[str, Panel], long: Mapping[str, float]
) -> SeamGroup:
    if not seams:
        return SeamGroup(OUTER_STAGE, steps[0], (steps[0].seam.removeprefix(f"{steps[0].pad} "),), (), ())
    sides = [(panels[seam.a], panels[seam.b]) for seam in seams]
    joined = tuple(dict.fromkeys(a.part if a is b else f"{a.part} to {b.part}" for a, b in sides))
    bands = tuple(dict.fromkeys(p.part for pair in sides for p in pair if p.role is PanelRole.BAND))
    once = {likeness(seam.name, panels): long.get(seam.name, 0.0) for seam in seams}
    valley = any(
        edge.role is LineRole.VALLEY for pair in sides for p in pair for edge in p.rim if edge.seam == seams[0].name
    )
    stage, ring = seam_stage(seams[0], panels), closes_ring(seams[0], panels)
    return SeamGroup(stage, steps[0], joined, bands, tuple(once.values()), valley, ring)


def closes_ring(seam: Seam, panels: Mapping[str, Panel]) -> bool:
    """Whether a seam sews the two ends of one strip to each other; the two edges of a dart meet at its point."""
    if seam.a != seam.b:
        return False
    edges = [edge.vertices.tolist() for edge in panels[seam.a].rim if edge.seam == seam.name]
    return len(edges) == 2 and set(edges[0]).isdisjoint(edges[1])


def _plain(pad: BuiltPad, group: SeamGroup) -> WorkStep:
    """A step for seams that are no welted ones."""
    step, lengths = group.step, group.lengths_mm
    how = {
        0: "Close into a ring, end sewn to end, the"
        if group.ring
        else "Close the dart, from its mouth to its point, in the",
        1: "Join",
        2: "Sew from the centre mark to the corners,",
        BAND_STAGE: "Sew from the centre marks both ways,",
        4: "Sew on the fly,",
    }.get(group.stage, "Sew along the")
    if group.stage == BAND_STAGE and max(lengths) < SHORT_SEAM_MM:
        how = "Sew the short seams below the edge that close face and band,"
    details = []
    if group.valley:
        details.append("It lies in a valley: it takes the place of that valley's stitch line, backing and all.")
    if step.kind != PLAIN:
        row = " Sew the row now, before another seam crosses it." if step.rows > 1 else ""
        details.append(f"{step.kind[0].upper() + step.kind[1:]}: {step.words}.{row}")
    figures = tuple(StepFigure("length along the sew line", mm) for mm in lengths if mm)
    return WorkStep(
        sew_stage(pad), pad.pad.name, f"{how} {and_words(group.joined)}.", tuple(details), figures, (BLADES,)
    )


def pleat_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """The test strip, then the pleats, while the pieces still lie flat."""
    pleats = pad.pleats
    if pleats is None:
        return
    stage, name = sew_stage(pad), pad.pad.name
    asked = pleats.plan.pleats
    filling = asked.filling
    wide = pleats.figures[len(pleats.figures) // 2]
    if filling.take_up_measured is None and len(pleats.figures) > 1 and not _strip_sewn(pad):
        yield WorkStep(
            stage,
            name,
            f"Sew the test strip of {TEST_PLEATS} pleats and measure it between its outer stitch lines.",
            ("Write what it comes to into the sheet as take_up_measured and make the pieces again before you cut.",),
            (StepFigure("test strip between its outer lines, as reckoned", trial_finished_mm(pleats), found=True),),
            (BLADES,),
        )
    cut = cut_by_pleat(pad, job.flats)
    widths = [one.finished_mm for one in pleats.figures]
    every = span(number(min(widths), 1), number(max(widths), 1))
    filler = f"{number(filling.thickness, 1)} mm {'foam' if filling.filler == 'foam' else 'wadding'}"
    text = (
        f"Stitch {len(pleats.figures)} pleats through to their backing while the pieces lie flat, filler strips of "
        f"{filler} between, from the centre outward."
    )
    details: tuple[str, ...] = (f"Finished widths in the middle of their length {every} mm.",)
    eased = [end.ease_mm for end in pleat_ends(pad, job.flats) if end.ease_mm > 0.5]
    if eased:
        details += (f"At the ends {span(number(min(eased), 1), number(max(eased), 1))} mm are eased in on each edge.",)
    figures = (
        StepFigure("cut width of a middle pleat", cut[wide.index]),
        StepFigure("the same, stitched", wide.finished_mm, found=True),
    )
    yield WorkStep(stage, name, text, details, figures, (BLADES,))


def _strip_sewn(pad: BuiltPad) -> bool:
    """Whether the pad whose pleats these follow is filled alike, so that its test strip speaks for both."""
    leader, own = pad.pad.leader, pad.pad.pleats
    if leader is None or leader.pleats is None or own is None:
        return False
    one, two = leader.pleats.filling, own.filling
    return (one.filler, one.thickness, one.foam) == (two.filler, two.thickness, two.foam)


def welt_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """Welt is made up and sewn to the face first, run by run."""
    plan = welt(job)
    runs = [(key, run) for key, (name, run) in runs_of_welt(job).items() if name == pad.pad.name]
    if plan is None or not runs:
        return
    lengths = [plan.runs[key] for key, _ in runs]
    joined = sum(one.joins for one in lengths)
    # What needs no join is cut in one, and that is what one wants to read.
    whole = "in one length" if len(lengths) == 1 else "each run in one length"
    strips = f"Strip {number(plan.width_mm, 1)} mm wide, {_counted(joined, 'join') if joined else whole}"
    if joined:
        out = "it" if joined == 1 else "them"
        strips += f" on the bias: keep {out} out of corners and the middle of the front"
    if any(run.closed for _, run in runs):
        ends = f"Join its ends at the {join_side(pad.pad)}, {WELT_JOIN_OFF_MM:g} mm off a corner."
    elif pad.pad.on_frame:
        ends = "Begin and end it past the tack lines, so that its ends are fixed with the cover."
    else:
        ends = "Begin and end it beside the zip, its ends turned into the seam."
    where = "face" if pad.pad.closed is None else "plates"
    text = f"Make up the welt and sew it to the {where}, {_runs(lengths)}."
    details = (
        f"{strips}. {ends}",
        "Four leathers meet in this seam: pare the allowances first.",
    )
    figures = tuple(
        StepFigure(
            "welt, cut" + (f", run {k}" if len(runs) > 1 else ""), one.cut_mm, f"sewn {number(one.sewn_mm, 0)} mm"
        )
        for k, one in enumerate(lengths, start=1)
    )
    yield WorkStep(sew_stage(pad), pad.pad.name, text, details, figures, (BLADES,))


def _runs(lengths: Sequence[WeltLength]) -> str:
    return "in one run" if len(lengths) == 1 else f"in {len(lengths)} runs"


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" + ("" if count == 1 else "s")
