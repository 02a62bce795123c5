"""Where each key and value of a TOML text stands, so that a fault can be shown with its line.

The standard reader keeps no places. This one reads only places, of text that the standard reader has already
accepted: table headers, arrays of tables, dotted and quoted keys, inline tables, arrays over several lines,
all four kinds of strings (TOML 1.0.0, toml.io/en/v1.0.0).
"""

import tomllib

from meshes.base.problems import KeyPath

_BARE_END = set(" \t\r\n=.]}#,[{\"'")


def toml_lines(text: str) -> dict[KeyPath, int]:
    """Line (from 1) of every table, key and array element of `text`, which must be valid TOML.

    A table is where its header or first mention stands, a key where the key stands, an element where it
    begins.
    """
    return _Locator(text).lines


class _Locator:
    def __init__(self, text: str) -> None:
        self._text = text.replace("\r\n", "\n")
        self._at = 0
        self._line = 1
        self._table: KeyPath = ()
        self._count: dict[KeyPath, int] = {}
        self.lines: dict[KeyPath, int] = {}
        self._document()

    def _peek(self, length: int = 1) -> str:
        return self._text[self._at : self._at + length]

    def _move(self, count: int = 1) -> None:
        self._line += self._text.count("\n", self._at, self._at + count)
        self._at += count

    def _skip_blank(self, *, newlines: bool) -> None:
        """Move past blanks and comments, and past ends of lines where `newlines` holds."""
        blank = " \t\n" if newlines else " \t"
        while self._at < len(self._text):
            if self._peek() in blank:
                self._move()
            elif self._peek() == "#":
                end = self._text.find("\n", self._at)
                self._at = len(self._text) if end < 0 else end
            else:
                return

    def _note(self, path: KeyPath, line: int) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _document(self) -> None:
        self._skip_blank(newlines=True)
        while self._at < len(self._text):
            if self._peek() == "[":
                self._header()
            else:
                self._statement(self._table)
            self._skip_blank(newlines=True)

    def _header(self) -> None:
        line, many = self._line, self._peek(2) == "[["
        self._move(2 if many else 1)
        keys = self._dotted_key()
        self._move(2 if many else 1)
        path: KeyPath = ()
        for key in keys[:-1]:
            path = self._last_of((*path, key))
        path = (*path, keys[-1])
        if many:
            number = self._count.get(path, 0)
            self._count[path] = number + 1
            self._note(path, line)
            path = (*path, number)
        else:
            path = self._last_of(path)
        self._note(path, line)
        # A header names its table better than an earlier table inside it did.
        self.lines[path] = line
        self._table = path

    def _last_of(self, path: KeyPath) -> KeyPath:
        return (*path, self._count[path] - 1) if path in self._count else path

    def _statement(self, table: KeyPath) -> None:
        line = self._line
        path = (*table, *self._dotted_key())
        self._skip_blank(newlines=False)
        self._move()  # the equals sign
        self._note(path, line)
        self._skip_blank(newlines=False)
        self._value(path)

    def _dotted_key(self) -> tuple[str, ...]:
        keys = [self._simple_key()]
        self._skip_blank(newlines=False)
        while self._peek() == ".":
            self._move()
            keys.append(self._simple_key())
            self._skip_blank(newlines=False)
        return tuple(keys)

    def _simple_key(self) -> str:
        self._skip_blank(newlines=False)
        start = self._at
        if self._peek() in ('"', "'"):
            self._string()
            # The standard reader undoes the escapes of a quoted key.
            return str(tomllib.loads(f"key = {self._text[start : self._at]}")["key"])
        while self._at < len(self._text) and self._peek() not in _BARE_END:
            self._move()
        return self._text[start : self._at]

    def _value(self, path: KeyPath) -> None:
        mark = self._peek()
        if mark in ('"', "'"):
            self._string()
        elif mark == "[":
            self._array(path)
        elif mark == "{":
            self._inline_table(path)
        else:
            while self._at < len(self._text) and self._peek() not in ",]}#\n":
                self._move()

    def _string(self) -> None:
        quote = self._peek()
        fence = quote * 3 if self._peek(3) == quote * 3 else quote
        self._move(len(fence))
        while self._peek(len(fence)) != fence:
            self._move(2 if quote == '"' and self._peek() == "\\" else 1)
        self._move(len(fence))
        # Up to two more quotes may belong to the text just before the closing fence.
        while len(fence) == 3 and self._peek() == quote:
            self._move()

    def _array(self, path: KeyPath) -> None:
        self._move()
        number = 0
        self._skip_blank(newlines=True)
        while self._peek() != "]":
            if self._peek() == ",":
                self._move()
            else:
                self._note((*path, number), self._line)
                self._value((*path, number))
                number += 1
            self._skip_blank(newlines=True)
        self._move()

    def _inline_table(self, path: KeyPath) -> None:
        self._move()
        self._skip_blank(newlines=True)
        while self._peek() != "}":
            if self._peek() == ",":
                self._move()
            else:
                self._statement(path)
            self._skip_blank(newlines=True)
        self._move()
