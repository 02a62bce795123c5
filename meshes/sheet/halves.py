"""Left and right halves: whether what was measured is the same on both, and what was measured on one alone completed.

Mirror images are about the centre line, where places across are 0.
"""

from collections.abc import Sequence
from dataclasses import replace

from meshes.base.plane import Point
from meshes.base.units import SAME_MM
from meshes.records.pad import MIRROR_SIDE, ExtraLine, Pad, Profile


def in_halves(pad: Pad) -> Pad:
    """The pad, marked as not symmetric where it is not, with all that was measured on one half given on both."""
    if pad.wanted.continues is None and _same_left_and_right(pad):
        return pad
    if pad.outline.symmetric:
        return replace(pad, symmetric=False, profiles=_both_halves(pad.profiles), lines=_both_sides(pad.lines))
    return replace(pad, symmetric=False)


def _same_left_and_right(pad: Pad) -> bool:
    if not pad.outline.symmetric or pad.sides["left"] != pad.sides["right"]:
        return False
    if pad.frame != pad.frame.mirrored() or pad.folds != pad.folds.mirrored() or not pad.bands.even:
        return False
    if pad.fixings.ordered != pad.fixings.mirrored().ordered:
        return False
    if pad.inset is not None and pad.inset.left != pad.inset.right:
        return False
    mirrored = sorted(repr(replace(p, where=MIRROR_SIDE.get(p.where, p.where))) for p in pad.layers)
    if mirrored != sorted(repr(p) for p in pad.layers):
        return False
    return _profiles_agree(pad.profiles)


def _profiles_agree(profiles: Sequence[Profile]) -> bool:
    """True when no measured height on the left contradicts one on the right."""
    for profile in profiles:
        if profile.direction == "across":
            if not _one_half(profile.points) and not _close(profile.points, _turned(profile.points)):
                return False
            continue
        twins = [p for p in profiles if p.direction == "along" and abs(p.at + profile.at) <= SAME_MM]
        if any(not _close(profile.points, twin.points) for twin in twins):
            return False
    return True


def _one_half(points: Sequence[Point]) -> bool:
    return points[0][0] >= 0.0 or points[-1][0] <= 0.0


def _turned(points: Sequence[Point]) -> tuple[Point, ...]:
    """A profile across, seen in the mirror."""
    return tuple((-place, height) for place, height in reversed(points))


def _close(one: Sequence[Point], two: Sequence[Point]) -> bool:
    return len(one) == len(two) and all(
        abs(a - b) <= SAME_MM for p, q in zip(one, two, strict=True) for a, b in zip(p, q, strict=True)
    )


def _both_halves(profiles: Sequence[Profile]) -> tuple[Profile, ...]:
    """Profiles measured on one half only, completed by their mirror images."""
    done = []
    for profile in profiles:
        if profile.direction == "across" and _one_half(profile.points):
            right = profile.points if profile.points[0][0] >= 0.0 else _turned(profile.points)
            left = tuple(p for p in _turned(right) if p[0] < -SAME_MM)
            done.append(replace(profile, points=left + right))
        else:
            done.append(profile)
    places = [p.at for p in profiles if p.direction == "along"]
    if places and (min(places) >= 0.0 or max(places) <= 0.0):
        done += [replace(p, at=-p.at) for p in profiles if p.direction == "along" and abs(p.at) > SAME_MM]
    return tuple(done)


def _both_sides(lines: Sequence[ExtraLine]) -> tuple[ExtraLine, ...]:
    """Lines drawn on the right half, completed by their mirror images; one along the centre line is its
    own.
    """
    done = []
    for line in lines:
        done.append(line)
        if any(x > SAME_MM for x, _ in line.points):
            done.append(replace(line, name=f"{line.name} left", points=tuple((-x, y) for x, y in line.points)))
    return tuple(done)
