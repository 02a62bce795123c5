"""What the page's process does: look at a sheet in levels, write its papers, draw it, cut it open.

The functions run in a worker process, one at a time; they tell how far they have come, and end between two steps when
they are wanted no more. The last exact job is kept, so that papers and pictures of it need no second reckoning.
"""

import base64
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from flatten.bench.fit_tried import fit_tried
from flatten.bench.hides_shown import drawing_faults, hides_drawn, pieces_laid
from flatten.bench.seat_data import seat_bytes
from flatten.bench.seat_places import tapes_laid
from flatten.bench.told import answer_of, radius, section_rows
from flatten.hides.parted import made_for_other_hides, make_for_hides
from flatten.job.pipeline import Job
from flatten.kept.memory import MemoryStore
from flatten.kept.pool import Kept, kept_pool
from flatten.live.answers import Level, LiveTask
from flatten.live.levels import draft_answer, section_answer
from flatten.machine.worker import tell
from flatten.sections.drawing import section_drawing
from flatten.sections.section import cut_sheet, gauge_papers
from flatten.sheets.folder import SheetFolder
from meshes.base.problems import ProblemError
from meshes.base.progress import look_up
from meshes.folder.temporary import temporary_folder
from meshes.settle.section_line import Direction
from meshes.sheet.whole import Sheet

PRELOAD = "flatten.bench.process"
# Results of single stages that are kept for the next exact job, beside those of drafts.
RESULTS_BYTES = 128 << 20


@dataclass(frozen=True)
class BenchTask:
    """One sheet of the folder at a time. place: the folder; name: of the file; text: what it is to hold."""

    place: Path
    name: str
    text: str


# By the sheet, and by how the files that it names stand: other numbers of a leather are another job.
_results = Kept(MemoryStore(RESULTS_BYTES))
_kept: dict[tuple[BenchTask, object], Job] = {}


def done(asked: tuple[str, BenchTask, tuple[Any, ...]]) -> Any:
    """What one task comes to: its verb, the sheet, and what else it takes. Raises ProblemError, RefusedError, and
    Cancelled when it is wanted no more."""
    verb, task, more = asked
    verbs: dict[str, Any] = {"look": look, "papers": papers, "still": still, "section": section, "hides": hides}
    verbs |= {"fit": fit, "tapes": tapes, "drawn": drawn, "drawing": drawing, "compare": compare, "relief": relief}
    return verbs[verb](task, *more)


def look(task: BenchTask, level: str) -> dict[str, Any]:
    """A sheet at a level. section: rows of its usual cuts; draft and final: {answer, seat}."""
    sheet = _sheet(task)
    live = LiveTask(0, task.text, str(task.place / task.name), Level(level))
    if live.level is Level.SECTION:
        found = section_answer(live, sheet)
        return {"sections": section_rows(found.cuts, sheet.unit)}
    if live.level is Level.DRAFT:
        drawn = draft_answer(live, sheet)
        job = Job(drawn.sheet, drawn.leather, drawn.pads, drawn.flats, drawn.pieces, drawn.seams, drawn.problems,
                  drawn.seconds)  # fmt: skip
    else:
        job = _job(task)
    return {"answer": answer_of(job, level=level), "seat": seat_bytes(job)}


def papers(task: BenchTask, out: str, choices: dict[str, Any]) -> dict[str, Any]:
    """Everything `trimloft make` writes, into the folder `out` beside the sheet. choices: page, pictures, both,
    flesh_up."""
    # The papers load much that nothing else here needs.
    from flatten.orders.prices import price_table
    from flatten.written.choices import paper_named, seen_from_flesh
    from flatten.written.job_folder import write_job
    from flatten.written.writers import MAKE
    from meshes.folder.output import output_folder

    page = None if choices.get("page") is None else paper_named(str(choices["page"]))
    with output_folder(task.place / out, MAKE) as folder:
        price_table(_sheet(task))
        job = _job(task)
        job = seen_from_flesh(job) if choices.get("flesh_up") else job
        wants: dict[str, Any] = {"pictures": bool(choices.get("pictures", True)), "both": bool(choices.get("both"))}
        write_job(job, folder, page=page, say=_say, **wants)
    return {}


def hides(task: BenchTask, text: str) -> dict[str, Any]:
    """The pieces on the hides and rolls of a sheet, as `trimloft make` lays them: a plan of each, where every piece
    lies, what is told of it, and the order list. text: of the sheet with hides that are tried, the same otherwise.
    plans: none where the sheet has neither."""
    from flatten.hides.figures import yields_of
    from flatten.hides.laid import has_something_to_lay_on, lay_hides
    from flatten.hides.plan import hide_plan_drawing
    from flatten.hides.words import laid_text
    from flatten.orders.order import order_lines
    from flatten.orders.prices import price_table, priced
    from flatten.orders.words import order_rows

    tried = _sheet(replace(task, text=text))
    plans, words, yields, pieces = [], list[str](), {}, list[dict[str, Any]]()
    with kept_pool(_results) as pool:
        job = made_for_other_hides(_job(task), tried, partial(make_for_hides, progress=_say, workers=pool))
    if has_something_to_lay_on(job.sheet):
        _say("laying pieces out", 0, 1)
        laid = lay_hides(job)
        job, yields, words = (
            replace(job, rolled_mm=laid.rolled_mm),
            yields_of(laid),
            laid_text(laid, unit=job.sheet.unit).splitlines(),
        )
        for k in laid.used:
            plan = hide_plan_drawing(laid, k, unit=job.sheet.unit)
            plans.append({"name": laid.plan.hides[k].name, "plan": plan.svg()})
        pieces = pieces_laid(laid)
    lines = priced(order_lines(job, yields), price_table(job.sheet))
    found = {"revision": job.sheet.revision, "plans": plans, "words": words, "order": order_rows(lines)}
    return {**found, "pieces": pieces, "drawn": hides_drawn(job.sheet.hides.hides)}


def drawn(task: BenchTask) -> dict[str, Any]:
    """The hides of a sheet as they are, nothing laid on them."""
    return {"drawn": hides_drawn(_sheet(task).hides.hides)}


def drawing(task: BenchTask, suffix: str, data: bytes, scale: float) -> str:
    """What is wrong with a drawing that was sent, in words, empty for nothing. suffix: .svg or .dxf; scale: mm for one
    unit of it. It is read from a folder of its own that is gone afterwards."""
    with temporary_folder() as folder:
        path = folder / f"hide{suffix}"
        path.write_bytes(data)
        return drawing_faults(path, scale)


def still(task: BenchTask, show: str, side: str) -> bytes:
    """A still picture of the seat as PNG, for a browser that cannot draw it."""
    from flatten.seatview.pictures import png
    from flatten.seatview.scenes import scene
    from meshes.view.view import Shot, pictures

    return png(pictures([Shot(scene(_job(task), show), side)]).images[0])


def section(task: BenchTask, pad: str, direction: Direction, place_mm: float) -> dict[str, Any]:
    """A pad on a frame cut open at a place: its drawing, and gauges to print."""
    found = cut_sheet(_sheet(task), pad, (direction, place_mm), progress=_say)
    record = next(one for one in found.sheet.pads if one.name == pad)
    return {
        "drawing": section_drawing(record, found.cut, found.sheet.unit).svg(),
        "bare_mm": radius(found.cut.ridge_radius_bare_mm),
        "radius_mm": radius(found.cut.ridge_radius_mm),
        "side": found.cut.ridge.side,
        "gauges": base64.b64encode(gauge_papers(found).get("gauges.pdf", b"")).decode(),
    }


def fit(task: BenchTask, text: str) -> dict[str, Any]:
    """What a row of fitting does to the pieces. text: of the sheet with the row, which is not saved."""
    return fit_tried(_job(task), _sheet(replace(task, text=text)))


def tapes(task: BenchTask, text: str) -> dict[str, Any]:
    """Tapes over the seat as lines, held against what is computed there. text: of the sheet with one more, not saved.
    Tapes over a cover need the exact seat, the others no more than the sheet."""
    sheet = _sheet(replace(task, text=text))
    covered = _job(task).before_cuts.pads if any(one.over == "cover" for one in sheet.controls) else ()
    return tapes_laid(sheet, covered)


def compare(task: BenchTask, texts: tuple[tuple[str, str], ...]) -> dict[str, Any]:
    """Variants beside each other, each a whole job. texts: name and text of each, the first as the sheet is now."""
    from flatten.bench.choices import compared, refused_variant, variant_of

    found = []
    for k, (name, text) in enumerate(texts):
        _say(f"working out {name}", k, len(texts))
        try:
            with kept_pool(_results) as pool:
                found.append(
                    variant_of(name, make_for_hides(_sheet(replace(task, text=text)), progress=_say, workers=pool))
                )
        except ProblemError as fault:
            found.append(refused_variant(name, fault.problems))
    return compared(found, _sheet(task).unit)


def relief(task: BenchTask, panel: str) -> dict[str, Any]:
    """Darts and seams that would help one panel."""
    from flatten.bench.choices import reliefs

    return reliefs(_job(task), panel, _say)


def _sheet(task: BenchTask) -> Sheet:
    return SheetFolder(task.place).sheet(task.name, task.text)


def _job(task: BenchTask) -> Job:
    """The exact job, as `trimloft make` does it. What a change does not reach is not computed again."""
    key = (task, SheetFolder(task.place).named_stamps(task.name, task.text))
    if key not in _kept:
        with kept_pool(_results) as pool:
            job = make_for_hides(_sheet(task), progress=_say, workers=pool)
        _kept.clear()
        _kept[key] = replace(job)
    return _kept[key]


def _say(doing: str, done: int, of: int) -> None:
    look_up()
    tell((doing, done, of))
