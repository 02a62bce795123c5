"""Files of a layout on hides and of the order list, with what they add to the report and its page."""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from flatten.draw.imprint import imprint_of
from flatten.hides.figures import hide_rows, layout_json, yields_of
from flatten.hides.full_size import hide_dxf, hide_svg
from flatten.hides.laid_cut import LaidHides
from flatten.hides.plan import hide_plan_drawing
from flatten.hides.plan_pdf import hide_plan_pdf
from flatten.hides.words import hides_section
from flatten.job.pipeline import Job
from flatten.orders.order import order_lines
from flatten.orders.prices import price_table, priced, unused_prices
from flatten.orders.words import order_csv, order_rows, order_section
from meshes.base.problems import Problem
from meshes.folder.names import file_names
from meshes.folder.output import REPORT, OutputFolder

# Every file of one run of `make` has the revision of its sheet; this is the one that is quick to read.
CUT_LIST = "cutlist.csv"
HIDE_FILES = (
    *("layout.json", "order.csv", "hide *.dxf", "hide *.svg", "hide *.png", "hide *.pdf"),
    *("roll of *.dxf", "roll of *.svg", "roll of *.png", "roll of *.pdf"),
)


@dataclass(frozen=True, eq=False)
class HideFiles:
    """files: by name; keys: of the report; parts: of its page, each a key, a title and a body; notes: rows of the price
    table that price nothing."""

    files: Mapping[str, bytes]
    keys: Mapping[str, Any]
    parts: tuple[tuple[str, str, Markup], ...]
    notes: tuple[Problem, ...] = ()


def hide_files(job: Job, laid: LaidHides | None, *, flesh_up: bool) -> HideFiles:
    """Everything that is written about hides and order. laid: None for a sheet without hides. Raises ProblemError
    for a price table that cannot be read."""
    if laid is not None:
        job = replace(job, rolled_mm=laid.rolled_mm)
    prices = price_table(job.sheet)
    lines = priced(order_lines(job, {} if laid is None else yields_of(laid)), prices)
    notes = unused_prices(lines, prices, job.sheet)
    files = {"order.csv": order_csv(lines, job.sheet)}
    keys: dict[str, Any] = {"order": order_rows(lines)}
    order = ("order", "Order list", order_section(lines, job.sheet))
    if laid is None:
        return HideFiles(files, keys, (order,), notes)
    for number in laid.used:
        files |= _one_hide(job, laid, number, flesh_up)
    files["layout.json"] = layout_json(laid)
    keys["hides"] = hide_rows(laid)
    where = ("hides", "Where pieces come from", hides_section(laid, unit=job.sheet.unit))
    return HideFiles(files, keys, (where, order), notes)


def stale_report(folder: OutputFolder, revision: str) -> tuple[Problem, ...]:
    """A note where the report in a folder is of `make` and so shows another layout than the one just written; where its
    papers are of another revision of the sheet than this one, that their pieces are not those of the layout."""
    if folder.owner(REPORT) != "make":
        return ()
    there = _revision_there(folder)
    if there and revision and there != revision:
        text = (
            f"the papers there are of revision {there} of the sheet, this layout is of revision {revision}: their "
            "pieces are others; run trimloft make into this folder again before anything is drawn round or cut"
        )
        return (Problem("H021", "patterns.pdf", text, folder.shown, warning=True),)
    text = "still shows the layout of trimloft make; cut by the plans and layout.json, or make once more"
    return (Problem("H012", "report.html", text, folder.shown, warning=True),)


def _revision_there(folder: OutputFolder) -> str:
    """The revision mark of the cut list that `make` wrote; empty where it has none that can be read."""
    if folder.owner(CUT_LIST) != "make":
        return ""
    try:
        text = (folder.place / CUT_LIST).read_text(encoding="utf-8")
        return next(iter(csv.DictReader(io.StringIO(text, newline=""))), {}).get("revision") or ""
    except (OSError, UnicodeDecodeError, csv.Error):
        return ""


def replaced_layout(folder: OutputFolder) -> tuple[Problem, ...]:
    """A note where `make` is about to put its layout in the place of one that was sought by `hide`."""
    if folder.owner("layout.json") != "hide":
        return ()
    text = "the layout that trimloft hide had found there was replaced by that of trimloft make"
    return (Problem("H013", "layout.json", f"{text}; run trimloft hide again for it", folder.shown, warning=True),)


def _one_hide(job: Job, laid: LaidHides, number: int, flesh_up: bool) -> dict[str, bytes]:
    imprint, hide = imprint_of(job.sheet), laid.plan.hides[number]
    stems = [one.name for one in laid.plan.hides if one.roll == hide.roll]
    output, unit = job.sheet.output, job.sheet.unit
    plan = hide_plan_drawing(laid, number, flesh_up=flesh_up, unit=unit)
    drawn = {
        ".dxf": hide_dxf(laid, number, imprint, version=output.dxf, flesh_up=flesh_up),
        ".svg": hide_svg(laid, number, imprint, flesh_up=flesh_up),
        " plan.pdf": hide_plan_pdf(laid, number, imprint, page=output.page, flesh_up=flesh_up, unit=unit),
        " plan.png": plan.png(),
        " plan.svg": plan.svg().encode(),
    }
    before = "" if hide.roll else "hide "
    return {file_names(stems, suffix, prefix=before)[hide.name]: data for suffix, data in drawn.items()}
