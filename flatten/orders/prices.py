"""A price table: CSV with a head of item, price, per; items as the order list names them, or what their names begin
with; per is the order list's unit, or empty. Rows that price nothing are told."""

import csv
import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from flatten.orders.lines import OrderLine
from meshes.base.problems import Problem, ProblemError, shown
from meshes.base.reading import UnreadableError, read_whole
from meshes.sheet.whole import Sheet

LARGEST_TABLE_BYTES = 1_000_000
HEAD = ("item", "price", "per")
# So many names are told at once.
MOST_NAMES = 12


def price_table(sheet: Sheet) -> Mapping[str, tuple[float, str]]:
    """Price and unit by item in small letters; nothing where the sheet names no table. Raises ProblemError (H020)
    with what is wrong in it."""
    name = sheet.hides.cutting.prices
    if name is None:
        return {}

    def refused(text: str) -> Problem:
        return sheet.problem("H020", ("cutting", "prices"), text)

    found: dict[str, tuple[float, str]] = {}
    wrong: list[Problem] = []
    for line, row in _rows(sheet, name, refused):
        item, price = (row["item"] or "").strip().casefold(), _price(row["price"])
        if price is None or not item:
            told = f"found {shown(row['item'])}, {shown(row['price'])}"
            wrong.append(refused(f"line {line} of the price table {name} has no item or no price, {told}"))
        elif item in found:
            wrong.append(refused(f"line {line} of the price table {name} has {shown(item)} once more; leave one price"))
        else:
            found[item] = (price, (row["per"] or "").strip())
    if wrong:
        raise ProblemError(wrong)
    return found


def _rows(sheet: Sheet, name: str, refused: Callable[[str], Problem]) -> list[tuple[int, dict[str, str | None]]]:
    """The rows of the table under its head, each with its line. Raises ProblemError."""
    try:
        text = read_whole(sheet.path.parent / name, most_bytes=LARGEST_TABLE_BYTES).decode("utf-8-sig")
        rows = csv.DictReader(io.StringIO(text, newline=""))
        # A file of another kind is told nothing of: it was only named here.
        if not set(HEAD) <= set(rows.fieldnames or ()):
            raise ProblemError([refused(f"the price table {name} has no head of {', '.join(HEAD)}")])
        return [(rows.line_num, row) for row in rows]
    except UnicodeDecodeError:
        text = f"the price table {name} is no UTF-8 text; save it as UTF-8"
        raise ProblemError([refused(text)]) from None
    except (UnreadableError, csv.Error) as fault:
        raise ProblemError([refused(f"the price table {name} cannot be read: {fault}")]) from None


def _price(text: str | None) -> float | None:
    """A price of nothing or more; None for what is none."""
    try:
        price = float(text or "")
    except ValueError:
        return None
    return price if math.isfinite(price) and price >= 0.0 else None


def priced(lines: Sequence[OrderLine], prices: Mapping[str, tuple[float, str]]) -> tuple[OrderLine, ...]:
    """The lines with their prices, where the table has the item in the line's unit."""
    return tuple(_priced(line, prices) for line in lines)


def _priced(line: OrderLine, prices: Mapping[str, tuple[float, str]]) -> OrderLine:
    name = line.item.casefold()
    fits = [item for item, (_, per) in prices.items() if name.startswith(item) and per in ("", line.unit)]
    return replace(line, price=prices[max(fits, key=len)][0]) if fits else line


def unused_prices(
    lines: Sequence[OrderLine], prices: Mapping[str, tuple[float, str]], sheet: Sheet
) -> tuple[Problem, ...]:
    """Rows of the table that price nothing: those in another unit than their line, each, and, as long as a line has no
    price, those that no line is called by. A shop's table may hold much that one job does not need."""
    told = []
    names = {line.item.casefold(): line for line in lines}
    strange = [item for item in prices if not any(name.startswith(item) for name in names)]
    for item, (_, per) in prices.items():
        units = {line.unit: line for name, line in names.items() if name.startswith(item)}
        if units and per and per not in units:
            line = next(iter(units.values()))
            text = (
                f'its price of {shown(item)} is per {shown(per)}, and the order counts "{line.item}" in {line.unit}; '
            )
            told.append(f"{text}write per {line.unit}")
    without = [line.item for line in lines if line.price is None]
    if strange and without:
        known = ", ".join(dict.fromkeys(without[:MOST_NAMES]))
        text = f"no line of the order is called {', '.join(map(shown, strange[:MOST_NAMES]))}"
        told.append(f"{text}; without a price are: {known}")
    where = f"the price table {sheet.hides.cutting.prices}: "
    return tuple(replace(sheet.problem("H022", ("cutting", "prices"), where + text), warning=True) for text in told)
