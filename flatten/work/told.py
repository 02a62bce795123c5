"""The job sheet as a part of the report and as plain data."""

from typing import Any

from markupsafe import Markup

from flatten.figures.rounded import length
from flatten.report.markup import report_section
from flatten.work.steps import HOW_TO_USE, JobSheet, WorkStep, told_after


def job_section(sheet: JobSheet) -> Markup:
    """The part of the report: headings, steps with boxes to tick, figures with room for what is found. Lengths are in
    mm: the page itself turns them into what its shop's tape has."""
    stages = [(head, [_shown(sheet, step) for step in steps]) for head, steps in sheet.stages]
    return report_section("job_sheet", how=HOW_TO_USE, stages=stages)


def _shown(sheet: JobSheet, step: WorkStep) -> dict[str, Any]:
    figures = [(one.what, one.amount_words("mm") + told_after(one), one.found) for one in step.figures]
    return {
        "number": step.number,
        "text": step.text,
        "details": step.details,
        "figures": figures,
        "cautions": sheet.cautions_at(step),
    }


def step_rows(sheet: JobSheet) -> list[dict[str, Any]]:
    """Every step for the report as plain data: amounts mm and N."""
    return [
        {
            "number": step.number,
            "stage": step.stage,
            "pad": step.part,
            "text": step.text,
            "details": list(step.details),
            "figures": [
                {
                    "what": one.what,
                    "amount": length(one.amount),
                    "unit": one.unit,
                    "note": one.note,
                    "to_be_found": one.found,
                }
                for one in step.figures
            ],
            "cautions": list(step.cautions),
        }
        for step in sheet.steps
    ]
