"""The report page's part about what to buy: leather, welt, padding, backing and fillers, all figures from one place."""

from markupsafe import Markup

from flatten.job.pipeline import Job
from flatten.pieces.welt import USUAL_CORD_MM
from flatten.report.amounts import (
    YIELDS,
    Lot,
    fittings,
    gross_area,
    lots,
    other_areas_mm2,
    runs_of_welt,
    welt,
)
from flatten.report.markup import fixed, joined_up, table
from flatten.report.padding import stock_table
from meshes.base.files import number
from meshes.base.units import SQUARE_FOOT_MM2


def buying_section(job: Job) -> Markup:
    """Tables of all that is bought by area or length."""
    return joined_up([_leather(job), _welt(job), _fittings(job), stock_table(job), _others(job)])


def _leather(job: Job) -> Markup:
    return joined_up([_lot(job, lot) for lot in lots(job)])


def _lot(job: Job, lot: Lot) -> Markup:
    """What is cut from one leather or roll, and what to buy of it."""
    rows = [["pieces up to the cut lines", *_area(lot.pieces_mm2)]]
    plan, roll = welt(job), lot.covering.roll
    if plan is not None and lot.welt_mm2 > 0.0:
        rows.append([f"strips for {number(plan.sewn_mm, 1)} mm of welt", *_area(lot.welt_mm2)])
    if lot.test_mm2:
        rows.append(["test strips of pleats", *_area(lot.test_mm2)])
    if roll is not None and lot.roll_mm is not None:
        words = f"to buy: {fixed(lot.roll_mm / 1000.0, 2)} m of roll {roll.width_mm:g} mm wide"
        wide = f"; part what is wider: {', '.join(lot.wide)}" if lot.wide else ""
        rows.append([words + wide, *_area(lot.roll_mm * roll.width_mm)])
    else:
        for share in YIELDS:
            words = f"to buy when {100 * share:.0f} % of the hide is used"
            rows.append([words, *_area(gross_area(lot.all_mm2, share))])
    caption = "Leather" if roll is None else "Roll goods"
    return table([lot.covering.card.name, "m²|", "sq ft|"], rows, caption=caption, kind="small")


def _welt(job: Job) -> Markup:
    """Every run with its joins; the strip is of the leather above."""
    plan, runs = welt(job), runs_of_welt(job)
    if plan is None:
        return Markup("")
    rows = [
        [
            name,
            ", ".join(runs[name][1].seams),
            fixed(length.sewn_mm),
            fixed(length.cut_mm),
            str(length.strips),
            "none" if not length.joins else str(length.joins),
        ]
        for name, length in plan.runs.items()
    ]
    head = [
        "run",
        "along",
        "as sewn mm|",
        "to cut mm|",
        f"strips of {number(plan.strip_mm / 1000.0, 1)} m|",
        "bias joins|",
    ]
    caption = (
        f"Welt: cord of {number(USUAL_CORD_MM, 1)} mm as long as to cut, in strips {number(plan.width_mm, 1)} mm wide; "
        "joins out of sight, 50 mm off corners"
    )
    return table(head, rows, caption=caption, kind="small", unit=job.sheet.unit)


def _fittings(job: Job) -> Markup:
    """Wire, clip and cord."""
    rows = [[one.name, one.words, fixed(one.length_mm, 0)] for one in fittings(job)]
    caption = "For outer edges, in all"
    return table(["", "for", "mm|"], rows, caption=caption, kind="small", unit=job.sheet.unit) if rows else Markup("")


def _others(job: Job) -> Markup:
    """Backing and fillers by material."""
    areas = other_areas_mm2(job)
    if not areas:
        return Markup("")
    rows = [[name, "filler" if filler else "backing", fixed(mm2 / 1e6, 2)] for (name, filler), mm2 in areas.items()]
    caption = "Under the pleats, test strips included; net, add what your roll or sheet wastes"
    return table(["material", "what for", "m²|"], rows, caption=caption, kind="small", unit=job.sheet.unit)


def _area(mm2: float) -> list[str]:
    return [fixed(mm2 / 1e6, 2), fixed(mm2 / SQUARE_FOOT_MM2)]
