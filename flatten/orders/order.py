"""What to buy for a job, line by line, each with where its figure comes from."""

import math
from collections.abc import Iterator, Mapping, Sequence

from flatten.edges.fixings import rings_for
from flatten.foam.plan import SHEET_MM, Stock, totals
from flatten.job.pipeline import Job
from flatten.orders.lines import PRACTICE, OrderLine
from flatten.orders.thread import STITCHES_PER_INCH, THREAD_WASTE, lockstitch_ratio, thread_for, thread_use
from flatten.pieces.welt import USUAL_CORD_MM
from flatten.report.amounts import YIELDS, Lot, fittings, gross_area, lots, other_areas_mm2, welt
from flatten.report.cut_list import counted
from flatten.report.edge_lengths import edge_lengths
from meshes.base.files import number
from meshes.base.units import MM_PER_INCH, SAME_MM, SQUARE_FOOT_MM2
from meshes.seat.build import BuiltPad

# Staples are set so far apart (chair cushion stapling guide: 1 to 2 in), and so much of their edge is left at corners.
STAPLES_APART_MM = 1.5 * float(MM_PER_INCH)
# Edges that are stapled or tacked.
STAPLED = ("pulled", "stapled", "blind", "wrapped")
# Cloth over springs is turned in by this all round; needles of a job.
HESSIAN_TURN_MM, NEEDLES = 50.0, 5
# A zip's tape is longer than its opening by an allowance at both ends.
ZIP_ENDS_MM = 50.0


def order_lines(job: Job, yields: Mapping[str, float] | None = None) -> tuple[OrderLine, ...]:
    """All lines of the order. yields: share of the hides that ended up in pieces in a layout of this job, by the name
    of the leather; where there is none the rule of thumb for mixed pieces is taken."""
    return (
        *_leathers(job, yields or {}),
        *_cloths(job),
        *_padding(job),
        *_welt_lines(job),
        *_sewing(job),
        *_edges(job),
        *_zips(job),
    )


def _leathers(job: Job, yields: Mapping[str, float]) -> Iterator[OrderLine]:
    for lot in lots(job):
        name = lot.covering.card.name
        if lot.covering.roll is not None and lot.roll_mm is not None:
            how = "pieces laid out on" if name in job.rolled_mm else "boxes of the pieces in rows on"
            text = f"{how} roll {lot.covering.roll.width_mm:g} mm wide"
            yield OrderLine(name, "cover, by the metre", lot.roll_mm / 1000.0, "m", text)
            continue
        yield _hide_line(name, lot, yields.get(name))


def _hide_line(name: str, lot: Lot, measured: float | None) -> OrderLine:
    share = measured or sum(YIELDS) / len(YIELDS)
    how = "yield measured in the layout" if measured else "yield by rule of thumb (keleenleathers.com: 50 to 70 %)"
    net = lot.all_mm2
    gross = gross_area(net, share)
    text = f"{net / 1e6:.2f} m2 net at {100 * share:.1f} %, {how}; {gross / SQUARE_FOOT_MM2:.1f} sq ft"
    return OrderLine(name, "cover, by the hide", gross / 1e6, "m2", text)


def _cloths(job: Job) -> Iterator[OrderLine]:
    for (material, filler), area in other_areas_mm2(job).items():
        what = "fillers of pleats" if filler else "backing"
        yield OrderLine(material, what, area / 1e6, "m2", "pieces up to their cut lines; add what your roll wastes")
    area = sum(_hessian_mm2(pad) for pad in job.pads)
    if area:
        text = f"plan of sprung pads, {HESSIAN_TURN_MM:g} mm turned in all round ({PRACTICE})"
        yield OrderLine("hessian", "over springs", area / 1e6, "m2", text)


def _hessian_mm2(pad: BuiltPad) -> float:
    if pad.pad.springs is None:
        return 0.0
    corners = pad.surface.vertices[:, :2]
    wide, deep = corners.max(axis=0) - corners.min(axis=0)
    return float((wide + 2.0 * HESSIAN_TURN_MM) * (deep + 2.0 * HESSIAN_TURN_MM))


def _padding(job: Job) -> Iterator[OrderLine]:
    for one in totals(job.plans):
        rows = [row for plan in job.plans for row in plan.stock if row.material == one.material]
        thick, words = thickness_words(one.sheet_mm, rows)
        text = f"boxes of {counted(one.shapes, 'shape')} on sheets of {SHEET_MM[0]:g} x {SHEET_MM[1]:g} mm{words}"
        yield OrderLine(f"{one.material}{thick}", "padding", one.stock_sheets, "sheets", text)


def thickness_words(sheet_mm: float | None, rows: Sequence[Stock]) -> tuple[str, str]:
    """What follows a material's name and what follows its source: the thickness it is bought in, and that of layers
    that are cut down from it. rows: its stock, layer by layer."""
    if sheet_mm is None:
        asked = [f"{mm:g} mm" for mm in sorted({row.thickness_mm for row in rows if not row.sheets_mm})]
        name = f", {asked[0]}" if len(asked) == 1 else ""
        return name, f"; sold in thicknesses nobody named, needed: {', '.join(asked)}" if asked else ""
    own = [row for row in rows if sheet_mm in row.sheets_mm and sum(row.sheets_mm) > row.thickness_mm + SAME_MM]
    down = [f"{mm:g} mm" for mm in sorted({row.thickness_mm for row in own})]
    return f", {sheet_mm:g} mm", f"; taken down to {', '.join(down)}" if down else ""


def _welt_lines(job: Job) -> Iterator[OrderLine]:
    plan = welt(job)
    if plan is None:
        return
    text = f"{counted(len(plan.runs), 'run')} with corners and ends"
    yield OrderLine(f"welt cord {number(USUAL_CORD_MM, 1)} mm", "welt", plan.cut_mm / 1000.0, "m", text)
    what = f"welt strip, {number(plan.width_mm, 1)} mm wide"
    made = f"{counted(plan.strips, 'strip')}, {counted(plan.joins, 'join')}"
    text = f"2 a + pi (d + t); {made}; counted in the cover already"
    yield OrderLine(what, "welt", plan.cut_mm / 1000.0, "m", text)


def _sewing(job: Job) -> Iterator[OrderLine]:
    use = thread_use(job)
    for size, long in use.thread_mm.items():
        two = lockstitch_ratio(2.0 * job.leather.thickness_mm)
        text = (
            f"lockstitch 2 + 2 T S (textilecalculations.com) at {STITCHES_PER_INCH:g} stitches an inch, such as "
            f"{two:.2f} for two leathers; {use.seams_mm / 1000.0:.1f} m of rows; {100 * THREAD_WASTE:.0f} % waste"
        )
        yield OrderLine(f"thread {size}", "seams and rows", long / 1000.0, "m", text)
    size, needle = thread_for(job.leather.thickness_mm)
    text = f"for thread {size} (leatherworker.net); leather point: {PRACTICE}"
    yield OrderLine(f"needles {needle}, leather point", "sewing", NEEDLES, "pieces", text)


def _edges(job: Job) -> Iterator[OrderLine]:
    edges = edge_lengths(job)
    long = [edge.paper_mm for edge in edges if edge.kind in STAPLED]
    if long:
        count = sum(math.ceil(mm / STAPLES_APART_MM) + 1 for mm in long)
        text = f"{sum(long) / 1000.0:.1f} m of edges, one every {STAPLES_APART_MM:.0f} mm (stapling guide: 25 to 50)"
        yield OrderLine("staples or tacks", "outer edges", count, "pieces", text)
    ringed = [edge.paper_mm for edge in edges if edge.kind == "ringed"]
    if ringed:
        text = f"{counted(len(ringed), 'edge')} on listing wire, 50 to 75 mm apart (from memory)"
        yield OrderLine("hog rings", "outer edges", sum(map(rings_for, ringed)), "pieces", text)
    for one in fittings(job):
        yield OrderLine(one.name, one.words, one.length_mm / 1000.0, "m", "edges as long as on paper")


def _zips(job: Job) -> Iterator[OrderLine]:
    for pad in job.pads:
        if pad.closed is not None and pad.closed.zip_mm > 0.0:
            long = pad.closed.zip_mm + ZIP_ENDS_MM
            text = f"opening {pad.closed.zip_mm:.0f} mm, {0.5 * ZIP_ENDS_MM:g} mm more at both ends ({PRACTICE})"
            yield OrderLine("zip", pad.pad.name, long / 1000.0, "m", text)
