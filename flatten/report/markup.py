"""Building stones of the report page: escaped text, numbers in words, tables, pictures inside the file."""

import base64
import html
from collections.abc import Sequence

SUFFIXES = {".png": "image/png", ".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".webp": "image/webp"}


def esc(text: object) -> str:
    """Text as it may stand anywhere in the page, also within quotes."""
    return html.escape(str(text), quote=True)


def percent(fraction: float | None, places: int = 1) -> str:
    """A fraction in per cent; a dash for what is not known."""
    return "–" if fraction is None else f"{100.0 * fraction:.{places}f}\u00a0%"


def fixed(value: float, places: int = 1) -> str:
    """A number with always the same decimals, so that a column lines up; never "-0.0"."""
    return f"{round(value, places) + 0.0:.{places}f}"


def table(head: Sequence[str], body: Sequence[Sequence[str]], *, caption: str = "", kind: str = "") -> str:
    """A table; cells are markup already. A head that ends in "|" heads a column of numbers; the first column names
    its row."""
    numeric = [title.endswith("|") for title in head]
    marks = [' class="n"' if right else "" for right in numeric]
    titles = "".join(f'<th scope="col"{m}>{t.rstrip("|")}</th>' for t, m in zip(head, marks, strict=True))
    lines = [f'<table class="{kind}">' if kind else "<table>"]
    if caption:
        lines.append(f"<caption>{caption}</caption>")
    lines.append(f"<thead><tr>{titles}</tr></thead>")
    lines.append("<tbody>")
    for row in body:
        first, *rest = row
        cells = "".join(f"<td{m}>{cell}</td>" for cell, m in zip(rest, marks[1:], strict=True))
        lines.append(f'<tr><th scope="row">{first}</th>{cells}</tr>')
    lines += ["</tbody>", "</table>"]
    return '<div class="wide">' + "\n".join(lines) + "</div>"


def data_uri(data: bytes, media: str = "image/png") -> str:
    """The bytes as an address that needs no file and no network."""
    return f"data:{media};base64,{base64.b64encode(data).decode('ascii')}"


def defined(pairs: Sequence[tuple[str, str]], kind: str = "") -> str:
    """Words and what is said of them; both are markup already."""
    inside = "".join(f"<dt>{word}</dt><dd>{text}</dd>" for word, text in pairs)
    return f'<dl class="{kind}">{inside}</dl>' if kind else f"<dl>{inside}</dl>"


def item_list(items: Sequence[str], kind: str = "ul") -> str:
    """A list of items that are markup already."""
    return f"<{kind}>" + "".join(f"<li>{item}</li>" for item in items) + f"</{kind}>"
