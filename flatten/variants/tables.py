"""Variants side by side: lines of text, a page, and plain data."""

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from flatten.paper.cautions import CAUTIONS
from flatten.report.markup import item_list, joined_up, part, table, whole_page
from flatten.variants.many import Variant
from flatten.variants.measures import Measure
from meshes.folder.output import OutputFolder, Writer
from meshes.folder.report_head import json_text, problem_rows, report_head

COMPARE = Writer("compare", "trimloft compare", ("compare.html", "compare.json"))
# Figures that are the same in all variants are left out of text and page; the data have them.
_MARK = "*"


def rows_of(variants: Sequence[Variant], *, every: bool = False) -> list[tuple[str, list[Measure]]]:
    """Figures by name over all variants that are not refused; every: also those that are the same in all."""
    sound = [one for one in variants if not one.refused]
    names = dict.fromkeys(name for one in sound for name in one.measures)
    rows = [(name, [one.measures.get(name, Measure(None)) for one in variants]) for name in names]
    return [row for row in rows if every or _moves(row[1], variants)]


def _moves(values: Sequence[Measure], variants: Sequence[Variant]) -> bool:
    shown = [value for value, one in zip(values, variants, strict=True) if not one.refused]
    return any(shown[0].differs(value) for value in shown[1:])


def compared_text(variants: Sequence[Variant]) -> str:
    """The table as lines of text; variants are numbered, as their names are long. Figures that differ from those of the
    first are marked."""
    lines = [f"  {k}: {one.name}" for k, one in enumerate(variants, 1)]
    for k, one in enumerate(variants, 1):
        lines += [f"  {k} is refused: {problem}" for problem in one.refused]
    rows = rows_of(variants)
    if not rows:
        return "\n".join([*lines, f"  {_alike(variants)}"])
    wide = max(len(name) for name, _ in rows)
    cells = [[_cell(value, values[0]) for value in values] for _, values in rows]
    widths = [max(len(row[k]) for row in cells) for k in range(len(variants))]
    head = "  ".join(f"{k:>{width}}" for k, width in enumerate(widths, 1))
    lines.append(f"  {'':<{wide}}  {head}")
    for (name, _), row in zip(rows, cells, strict=True):
        lines.append(f"  {name:<{wide}}  " + "  ".join(f"{cell:>{w}}" for cell, w in zip(row, widths, strict=True)))
    return "\n".join(lines)


def _alike(variants: Sequence[Variant]) -> str:
    """What is told instead of a table that would be empty."""
    refused = sum(bool(one.refused) for one in variants)
    if len(variants) - refused < 2:
        return "nothing to compare: only one of them was worked out, the others are refused"
    return "no figure differs" + (" between those that are not refused" if refused else "")


def _cell(value: Measure, first: Measure) -> str:
    return f"{value}{_MARK if value.differs(first) else ' '}"


def compared_page(variants: Sequence[Variant], name: str) -> str:
    """A page of its own with the table, what is refused, and the usual cautions."""
    rows = [[what, *(_cell(value, values[0]).strip() for value in values)] for what, values in rows_of(variants)]
    head = ["", *(f"{k}|" for k in range(1, len(variants) + 1))]
    caption = f"what differs; {_MARK} differs from the first"
    parts = [
        item_list([f"{k}: {one.name}" for k, one in enumerate(variants, 1)]),
        table(head, rows, caption=caption) if rows else part("paragraph", f"{_alike(variants).capitalize()}."),
    ]
    refused = [f"{k}: {problem}" for k, one in enumerate(variants, 1) for problem in one.refused]
    parts += [part("paragraph", "Refused:"), item_list(refused)] if refused else []
    parts.append(item_list([str(caution) for caution in CAUTIONS]))
    return whole_page("compare.html", title=f"{name}: variants", heading=name, body=Markup(joined_up(parts)))


def compared_json(variants: Sequence[Variant]) -> str:
    """All figures of all variants as JSON text; lengths mm, areas m², shares per cent."""
    rows: list[dict[str, Any]] = [
        {
            "name": one.name,
            "figures": {name: {"value": value.value, "unit": value.unit} for name, value in one.measures.items()},
            "refused": problem_rows(one.refused),
            "problems": problem_rows(one.told),
        }
        for one in variants
    ]
    return json_text({**report_head(), "variants": rows, "cautions": list(CAUTIONS)})


def write_compared(variants: Sequence[Variant], name: str, folder: OutputFolder) -> tuple[Any, ...]:
    """Write compare.html and compare.json; returns warnings about the folder."""
    files = {"compare.html": compared_page(variants, name).encode(), "compare.json": compared_json(variants).encode()}
    return folder.write(files)
