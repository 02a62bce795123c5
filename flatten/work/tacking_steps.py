"""Steps on the frame: the cover laid on by its marks, springs held down, edges fixed from the centre outward, corners
last, flies, hand-closed edges, and a second look after it has rested.

That a cover is fixed from the centre marks outward with the corners last, and looked at again after a night, is common
practice without a source.
"""

from collections.abc import Iterator, Sequence

from flatten.corners.lines import opens_to
from flatten.corners.words import HOW
from flatten.edges.fixings import FIXED_HOW, rings_for
from flatten.held.corner_posts import corner_words
from flatten.job.pipeline import Job
from flatten.orders.order import STAPLES_APART_MM
from flatten.work.heights import heights_of
from flatten.work.loads import HAND_LONG_MM, HAND_WIDE_MM, SpringLoad, spring_load
from flatten.work.padding_steps import OFF_MM, uncut_pad
from flatten.work.slack import PulledEdge, pulled_edges
from flatten.work.steps import ADHESIVE, BLADES, SPRINGS, StepFigure, WorkStep, force_words
from meshes.base.files import number
from meshes.records.corners import CornerFinish
from meshes.records.frame import BY_HAND, FIXED, FLY, STAPLED
from meshes.seat.build import BuiltPad
from meshes.seat.lineup import line_up

# An edge's pull is told on so much of its width.
WIDTH_TOLD_MM = 100.0
_HAND = FIXED[BY_HAND]
# Less than this is not told of a line that fitting moved.
FITTING_TOLD_MM = 0.5
AFTER_FITTING = (
    "Where fitting moved a line, the figure is that of the corrected pieces on the seat as computed; what the dry fit "
    "showed on the seat itself counts more."
)
# Edges fixed while the cover is drawn, in the order of a job; closed by hand are those that come after.
_DRAWN = ("pulled", "glued", "ringed", "clipped", "corded", "blind")


def fit_stage(pad: BuiltPad) -> str:
    """What the heading over the fitting of a pad says."""
    return f"Fit the cover of the {pad.pad.name}"


def tacking_steps(job: Job, pad: BuiltPad) -> Iterator[WorkStep]:
    """Everything from the finished cover to the seat that is looked at again."""
    edges = pulled_edges(job, pad)
    yield _laid_on(job, pad)
    yield from _held_down(uncut_pad(job, pad))
    yield from _fixed(pad, edges)
    yield from _corners(pad)
    yield from _posts(pad)
    yield from _by_hand(job, pad, edges)
    yield from looked_at_again(uncut_pad(job, pad))


def _laid_on(job: Job, pad: BuiltPad) -> WorkStep:
    """The cover comes to lie by its marks and its edge line before anything is pulled."""
    details = []
    sides = [pad.pad.side_word(name) for name in ("front", "rear", "right", "left") if pad.pad.sides[name].band]
    if any(side.band and side.welt for side in pad.pad.sides.values()):
        details.append("Turn the allowances of the welted seam down over the edge; the welt lies along it, all round.")
    elif sides:
        details.append("Turn the allowances down over the edge and set the seam along it, all round.")
    text = "Lay the cover on: its centre marks on the centre lines of the frame, then its seams along the edges."
    if not sides:
        text = "Lay the cover on: its centre marks on the centre lines of the frame; nothing is pulled yet."
    met = [one for one in line_up(job.pads) if pad.pad.leader is not None and pad.pad.name in (one.a, one.b)]
    if met and pad.pad.leader is not None:
        details.append(f"Set its valleys on those of the {pad.pad.leader.name}, from the centre outward.")
    figures: tuple[StepFigure, ...] = ()
    if met and pad.pad.leader is not None:
        worst = max(abs(one.offset_mm) for one in met)
        figures = (StepFigure("valleys miss each other by at most", worst),)
    return WorkStep(fit_stage(pad), pad.pad.name, text, tuple(details), figures)


def _held_down(pad: BuiltPad) -> Iterator[WorkStep]:
    """How far springs are pressed while the cover is fixed, and with what force."""
    load = spring_load(pad)
    if load is None:
        return
    if not load.give:
        held = (
            f"the twine holds the springs with {number(load.twine_kpa, 1)} kPa, more than the cover presses there"
            if load.twine_kpa > 0.0
            else "they are firmer than the cover's pull"
        )
        text = f"Press the padding down with a padded board while you tack; the springs stay where they are: {held}."
        figures: tuple[StepFigure, ...] = (
            *_under_a_hand(load),
            StepFigure("the cover presses down on the whole pad, edges included", load.cover_n, unit="N"),
        )
        yield WorkStep(fit_stage(pad), pad.pad.name, text, (), figures, (SPRINGS,))
        return
    area = f"{load.area_mm2 / 1e6:.2f} m²"
    yield WorkStep(
        fit_stage(pad),
        pad.pad.name,
        "Hold the springs down with a padded board and clamps while you tack, so that the cover is not pulled against "
        "them.",
        (f"So far they stay down under the finished cover; the force is that of the springs over {area}.",),
        (
            StepFigure("springs pressed, in the mean", load.mean_mm),
            StepFigure("springs pressed, where most", load.most_mm),
            StepFigure("force on the springs in all", load.springs_n, unit="N"),
            StepFigure("the cover presses down on the whole pad, edges included", load.cover_n, unit="N"),
        ),
        (SPRINGS,),
    )


def _under_a_hand(load: SpringLoad) -> Iterator[StepFigure]:
    """How far and how hard a hand presses padding that lies on springs which stay, and from where they would give."""
    hand = f"a flat hand, {HAND_WIDE_MM:g} x {HAND_LONG_MM:g} mm,"
    yield StepFigure(
        "a flat hand presses the padding down by, in the mean", load.hand_mm, "to where the cover holds it"
    )
    yield StepFigure(f"{hand} does that with", load.hand_n, unit="N")
    if load.give_n > 0.0:
        yield StepFigure(f"{hand} presses the springs too only with more than", load.give_n, unit="N")


def _fixed(pad: BuiltPad, edges: Sequence[PulledEdge]) -> Iterator[WorkStep]:
    """All edges that are drawn: two opposite centres first, then outward, side by side."""
    drawn = [edge for edge in edges if edge.kind in _DRAWN]
    if not drawn:
        return
    words = list(dict.fromkeys(pad.pad.side_word(edge.side) for edge in drawn))
    # Only covers with folded corners carry a mark in the middle of the right and the left.
    unmarked = {"right", "left"} & {*words} if not pad.division.folds else set()
    middle = ", there at the middle of the line" if unmarked else ""
    order = f"Fix the centre marks first, lightly: {_in_order(words)}{middle}; then go outward both ways, side against "
    order += "side"
    yield WorkStep(
        fit_stage(pad),
        pad.pad.name,
        f"{order}, the corners last.",
        (
            "Pull every mark from where the cover lies slack to its line, by the figure; the force is what the leather "
            "then carries. Pull by the marks, not by feel.",
            *_how_fixed(pad, drawn),
            *([AFTER_FITTING] if any(_moved(edge) for edge in drawn) else []),
        ),
        tuple(_edge_figure(pad, edge) for edge in drawn),
        (BLADES, *((ADHESIVE,) if any(edge.kind == "glued" for edge in drawn) else ())),
    )


def _in_order(words: Sequence[str]) -> str:
    pairs = [f"{a} and {b}" for a, b in (("front", "rear"), ("bottom", "top"), ("right", "left")) if {a, b} <= {*words}]
    rest = [word for word in words if not any(word in pair.split() for pair in pairs)]
    # One side of two that are alike stands for both.
    rest = [f"{word} and left" if word == "right" else word for word in rest]
    return ", then ".join([*pairs, *rest])


def _how_fixed(pad: BuiltPad, edges: Sequence[PulledEdge]) -> Iterator[str]:
    kinds = dict.fromkeys(edge.kind for edge in edges)
    if "pulled" in kinds:
        under = f", {pad.pad.fixings.under:g} mm in under the board" if pad.pad.fixings.of("front") == STAPLED else ""
        yield f"Tacks or staples about every {number(STAPLES_APART_MM, 0)} mm on the tack line{under}."
    if "ringed" in kinds:
        rings = sum(rings_for(edge.length_mm) * (2 if edge.twin else 1) for edge in edges if edge.kind == "ringed")
        long = sum(edge.length_mm * (2 if edge.twin else 1) for edge in edges if edge.kind == "ringed")
        yield f"Listing wire, {number(long, 0)} mm in all, with {rings} hog rings."
    if "corded" in kinds:
        yield "Draw the cord last of these, tie it, and tuck its ends in."
    if "blind" in kinds:
        yield "Blind-tack over a tacking strip; that edge comes first on its side, its face down."


def _edge_figure(pad: BuiltPad, edge: PulledEdge) -> StepFigure:
    several = sum(1 for panel in pad.panels for rim in panel.rim if rim.seam is None and rim.side == edge.side) > 1
    name = f"{edge.name}, {edge.panel}" if several else edge.name
    if edge.twin:
        name += " and its mirror image" if edge.side in ("front", "rear") else " and left"
    return edge_figure(name, edge)


def edge_figure(name: str, edge: PulledEdge) -> StepFigure:
    """How far an edge is pulled, as the pieces are after any fitting; where they are longer than the seat then, by how
    much."""
    force = force_words(max(edge.pull_n_per_mm, 0.0) * WIDTH_TOLD_MM)
    how = "" if edge.kind == "pulled" else f"{FIXED_HOW[edge.kind]}, "
    long, seat = number(edge.length_mm, 0), number(edge.seat_mm, 0)
    both = f"{long} mm long" if long == seat else f"{long} mm long slack and {seat} mm on the seat"
    note = f"{how}{both}, {force} on every {WIDTH_TOLD_MM:g} mm"
    if not _moved(edge):
        return StepFigure(name, edge.slack_mm, f"from slack; {note}")
    way = f"{'let out' if edge.let_out_mm > 0 else 'taken in'} by {number(abs(edge.let_out_mm), 1)} mm in all layers"
    note = f"{number(edge.slack_mm, 1)} mm before fitting, {way} since; {note}"
    left = edge.slack_mm - edge.let_out_mm
    if left < 0.0:
        return StepFigure(f"{name}: longer than the seat as computed, by", -left, note)
    return StepFigure(name, left, f"from slack; {note}")


def _moved(edge: PulledEdge) -> bool:
    """Whether fitting moved a line on the way to an edge by what a tape shows."""
    return abs(edge.let_out_mm) >= FITTING_TOLD_MM


def _corners(pad: BuiltPad) -> Iterator[WorkStep]:
    """Corners are done when all that runs straight is fixed."""
    folds = [fold for fold in pad.division.folds if fold.finish is not CornerFinish.CUT]
    if not folds:
        return
    told: dict[str, list[str]] = {}
    for fold in folds:
        opens = f", open to the {opens_to(fold.corner)}" if fold.finish is CornerFinish.SINGLE else ""
        words = f"{HOW[fold.finish]}{opens}, {number(fold.depth_mm, 0)} mm deep"
        told.setdefault(words, []).append(fold.name.removesuffix(" fold"))
    details = tuple(f"{' and '.join(names)} corner: {words}.".capitalize() for words, names in told.items())
    yield WorkStep(
        fit_stage(pad),
        pad.pad.name,
        "Now the corners: lay the folds along their lines and fix them, cut the relief only when the corner is pulled.",
        details,
        (),
        (BLADES,),
    )


def _posts(pad: BuiltPad) -> Iterator[WorkStep]:
    """Cuts at posts and flies pulled through, where there are any."""
    posts, flies = pad.pad.fixings.posts, [side for side, word in pad.pad.fixings.sides if word == FLY]
    yield from _corner_posts(pad)
    if posts:
        yield WorkStep(
            fit_stage(pad),
            pad.pad.name,
            f"Cut in for the post{'s' if len(posts) > 1 else ''} at the "
            f"{' and '.join(dict.fromkeys(pad.pad.side_word(post.side) for post in posts))}, along the lines of short "
            "dashes, a little at a time.",
            ("Stop at the round ends of the cuts; a cut too far cannot be mended.",),
            tuple(
                StepFigure(
                    f"post at the {pad.pad.side_word(post.side)}, {post.at:g} mm, as far below the padded edge",
                    pad.pad.fixings.post_down(post),
                )
                for post in posts
            ),
            (BLADES,),
        )
    if flies:
        words = " and ".join(dict.fromkeys(pad.pad.side_word(side) for side in flies))
        yield WorkStep(
            fit_stage(pad), pad.pad.name, f"Draw the fly at the {words} through the crease and fix it to the frame."
        )


def _corner_posts(pad: BuiltPad) -> Iterator[WorkStep]:
    """Cuts at posts in corners and against them."""
    posts = pad.pad.fixings.corner_posts
    if not posts:
        return
    where = " and ".join(corner_words(pad.pad, post) for post in posts)
    details = ["Stop at the round ends of the cuts; a cut too far cannot be mended."]
    if any(post.through for post in posts):
        details.insert(0, "Fold the corner of the leather back to the post first, so that the cut runs straight at it.")
        details.append("Cut the padding out round the post; turn both flaps under along its faces and fix them below.")
    words = f"Cut in for the post{'s' if len(posts) > 1 else ''} at the {where}, along the lines of short dashes, "
    words += "a little at a time."
    yield WorkStep(fit_stage(pad), pad.pad.name, words, tuple(details), (), (BLADES,))


def _by_hand(job: Job, pad: BuiltPad, edges: Sequence[PulledEdge]) -> Iterator[WorkStep]:
    """Edges that are turned in and closed with a needle, when everything else is fixed."""
    closed = [edge for edge in edges if edge.kind == _HAND]
    if closed:
        yield WorkStep(
            fit_stage(pad),
            pad.pad.name,
            f"Turn in {number(job.sheet.allowance.closed, 0)} mm and close by hand: "
            f"{' and '.join(dict.fromkeys(pad.pad.side_word(edge.side) for edge in closed))}.",
            (),
            tuple(_edge_figure(pad, edge) for edge in closed),
            (BLADES,),
        )


def looked_at_again(pad: BuiltPad) -> Iterator[WorkStep]:
    """The heights under the fitted cover."""
    places = [one for one in heights_of(pad) if one.settled_mm is not None]
    if places:
        yield WorkStep(
            fit_stage(pad),
            pad.pad.name,
            "Let it rest over night, then look again: seams along the edges, no slack, heights with the ruler.",
            (f"Where a height is off by more than {OFF_MM:g} mm, the padding or the pull is not as reckoned.",),
            tuple(
                StepFigure(one.name, one.settled_mm or 0.0, f"before the cover {number(one.free_mm, 1)} mm", True)
                for one in places
            ),
        )
