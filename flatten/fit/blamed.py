"""Which rows of a fitting make a piece too tight: those without which it would not be, or would be less so."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from flatten.fit.asked import MakeFitProblem
from flatten.fit.fitted import FittedSeat
from flatten.fit.linked import followers
from flatten.leather.verdict import is_tight
from flatten.maps.flat import Flat
from meshes.base.problems import Problem, and_words
from meshes.schema.cover_tables import LOOSE

# A piece that is so much further beyond what its leather gives is tighter.
TIGHTER = 1e-3

MapsWithout = Callable[[int], Mapping[str, Flat] | None]
"""Maps by panel as they are cut without a row, by its number; None where the others cannot be done without it."""


@dataclass(frozen=True)
class _Blamable:
    """A row that stretches pieces: its number, whether it moves a line, and the panels it changes."""

    number: int
    moves_line: bool
    panels: frozenset[str]


@dataclass(frozen=True, eq=False)
class _Tight:
    """A piece that is too tight: what it is called, its map, and that without the row; None where that is not known."""

    called: str
    now: Flat
    rest: Flat | None


def tight_notes(
    fitting: FittedSeat,
    maps: tuple[Mapping[str, Flat], Mapping[str, Flat]],
    without: MapsWithout,
    problem: MakeFitProblem,
) -> list[Problem]:
    """What is said of rows that make pieces too tight. maps: by panel, before all rows and as cut now."""
    first, now = maps
    rows = _rows(fitting)
    kept: dict[int, Mapping[str, Flat] | None] = {}
    said: dict[_Blamable, list[_Tight]] = {}
    for fit in fitting.pads:
        for piece in fit.pieces:
            name = next((one for one in piece.panels if one in now and one in first), None)
            if name is None or not _worse(now[name], first[name]):
                continue
            touching = [row for row in rows if row.panels & set(piece.panels)]
            for row in touching if len(touching) > 1 else ():
                if row.number not in kept:
                    kept[row.number] = without(row.number)
            for row, rest in _guilty(touching, name, (first, now), kept).items():
                said.setdefault(row, []).append(_Tight(f"{piece.pad} {piece.name}", now[name], rest))
    return [_told(row, said[row], problem) for row in rows if row in said]


def _rows(fitting: FittedSeat) -> list[_Blamable]:
    """Rows that stretch pieces; one that names what was seen says of the seat that it is other than computed."""
    found: dict[int, _Blamable] = {}
    for told in fitting.reshaped:
        names = frozenset((*told.panels, *(name for name, _ in told.follow)))
        found[told.note.row] = _Blamable(told.note.row, False, names)
    for done in fitting.done:
        if done.found.note.found is not None:
            continue
        drawn, number = done.found.drawn, done.found.note.row
        numbers = {one.where[0] for one in followers(drawn.pad, drawn.pieces, done.found.where)}
        own = frozenset(name for i in numbers for name in drawn.pieces[i].panels)
        found[number] = _Blamable(number, True, own | (found[number].panels if number in found else frozenset()))
    return [found[number] for number in sorted(found)]


def _beyond(flat: Flat) -> float:
    """By what share a piece is beyond what its leather gives."""
    return 0.0 if flat.over is None else flat.over.excess


def _worse(now: Flat, before: Flat) -> bool:
    return is_tight(now.verdict) and (not is_tight(before.verdict) or _beyond(now) > _beyond(before) + TIGHTER)


def _guilty(
    rows: list[_Blamable],
    name: str,
    maps: tuple[Mapping[str, Flat], Mapping[str, Flat]],
    kept: Mapping[int, Mapping[str, Flat] | None],
) -> dict[_Blamable, Flat | None]:
    """Rows that make a piece too tight, or tighter, each with its map without that row; all of them where none does it
    by itself. kept: maps without a row."""
    first, now = maps
    if len(rows) < 2:
        return dict.fromkeys(rows, first[name])
    found: dict[_Blamable, Flat | None] = {}
    for row in rows:
        others = kept[row.number]
        if others is None or _worse(now[name], others[name]):
            found[row] = None if others is None else others[name]
    return found or dict.fromkeys(rows)


def _words(pieces: list[_Tight]) -> str:
    """What a row does to pieces: makes them too tight, or tighter where they are too tight without it as well."""
    tighter = [one for one in pieces if one.rest is not None and is_tight(one.rest.verdict)]
    fresh = [one for one in pieces if one not in tighter]
    said = []
    if fresh:
        most = max(_beyond(one.now) for one in fresh)
        names = and_words([one.called for one in fresh])
        said.append(f"{names} too tight, up to {100.0 * most:.1f} % beyond what the leather gives")
    for one in tighter:
        rest = 0.0 if one.rest is None else _beyond(one.rest)
        said.append(f"{one.called} tighter, {100.0 * _beyond(one.now):.1f} instead of {100.0 * rest:.1f} % beyond")
    return "; and ".join(said)


def _told(row: _Blamable, pieces: list[_Tight], problem: MakeFitProblem) -> Problem:
    """The warning of one row."""
    if row.moves_line:
        text = f"on the seat as computed this makes {_words(pieces)}; where the cover was loose by as much the seat "
        text += f'is smaller there than computed: write found = "{LOOSE}" in the row, and it is judged so'
        return replace(problem("F342", row.number, "piece", text), warning=True)
    text = f"this makes {_words(pieces)}: do a part of it, put a seam there, or take a softer leather"
    return replace(problem("F348", row.number, "piece", text), warning=True)
