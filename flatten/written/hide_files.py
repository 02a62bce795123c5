"""Files of a layout on hides and of the order list, with what they add to the report and its page."""

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
from flatten.orders.prices import price_table, priced
from flatten.orders.words import order_csv, order_rows, order_section
from meshes.base.problems import Problem
from meshes.folder.names import file_names
from meshes.folder.output import REPORT, OutputFolder

HIDE_FILES = (
    *("layout.json", "order.csv", "hide *.dxf", "hide *.svg", "hide *.png", "hide *.pdf"),
    *("roll of *.dxf", "roll of *.svg", "roll of *.png", "roll of *.pdf"),
)


@dataclass(frozen=True, eq=False)
class HideFiles:
    """files: by name; keys: of the report; parts: of its page, each a key, a title and a body."""

    files: Mapping[str, bytes]
    keys: Mapping[str, Any]
    parts: tuple[tuple[str, str, Markup], ...]


def hide_files(job: Job, laid: LaidHides | None, *, flesh_up: bool) -> HideFiles:
    """Everything that is written about hides and order. laid: None for a sheet without hides. Raises ProblemError
    for a price table that cannot be read."""
    if laid is not None:
        job = replace(job, rolled_mm=laid.rolled_mm)
    lines = priced(order_lines(job, {} if laid is None else yields_of(laid)), price_table(job.sheet))
    files = {"order.csv": order_csv(lines, job.sheet)}
    keys: dict[str, Any] = {"order": order_rows(lines)}
    order = ("order", "Order list", order_section(lines, job.sheet))
    if laid is None:
        return HideFiles(files, keys, (order,))
    for number in laid.used:
        files |= _one_hide(job, laid, number, flesh_up)
    files["layout.json"] = layout_json(laid)
    keys["hides"] = hide_rows(laid)
    return HideFiles(
        files, keys, (("hides", "Where pieces come from", hides_section(laid, unit=job.sheet.unit)), order)
    )


def stale_report(folder: OutputFolder) -> tuple[Problem, ...]:
    """A note where the report in a folder is of `make` and so shows another layout than the one just written."""
    if folder.owner(REPORT) != "make":
        return ()
    text = "still shows the layout of trimloft make; cut by the plans and layout.json, or make once more"
    return (Problem("H012", "report.html", text, folder.shown, warning=True),)


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
