"""A leather card with the numbers that strips of the leather itself gave."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from flatten.leather.card import Card
from meshes.fitting.foam_block import BLOCK_SOURCE
from meshes.fitting.strips import StripTest, WayFound, way_found
from meshes.records.materials import Material


def ways_found(strips: Sequence[StripTest]) -> dict[str, WayFound]:
    """What the strips of every way gave that was tested."""
    ways = ("along", "across")
    return {way: way_found([s for s in strips if s.way == way]) for way in ways if any(s.way == way for s in strips)}


def measured_card(card: Card, found: Mapping[str, WayFound]) -> Card:
    """The card with stiffness and most stretch as measured; thickness, pull and a way that was not tested stay. Raises
    ProblemError when the numbers make no sense together."""
    if not found:
        return card
    numbers: dict[str, float] = {}
    source = dict(card.source)
    for way, one in found.items():
        numbers |= {f"stiffness_{way}": one.stiffness.value, f"stretch_{way}": one.most.value}
        count = f"{one.strips} strip{'s' if one.strips > 1 else ''} {way}"
        stiff = one.stiffness
        source[f"stiffness_{way}"] = f"measured: {count}, {stiff.value:.2f} +/- {stiff.within:.2f} N/mm (95 of 100)"
        most = f"{100 * one.most.value:.1f} +/- {100 * one.most.within:.1f} % (95 of 100), where more stays"
        least = f"at least {100 * one.most.value:.1f} %: {least_words(one)}"
        source[f"stretch_{way}"] = f"measured: {count}, {least if one.at_least else most}"
    return replace(
        card,
        stiffness_along=numbers.get("stiffness_along", card.stiffness_along),
        stiffness_across=numbers.get("stiffness_across", card.stiffness_across),
        stretch_along=numbers.get("stretch_along", card.stretch_along),
        stretch_across=numbers.get("stretch_across", card.stretch_across),
        source=source,
    )


def least_words(found: WayFound) -> str:
    """Why the most a leather may be stretched is told as at least so much."""
    if found.stays <= 0.0:
        return "it came back from all that was tried"
    return f"{100 * found.stays:.1f} % stayed, in too few readings to say where that begins; hang more weights"


def strip_text(card: Card, strips: Sequence[StripTest], materials: Mapping[str, Material]) -> str:
    """What strips and blocks gave, as it is told: numbers with their scatter, and what was left out."""
    lines = []
    for way, one in ways_found(strips).items():
        stiff, most = one.stiffness, one.most
        lines.append(
            f"{way} the backbone, {one.strips} strip{'s' if one.strips > 1 else ''}: stiffness {stiff.value:.2f} N/mm, "
            f"standard error {stiff.error:.2f}; 95 of 100 within {stiff.within:.2f}"
        )
        if one.at_least:
            lines.append(f"    may be stretched by {100 * most.value:.1f} % at least: {least_words(one)}")
        else:
            lines.append(
                f"    may be stretched by {100 * most.value:.1f} %, standard error {100 * most.error:.1f}; 95 of 100 "
                f"within {100 * most.within:.1f}; from there on more stays"
            )
        if one.past_yield:
            lines.append(f"    past the yield: {one.past_yield}, which count for what stays alone")
    if lines:
        lines.append(
            f"{card.name} is reckoned with these in place of its own; budget {100 * card.budget:.1f} % in its stiffer "
            f"way, {100 * card.widest_budget:.1f} % in its softer: the most less the pull. check and make tell each "
            "piece what lies between, by the way its stretch runs"
        )
    else:
        lines.append("no strip in the sheet; write the readings under [[strip]]")
    for name, one_material in materials.items():
        if one_material.source.startswith(BLOCK_SOURCE):
            points = ", ".join(f"{kpa:.2f} kPa at {100 * strain:.1f} %" for strain, kpa in one_material.compression)
            lines.append(f"{name}, {one_material.source}: {points}")
    return "\n".join(lines)
