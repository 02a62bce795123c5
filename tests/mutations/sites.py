"""Where a file can be made wrong in a small way, read from its syntax tree.

Only code that runs is changed: no annotations, no decorators, no texts, nothing in an f-string or a `raise`, no
protocols, no `__all__`. What would nearly always say the same is not offered: `<` for `<=` between real
numbers, swapped arguments of symmetric functions, constants below a millionth, which only keep a division from nought.
"""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.mutations.changes import changes

# Keywords whose values change nothing in a result; an axis is changed with its call.
IDLE_KEYWORDS = {
    "strict",
    "copy",
    "check_finite",
    "assume_unique",
    "stacklevel",
    "encoding",
    "overwrite_a",
    "dtype",
    "axis",
}
NOT_RUN = (ast.JoinedStr, ast.Raise, ast.Import, ast.ImportFrom, ast.Assert)


@dataclass(frozen=True)
class Site:
    """One mutation. file: path below the root; line: number of the code line; text: that line; change: "a -> b".

    start, end: the characters of the file that are replaced; put: what takes their place.
    """

    file: str
    line: int
    text: str
    change: str
    start: int
    end: int
    put: str

    @property
    def key(self) -> tuple[str, str, str]:
        return self.file, self.text, self.change

    def applied(self, source: str) -> str:
        return source[: self.start] + self.put + source[self.end :]


def sites(root: Path, file: str) -> list[Site]:
    """All mutations of a file, in the order of its text."""
    source = (root / file).read_text(encoding="utf-8")
    lines = source.splitlines(keepends=True)
    starts = [0]
    for line in lines:
        starts.append(starts[-1] + len(line))

    def place(line: int, column: int) -> int:
        # The tree counts columns in bytes.
        return starts[line - 1] + len(lines[line - 1].encode()[:column].decode())

    found = {}
    for node in _running(ast.parse(source)):
        for part, other in changes(node):
            site = _site(file, lines, place, part, other)
            found[site.start, site.end, site.put] = site
    return sorted(found.values(), key=lambda s: (s.start, s.end, s.put))


def _site(file: str, lines: list[str], place: Callable[[int, int], int], part: Any, other: ast.AST) -> Site:
    start, end = place(part.lineno, part.col_offset), place(part.end_lineno, part.end_col_offset)
    put = ast.unparse(other)
    return Site(
        file=file,
        line=part.lineno,
        text=lines[part.lineno - 1].strip(),
        change=f"{ast.unparse(part)} -> {put}",
        start=start,
        end=end,
        put=put if isinstance(other, ast.stmt) else f"({put})",
    )


def _running(node: ast.AST) -> Iterator[ast.stmt | ast.expr]:
    """All statements and expressions that run, outermost first."""
    for child in _children(node):
        if isinstance(child, NOT_RUN) or _named_all(child) or _protocol(child):
            continue
        if isinstance(child, ast.expr | ast.stmt):
            yield child
        yield from _running(child)


def _children(node: ast.AST) -> Iterator[ast.AST]:
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "bases", "type_params"):
            continue
        parts = value if isinstance(value, list) else [value]
        for part in parts:
            if isinstance(part, ast.keyword) and part.arg in IDLE_KEYWORDS:
                continue
            if isinstance(part, ast.AST):
                yield part


def _named_all(node: ast.AST) -> bool:
    return isinstance(node, ast.Assign) and any(isinstance(t, ast.Name) and t.id == "__all__" for t in node.targets)


def _protocol(node: ast.AST) -> bool:
    if isinstance(node, ast.If):
        return ast.unparse(node.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING", "__name__ == '__main__'")
    return isinstance(node, ast.ClassDef) and any("Protocol" in ast.unparse(base) for base in node.bases)
