"""Strips of a sheet as records; what cannot be true of their readings is told at its line."""

from collections.abc import Sequence
from itertools import pairwise

from meshes.base.problems import KeyPath
from meshes.fitting.strips import RULE_READ_MM, StripReading, StripTest, way_found
from meshes.schema.cover_tables import StripInput
from meshes.schema.words import Faults

# Marks that were drawn with a pen are read with a rule: within so much a distance has not changed.
SAME_READING_MM = 2.0 * RULE_READ_MM
# So many readings fix a stiffness and its scatter at least.
FEWEST_READINGS = 2


def strip_tests(rows: Sequence[StripInput], faults: Faults) -> tuple[StripTest, ...]:
    """The strips of a sheet; what is wrong with one goes to `faults`, and it is left out."""
    found = []
    for k, row in enumerate(rows):
        readings = tuple(StripReading(one[0], one[1], one[2]) for one in row.readings)
        strip = StripTest(row.way, row.width, row.marks, readings, k)
        if _good(strip, ("strip", k), faults):
            found.append(strip)
    for way in dict.fromkeys(one.way for one in found):
        _stayed(tuple(one for one in found if one.way == way), faults)
    return tuple(found)


def _stayed(strips: Sequence[StripTest], faults: Faults) -> None:
    """Strips of one way of which some stayed longer, in readings too few to say from which stretch on."""
    given = way_found(strips)
    if given.at_least and given.stays > 0.0:
        last = max(strips, key=lambda one: float(one.stays.max()))
        at = last.readings[int(last.stays.argmax())]
        text = f"{100 * given.stays:.1f} % stayed after {at.kg:g} kg, in too few readings to say where that begins; "
        text += f"{100 * given.most.value:.1f} % is taken as the most: hang two larger weights, or cut another strip"
        faults.warn("S077", ("strip", last.row, "readings", int(last.stays.argmax())), text)


def _good(strip: StripTest, keys: KeyPath, faults: Faults) -> bool:
    for j, (one, two) in enumerate(pairwise(strip.readings), start=1):
        if two.kg <= one.kg:
            text = f"weights out of order, found {two.kg:g} kg after {one.kg:g} kg; hang the small ones first, each "
            text += "once, and give them in that order: what a large weight left would be read as the small one's"
            faults.add("S070", (*keys, "readings", j), text)
            return False
    moved = _moved_back(strip)
    if moved is not None:
        j, text = moved
        faults.add("S071", (*keys, "readings", j), text)
        return False
    kept = strip.before_yield
    if kept < len(strip.readings):
        at = strip.readings[kept]
        text = (
            f"pulled past its yield at {at.kg:g} kg: it stretched by {100 * strip.stretch[kept]:.1f} %, more than the "
        )
        text += "weights before it let expect, and more stays; from there on readings count for nothing but what stays"
        faults.warn("S072", (*keys, "readings", kept), text)
    if kept < FEWEST_READINGS or strip.stretch[kept - 1] <= 2.0 * strip.read_share:
        text = f"stretched by no more than a rule reads ({RULE_READ_MM:g} mm); take marks farther apart, a narrower "
        text += "strip, or larger weights"
        faults.add("S073", (*keys, "readings"), text)
        return False
    return True


def _moved_back(strip: StripTest) -> tuple[int, str] | None:
    """The first reading that says a mark moved back, and what is wrong with it."""
    long, short = strip.marks_mm, strip.marks_mm
    again = "a mark was read wrongly, or the strip slipped in its clamp: read it again, or cut another strip"
    for j, one in enumerate(strip.readings):
        if one.with_mm < long - SAME_READING_MM:
            return j, f"a mark moved back: {one.with_mm:g} mm with {one.kg:g} kg after {long:g} mm with less; {again}"
        if one.after_mm < short - SAME_READING_MM:
            return j, f"a mark moved back: {one.after_mm:g} mm after {one.kg:g} kg, and {short:g} mm before; {again}"
        if one.after_mm > one.with_mm + SAME_READING_MM:
            return (
                j,
                f"longer without the {one.kg:g} kg ({one.after_mm:g} mm) than with it ({one.with_mm:g} mm); {again}",
            )
        long, short = max(long, one.with_mm), max(short, one.after_mm)
    return None
