"""The seat as one page of HTML to hand over: the seat to turn, its pieces and figures, in one file that opens without a
server and asks nothing of a network.

Modules and seat go in compressed (gzip, RFC 1952) as base64 text; browsers unpack them by themselves. What is known of
the pieces stands in the page as plain text too, for a browser that cannot.
"""

import base64
import gzip
import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined

from flatten.sheets.refusals import RefusedError

# A file that goes on every stick and into every mail.
MOST_BYTES = 4_000_000
# Modules by name in the order in which they can be loaded: each imports only those before it.
_MODULES = (
    *("three/three.core.min.js", "three/three.module.min.js"),
    *("dom.js", "lengths.js", "seat.js", "cut.js", "pieces.js", "hand.js"),
)


def handed_over(answer: Mapping[str, Any], seat: bytes) -> bytes:
    """The page. answer: as `answer_of` has it; seat: as `seat_bytes` has it. Raises RefusedError when it is larger than
    MOST_BYTES."""
    data = {
        "modules": [[name, _packed(text)] for name, text in _modules()],
        "answer": _packed(json.dumps(answer, separators=(",", ":"))),
        "seat": _packed(seat),
    }
    page = _template().render(answer=answer, style=_text("page.css"), data=_harmless(json.dumps(data)))
    found = page.encode()
    if len(found) > MOST_BYTES:
        text = f"the file would be {len(found) / 1e6:.1f} MB; make mesh larger, under Paper and allowances"
        raise RefusedError(422, "W323", "hand over", text)
    return found


def _packed(data: str | bytes) -> str:
    raw = data.encode() if isinstance(data, str) else data
    return base64.b64encode(gzip.compress(raw, 9, mtime=0)).decode()


def _harmless(text: str) -> str:
    """JSON that cannot end the element it stands in."""
    return text.replace("<", "\\u003c")


@cache
def _modules() -> tuple[tuple[str, str], ...]:
    """Name and text of every module, its imports by the names of the others."""
    return tuple((name.rpartition("/")[2], _by_name(_text(name))) for name in _MODULES)


def _by_name(text: str) -> str:
    return re.sub(r'(from\s*|import\s*)"\./(?:three/)?([\w.]+\.js)"', r'\1"\2"', text)


def _text(name: str) -> str:
    return files("flatten.page").joinpath("static", *name.split("/")).read_text(encoding="utf-8")


def _template() -> Any:
    text = files("flatten.page").joinpath("handover.html").read_text(encoding="utf-8")
    return Environment(autoescape=True, undefined=StrictUndefined).from_string(text)
