"""Pieces put together like a cut hide: each where most of its outline touches what lies there already, a few ways kept
side by side (beam search: Lowerre, The Harpy speech recognition system, 1976).

This finds layouts that leave next to nothing, where moving pieces one at a time on a grid seldom ends; turns are any
that pieces may have. What comes of it may overlap by a little, which exact moves have to undo.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from flatten.nesting.contacts import (
    DEEPEST_MM,
    FeatureCorners,
    OutlinePoints,
    RoomField,
    SnugPlaces,
    corners_of,
    points_of,
    settled_places,
    snug_places,
    spun,
    worths,
)
from flatten.nesting.outline import ring
from flatten.nesting.table import CuttingTable, polygons_of
from meshes.base.arrays import FloatArray

# How many ways are kept side by side, how many a way goes on in, and of how many places of a piece.
KEPT_WAYS, WAYS_ON, PLACES_EACH, TRIED_EACH = 10, 6, 3, 12
# How many ways that ended early are gone on from, and how many pieces are taken out of one at most, less one.
POOL, TAKEN_OUT = 8, 5
# After how many pieces laid down all is begun anew.
WORK_A_BEGINNING = 450
# Middles that differ by less are the same place, mm; how much, by chance, a place counts for more or less than it is
# worth, once something was taken out.
HARDLY_MOVED_MM, CHANCE = 20.0, 0.01
# What share of a ribbon along its outline, as wide as it may lie deep, a piece may cover of others.
RIBBON_SHARE = 0.25
# Growing an outline keeps its corners up to so much of the distance.
MITRE = 5.0


@dataclass(frozen=True, eq=False)
class _FittedPiece:
    """A piece as it is fitted. outline (k, 2): grown, counter-clockwise; points: along and within it; long: mm."""

    outline: FloatArray
    corners: FeatureCorners
    points: OutlinePoints
    long: float
    grade: str
    ranges_deg: tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class _LaidWay:
    """Some pieces where they lie: turn in radians and shift of each by its number; what touches, mm, and of how
    much outline; places that were found for the others."""

    laid: dict[int, tuple[float, FloatArray]]
    fields: dict[str, RoomField]
    touching: float
    outline: float
    places: dict[int, SnugPlaces]

    @property
    def worth(self) -> float:
        return self.touching / max(self.outline, 1.0)


class FittedSearch:
    """Puts the pieces of a table together by what touches."""

    def __init__(self, table: CuttingTable, seed: int) -> None:
        self.table = table
        grades = {one.grade for one in table.wanted}
        self.areas = {grade: shapely.union_all(table.areas(grade, sharp=True)) for grade in grades}
        self.rooms = {grade: RoomField.of(area) for grade, area in self.areas.items()}
        self.rims = {grade: _rims(area) for grade, area in self.areas.items()}
        self.draw = np.random.default_rng(seed)
        # How many pieces were laid down, which takes the time.
        self.work, self.chance = 0, 0.0
        self.pieces = [self._fitting(k) for k in range(len(table.wanted))]

    def _fitting(self, index: int) -> _FittedPiece:
        one = self.table.wanted[index]
        wide = Polygon(one.points).buffer(self.table.half_mm, join_style="mitre", mitre_limit=MITRE)
        points = ring(wide)
        return _FittedPiece(
            points, corners_of(points), points_of(points), float(wide.length), one.grade, one.allowed_deg
        )

    def ways(self, most: int) -> Iterator[list[tuple[float, FloatArray]]]:
        """Layouts of all pieces as turns, degrees, and shifts (2,), as they are found; most: how many pieces are laid
        down for it in all, about. Where ways end early, pieces that touch little are taken out, and it goes on; after a
        while all is begun anew."""
        pool = list[_LaidWay]()
        while self.work < most:
            self.work += 1
            yield from self._filled([self._rest({})], pool)
            self.chance = CHANCE
            yield from self._mended(pool, min(self.work + WORK_A_BEGINNING, most))
            pool.clear()

    def _mended(self, pool: list[_LaidWay], most: int) -> Iterator[list[tuple[float, FloatArray]]]:
        """What comes of ways that ended early, again and again with other pieces taken out, until so much is laid."""
        while self.work < most:
            if not pool:
                return
            pool[:] = self._different(sorted(pool, key=lambda way: (-len(way.laid), -way.worth)))[:POOL]
            way = pool[int(self.draw.integers(min(len(pool), POOL)))]
            yield from self._filled([self._rest(self._ruined(way))], pool)

    def _filled(self, ways: list[_LaidWay], pool: list[_LaidWay]) -> Iterator[list[tuple[float, FloatArray]]]:
        """Goes on with some ways to their end; those that end early go into the pool."""
        while ways:
            if len(ways[0].laid) == len(self.pieces):
                for way in ways:
                    yield [(float(np.degrees(turn)), shift) for _, (turn, shift) in sorted(way.laid.items())]
                pool += ways
                return
            on = self._next(ways)
            if not on:
                pool += ways
            ways = on

    def _key(self, laid: dict[int, tuple[float, FloatArray]]) -> tuple[tuple[int, ...], ...]:
        """Alike for layouts that are nearly the same."""
        places = ((n, *(round(float(v) / HARDLY_MOVED_MM) for v in self._middle(n, *at))) for n, at in laid.items())
        return tuple(sorted(places))

    def _different(self, ways: list[_LaidWay]) -> list[_LaidWay]:
        found = dict[tuple[tuple[int, ...], ...], _LaidWay]()
        for way in ways:
            found.setdefault(self._key(way.laid), way)
        return list(found.values())

    def _ruined(self, way: _LaidWay) -> dict[int, tuple[float, FloatArray]]:
        """What lies, without some that touch little, and without some beside these."""
        laid = list(way.laid)
        loose = np.array([1.0 - max(self._touches(way, k), 0.0) for k in laid])
        out = 1 + int(self.draw.integers(TAKEN_OUT))
        keys = loose**3 * self.draw.random(len(laid))
        first = laid[int(np.argmax(keys))]
        middles = {k: self._middle(k, *way.laid[k]) for k in laid}
        away = {k: float(np.hypot(*(middles[k] - middles[first]))) for k in laid}
        if self.draw.integers(2):
            gone = sorted(laid, key=lambda k: away[k])[: out + 1]
        else:
            gone = [laid[int(k)] for k in np.argsort(-keys, kind="stable")[: out + 1]]
        return {k: at for k, at in way.laid.items() if k not in gone}

    def _touches(self, way: _LaidWay, index: int) -> float:
        """The share of a piece's outline that touches the others or the rim."""
        one, (turn, shift) = self.pieces[index], way.laid[index]
        field = self.rooms[one.grade]
        for k, (other_turn, other_shift) in way.laid.items():
            if k != index:
                field = field.without(spun(self.pieces[k].outline, other_turn) + other_shift)
        return float(worths(field, one.points, np.array([turn]), shift[None], last=True)[0])

    def _rest(self, laid: dict[int, tuple[float, FloatArray]]) -> _LaidWay:
        """A way on which some pieces lie already, with places for all others."""
        fields, corners = dict(self.rooms), {grade: list(lines) for grade, lines in self.rims.items()}
        touching = outline = 0.0
        for k, (turn, shift) in laid.items():
            one = self.pieces[k]
            there = spun(one.outline, turn) + shift
            own = worths(fields[one.grade], one.points, np.array([turn]), shift[None], last=True)
            touching, outline = touching + float(own[0]) * one.long, outline + one.long
            fields = {grade: field.without(there) for grade, field in fields.items()}
            for lines in corners.values():
                lines.append(one.corners.moved(turn, shift).seen_from_outside())
        places = {
            k: self._found(one, fields[one.grade], corners[one.grade])
            for k, one in enumerate(self.pieces)
            if k not in laid
        }
        return _LaidWay(laid, fields, touching, outline, places)

    def _found(self, one: _FittedPiece, field: RoomField, corners: Sequence[FeatureCorners]) -> SnugPlaces:
        """The best places of a piece at corners that are there."""
        there = FeatureCorners(
            np.concatenate([c.at for c in corners]),
            np.concatenate([c.into for c in corners]),
            np.concatenate([c.out for c in corners]),
        )
        turn, shift = snug_places(one.corners, there, one.ranges_deg)
        places = SnugPlaces(turn, shift, worths(field, one.points, turn, shift, last=False))
        return places.best(TRIED_EACH)

    def _next(self, ways: Sequence[_LaidWay]) -> list[_LaidWay]:
        found = list[tuple[float, _LaidWay, int, SnugPlaces]]()
        for way in ways:
            options = []
            for k, places in way.places.items():
                one = self.pieces[k]
                settled = settled_places(way.fields[one.grade], one.points, places, one.ranges_deg)
                for j in range(len(settled.turn)):
                    if settled.worth[j] <= -1.0:
                        continue
                    touching = way.touching + float(settled.worth[j]) * one.long
                    worth = touching / (way.outline + one.long) + self.chance * float(self.draw.normal())
                    options.append((worth, way, k, settled.only(np.array([j]))))
            options.sort(key=lambda row: -row[0])
            found += options[: WAYS_ON * PLACES_EACH]
        found.sort(key=lambda row: -row[0])
        kept, seen = list[_LaidWay](), set[tuple[tuple[int, ...], ...]]()
        for _, way, k, place in found:
            laid = {**way.laid, k: (float(place.turn[0]), place.shift[0])}
            key = self._key(laid)
            if key in seen:
                continue
            seen.add(key)
            if not self._lies_on_others(way, k, place):
                kept.append(self._laid(way, k, place))
            if len(kept) == KEPT_WAYS:
                break
        return kept

    def _outline(self, index: int, turn: float, shift: FloatArray) -> Polygon:
        return Polygon(spun(self.pieces[index].outline, turn) + shift)

    def _lies_on_others(self, way: _LaidWay, index: int, place: SnugPlaces) -> bool:
        """Whether a piece covers more than a ribbon of what lies there or is no room: along its outline alone it may
        seem free."""
        mine = self._outline(index, float(place.turn[0]), place.shift[0])
        ribbon = mine.length * DEEPEST_MM[True]
        outside = mine.area - mine.intersection(self.areas[self.pieces[index].grade]).area
        others = (self._outline(n, *at) for n, at in way.laid.items())
        return bool(outside + sum(mine.intersection(other).area for other in others) > RIBBON_SHARE * ribbon)

    def _middle(self, index: int, turn: float, shift: FloatArray) -> FloatArray:
        return np.asarray((spun(self.pieces[index].points.inner, turn) + shift).mean(axis=0))

    def _laid(self, way: _LaidWay, index: int, place: SnugPlaces) -> _LaidWay:
        """A way with one piece more, and what places are left to the others."""
        self.work += 1
        one, turn, shift = self.pieces[index], float(place.turn[0]), place.shift[0]
        outline = spun(one.outline, turn) + shift
        fields = {grade: field.without(outline) for grade, field in way.fields.items()}
        beside = one.corners.moved(turn, shift).seen_from_outside()
        places = {}
        for k, old in way.places.items():
            if k == index:
                continue
            other = self.pieces[k]
            field = fields[other.grade]
            again = SnugPlaces(old.turn, old.shift, worths(field, other.points, old.turn, old.shift, last=False))
            new = self._found(other, field, [beside])
            both = SnugPlaces(
                np.concatenate([again.turn, new.turn]),
                np.concatenate([again.shift, new.shift]),
                np.concatenate([again.worth, new.worth]),
            )
            places[k] = both.best(2 * TRIED_EACH)
        laid = {**way.laid, index: (turn, shift)}
        touching = way.touching + float(place.worth[0]) * one.long
        return _LaidWay(laid, fields, touching, way.outline + one.long, places)


def _rims(area: BaseGeometry) -> list[FeatureCorners]:
    """Corners of what bounds an area, which lies on the left of every line."""
    found = []
    for polygon in polygons_of(area):
        found.append(corners_of(ring(polygon)))
        found += [corners_of(ring(Polygon(hole))).seen_from_outside() for hole in polygon.interiors]
    return found
