"""Markup of the pages: everything comes from templates, which escape all text; numbers in words."""

import base64
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from meshes.base.units import Unit, in_shop_unit

SUFFIXES = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}
# A page takes nothing from anywhere and runs nothing.
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


@cache
def _templates() -> Environment:
    return Environment(loader=PackageLoader("flatten.report"), autoescape=True, undefined=StrictUndefined)


@cache
def _macros(template: str) -> Any:
    return _templates().get_template(template).module


def whole_page(template: str, /, *, title: str, **values: object) -> str:
    """A whole page that needs nothing else, from a template that fills the base page."""
    style = Markup(files("flatten.report").joinpath("report.css").read_text(encoding="utf-8"))
    return _templates().get_template(template).render(policy=POLICY, style=style, title=title, **values) + "\n"


def part(name: str, /, *values: object, **named: object) -> Markup:
    """A building stone of pages, by the name of its macro in parts.html."""
    return Markup(getattr(_macros("parts.html"), name)(*values, **named))


def report_section(name: str, /, **values: object) -> Markup:
    """A part of the report, by the name of its macro in sections.html."""
    return Markup(getattr(_macros("sections.html"), name)(**values))


def esc(text: object) -> str:
    """Text as it may stand anywhere in a drawing, also within quotes."""
    return str(escape(text))


def percent(fraction: float | None, places: int = 1) -> str:
    """A fraction in per cent; a dash for what is not known."""
    return "–" if fraction is None else f"{100.0 * fraction:.{places}f}\u00a0%"


def fixed(value: float, places: int = 1) -> str:
    """A number with always the same decimals, so that a column lines up; never "-0.0"."""
    return f"{round(value, places) + 0.0:.{places}f}"


# A head that says its column is in mm, but not one of a rate.
_IN_MM = re.compile(r"(?<!\bper) mm\b")
# A head that says its column is in square metres; one in square feet.
_IN_M2, _HAS_FEET = re.compile(r" ?m²(?=\||$)"), re.compile("sq ft").search
# A caption that says so of all columns of numbers.
_ALL_IN_MM = "; mm"


def table(
    head: Sequence[str], body: Sequence[Sequence[str]], *, caption: str = "", kind: str = "", unit: Unit = "mm"
) -> Markup:
    """A table. A head that ends in "|" heads a column of numbers; the first column names its row. unit: of the sheet;
    in inches, columns that head or caption give in mm have inches with the mm beside them, columns in m² square
    feet where no other column has them."""
    if unit == "in":
        every = caption.endswith(_ALL_IN_MM)
        lengths = {k for k, title in enumerate(head) if _IN_MM.search(title) or (every and title.endswith("|"))}
        areas = {k for k, title in enumerate(head) if _IN_M2.search(title)} if not any(map(_HAS_FEET, head)) else set()
        units = {**dict.fromkeys(lengths, "mm"), **dict.fromkeys(areas, "m²")}
        head = [(_IN_M2 if k in areas else _IN_MM).sub("", title) for k, title in enumerate(head)]
        head = ["area|" if title == "|" else title for title in head]
        body = [[_on_tape(cell, units[k]) if k in units else cell for k, cell in enumerate(row)] for row in body]
        caption = caption.removesuffix(_ALL_IN_MM)
    return part("table", head, body, caption, kind)


def _on_tape(cell: str, given: str) -> str:
    """The figures of a cell in a unit, in the tape's with the given beside them; a cell without figures as it is."""
    return in_shop_unit(f"{cell} {given}", unit="in") if cell[-1:].isdigit() else cell


def data_uri(data: bytes, media: str = "image/png") -> str:
    """The bytes as an address that needs no file and no network."""
    return f"data:{media};base64,{base64.b64encode(data).decode('ascii')}"


def defined(pairs: Sequence[tuple[str, str]], kind: str = "") -> Markup:
    """Words and what is said of them."""
    return part("definitions", pairs, kind)


def item_list(items: Sequence[str]) -> Markup:
    """A list of items."""
    return part("items", items)


def figure(drawing: str, caption: str = "") -> Markup:
    """A drawing, which is SVG text already, with words below it."""
    return part("figure", Markup(drawing), caption)


def joined_up(parts: Sequence[Markup]) -> Markup:
    """Parts one after the other."""
    return Markup("").join(parts)
