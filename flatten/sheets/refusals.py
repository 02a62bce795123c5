"""Requests that are not answered, and problems as plain data."""

from typing import Any

from meshes.base.problems import Problem


class RefusedError(Exception):
    """A request that is not answered. status: of HTTP; problem: why, in words."""

    def __init__(self, status: int, code: str, where: str, text: str) -> None:
        super().__init__(text)
        self.status, self.problem = status, Problem(code, where, text)

    def __reduce__(self) -> tuple[object, ...]:
        return (RefusedError, (self.status, self.problem.code, self.problem.where, self.problem.text))


def told_as_json(problems: tuple[Problem, ...] | list[Problem]) -> list[dict[str, Any]]:
    """Problems as plain data."""
    return [
        {"code": p.code, "where": p.where, "text": p.text, "line": p.line, "warning": p.warning, "keys": list(p.keys)}
        for p in problems
    ]
