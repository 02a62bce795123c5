"""The order list as a table any spreadsheet reads, and as a part of the report."""

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from markupsafe import Markup

from flatten.figures.rounded import length
from flatten.orders.lines import OrderLine, total_cost
from flatten.report.cut_list import harmless
from flatten.report.markup import table
from meshes.base.files import number
from meshes.base.units import in_shop_unit
from meshes.sheet.whole import Sheet

ORDER_COLUMNS = ("item", "for", "quantity", "unit", "where from", "price", "cost", "job", "revision")


def order_csv(lines: Sequence[OrderLine], sheet: Sheet) -> bytes:
    """The order list as UTF-8 text (RFC 4180); its last row sums up what has a price. Where figures come from is told
    as the shop's tape has it; items, quantities and units stay as price tables have them."""
    text = io.StringIO(newline="")
    out = csv.writer(text, lineterminator="\r\n")
    out.writerow(ORDER_COLUMNS)
    for line in lines:
        told = _cells(replace(line, source=in_shop_unit(line.source, unit=sheet.unit)))
        out.writerow([harmless(cell) for cell in (*told, sheet.name, sheet.revision)])
    if any(line.price is not None for line in lines):
        missing = sum(line.price is None for line in lines)
        words = f"{missing} lines without a price" if missing else "all lines"
        cost = number(total_cost(tuple(lines)), 2)
        out.writerow(["total", words, "", "", "", "", cost, harmless(sheet.name), sheet.revision])
    return text.getvalue().encode()


def _cells(line: OrderLine) -> list[str]:
    price = "" if line.price is None else number(line.price, 2)
    cost = "" if line.cost is None else number(line.cost, 2)
    return [line.item, line.what_for, number(line.quantity, 2), line.unit, line.source, price, cost]


def order_rows(lines: Sequence[OrderLine]) -> list[dict[str, Any]]:
    """The order for the report as plain data."""
    return [
        {
            "item": line.item,
            "for": line.what_for,
            "quantity": length(line.quantity),
            "unit": line.unit,
            "source": line.source,
            "price": None if line.price is None else length(line.price),
            "cost": None if line.cost is None else length(line.cost),
        }
        for line in lines
    ]


def order_section(lines: Sequence[OrderLine], sheet: Sheet) -> Markup:
    """The report's part with the order list."""
    some = any(line.price is not None for line in lines)
    head = ["item", "for", "quantity|", "unit", "where the figure comes from", *(["price|", "cost|"] if some else [])]
    rows = [cells if some else cells[:5] for cells in map(_cells, lines)]
    if some:
        rows.append(["total", "", "", "", "", "", number(total_cost(tuple(lines)), 2)])
    return table(head, rows, caption="Order list", kind="small", unit=sheet.unit)
