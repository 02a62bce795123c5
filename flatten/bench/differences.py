"""What changed from one answer to the next, in words: verdicts and demand, roundness, seams, welt, leather, height."""

from collections.abc import Iterator, Mapping
from typing import Any

from meshes.base.units import Unit, in_shop_unit

ToldAnswer = Mapping[str, Any]
# Smaller changes are within what the coarse triangles of a draft tell apart, and are left out: of demand, as a
# fraction; of lengths and radii in mm; of leather in m2.
DEMAND_TOLD, RADIUS_TOLD_MM, LENGTH_TOLD_MM, LEATHER_TOLD_M2 = 0.001, 0.5, 1.0, 0.005
# Between a draft and an exact answer: seams differ by up to 1.4 mm for the size of the triangles alone.
DRAFT_TOLD_MM = 3.0
# No more is read at once.
MOST_CHANGES = 12


def changes(before: ToldAnswer | None, now: ToldAnswer) -> list[dict[str, Any]]:
    """Rows {text, better}; better: true, false, or none where it is neither. Between a draft and an exact answer only
    lengths are told, and only those that coarse triangles do not make."""
    if before is None:
        return []
    unit: Unit = "in" if now["unit"] == "in" else "mm"
    alike = before["level"] == now["level"]
    asked = _pieces(before, now) if alike else ()
    least = LENGTH_TOLD_MM if alike else DRAFT_TOLD_MM
    rows = [*asked, *_roundness(before, now), *_heights(before, now, least), *_lengths(before, now, least)]
    return [{"text": in_shop_unit(text, unit=unit), "better": better} for text, better in rows[:MOST_CHANGES]]


def _pieces(before: ToldAnswer, now: ToldAnswer) -> Iterator[tuple[str, bool | None]]:
    earlier = {f"{row['pad']} {row['name']}": row for row in before["pieces"]}
    for row in now["pieces"]:
        name = f"{row['pad']} {row['name']}"
        was = earlier.pop(name, None)
        if was is None:
            yield f"{name}: a piece that was not there before", None
            continue
        verdict = f", {row['verdict']} now" if row["verdict"] != was["verdict"] and row["verdict"] else ""
        if verdict or abs(row["demand"] - was["demand"]) >= DEMAND_TOLD:
            figures = f"{100 * was['demand']:.1f} to {100 * row['demand']:.1f} %"
            yield f"{name}: asks {figures} of the leather{verdict}", row["demand"] < was["demand"]
    for name in earlier:
        yield f"{name}: is no piece any more", None


def _roundness(before: ToldAnswer, now: ToldAnswer) -> Iterator[tuple[str, bool | None]]:
    earlier = {(pad["name"], cut["name"]): cut for pad in before["pads"] for cut in pad["sections"]}
    for pad in now["pads"]:
        for cut in pad["sections"]:
            was = earlier.get((pad["name"], cut["name"]))
            old, new = was and was["radius_mm"], cut["radius_mm"]
            if old is None or new is None or abs(new - old) < RADIUS_TOLD_MM:
                continue
            wanted = pad["wanted_radius_mm"]
            better = None if wanted is None else abs(new - wanted) < abs(old - wanted)
            yield f"{pad['name']} {cut['side']}: edge radius was {old:.0f} mm, is {new:.0f} mm", better


def _heights(before: ToldAnswer, now: ToldAnswer, least_mm: float) -> Iterator[tuple[str, bool | None]]:
    earlier = {pad["name"]: pad["top_mm"] for pad in before["pads"]}
    for pad in now["pads"]:
        change = pad["top_mm"] - earlier.get(pad["name"], pad["top_mm"])
        if abs(change) >= least_mm:
            yield f"{pad['name']} stands {abs(change):.0f} mm {'higher' if change > 0 else 'lower'}", None


def _lengths(before: ToldAnswer, now: ToldAnswer, least_mm: float) -> Iterator[tuple[str, bool | None]]:
    welt = now["amounts"]["welt_mm"] - before["amounts"]["welt_mm"]
    if abs(welt) >= least_mm:
        yield f"welt {abs(welt):.0f} mm {'longer' if welt > 0 else 'shorter'}", None
    earlier = {row["name"]: row["seat_mm"] for row in before["seams"]}
    grown = [(abs(d), d, name) for name, mm in ((r["name"], r["seat_mm"]) for r in now["seams"])
             if name in earlier and abs(d := mm - earlier[name]) >= least_mm]  # fmt: skip
    for size, change, name in sorted(grown, reverse=True)[:3]:
        yield f"seam {name} {size:.0f} mm {'longer' if change > 0 else 'shorter'}", None
    was, is_now = (sum(area for _, area in answer["amounts"]["leather_m2"]) for answer in (before, now))
    if abs(is_now - was) >= LEATHER_TOLD_M2:
        yield f"leather {abs(is_now - was):.2f} m² {'more' if is_now > was else 'less'}", is_now < was
