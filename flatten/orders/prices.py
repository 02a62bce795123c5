"""A price table: CSV with a head of item, price, per; items as the order list names them, or what their names begin
with."""

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from flatten.orders.lines import OrderLine
from meshes.base.problems import ProblemError
from meshes.base.reading import UnreadableError, read_whole
from meshes.sheet.whole import Sheet

LARGEST_TABLE_BYTES = 1_000_000
HEAD = ("item", "price", "per")


def price_table(sheet: Sheet) -> Mapping[str, tuple[float, str]]:
    """Price and unit by item in small letters; nothing where the sheet names no table. Raises ProblemError (H020)
    with what is wrong in it."""
    name = sheet.hides.cutting.prices
    if name is None:
        return {}
    keys = ("cutting", "prices")
    try:
        text = read_whole(sheet.path.parent / name, most_bytes=LARGEST_TABLE_BYTES).decode("utf-8-sig")
    except (UnreadableError, UnicodeDecodeError) as fault:
        raise ProblemError([sheet.problem("H020", keys, f"the price table {name} cannot be read: {fault}")]) from None
    rows = csv.DictReader(io.StringIO(text))
    if not set(HEAD) <= set(rows.fieldnames or ()):
        text = f"the price table {name} has no head of {', '.join(HEAD)}"
        raise ProblemError([sheet.problem("H020", keys, text)])
    found, wrong = {}, []
    for line, row in enumerate(rows, start=2):
        try:
            price = float(row["price"])
        except (TypeError, ValueError):
            price = math.nan
        if not (math.isfinite(price) and price >= 0.0) or not (row["item"] or "").strip():
            text = f"line {line} of the price table {name} has no item or no price, found {row['item']}, {row['price']}"
            wrong.append(sheet.problem("H020", keys, text))
        else:
            found[row["item"].strip().casefold()] = (price, (row["per"] or "").strip())
    if wrong:
        raise ProblemError(wrong)
    return found


def priced(lines: Sequence[OrderLine], prices: Mapping[str, tuple[float, str]]) -> tuple[OrderLine, ...]:
    """The lines with their prices, where the table has the item in the line's unit."""
    return tuple(_priced(line, prices) for line in lines)


def _priced(line: OrderLine, prices: Mapping[str, tuple[float, str]]) -> OrderLine:
    name = line.item.casefold()
    fits = [item for item, (_, per) in prices.items() if name.startswith(item) and per in ("", line.unit)]
    return replace(line, price=prices[max(fits, key=len)][0]) if fits else line
