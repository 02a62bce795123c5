"""A layout in words: for the terminal, and as a part of the report."""

from markupsafe import Markup

from flatten.hides.figures import THUMB_YIELDS, hide_uses, in_square_feet, whole_share
from flatten.hides.laid_cut import LaidHides
from flatten.hides.plan import hide_plan_drawing
from flatten.report.amounts import gross_area
from flatten.report.markup import figure, fixed, item_list, joined_up, table
from meshes.base.units import Unit, in_shop_unit
from meshes.schema.cover_tables import ZONES


def net_mm2(laid: LaidHides) -> float:
    """Area of all pieces that lie on hides."""
    return sum(use.pieces_mm2 for use in hide_uses(laid) if use.roll_mm is None)


def laid_text(laid: LaidHides, *, unit: Unit) -> str:
    """The figures of a layout as lines of plain text, lengths and areas as the shop has them."""
    # In square feet a figure is read off what stands here, which rounds it once more: so one place more.
    places, lines = 3 if unit == "in" else 2, []
    for use in hide_uses(laid):
        if use.roll_mm is not None:
            lines.append(
                f"{use.name}: {use.roll_mm / 1000.0:.2f} m, {100 * use.share:.1f} % of what is usable in pieces"
            )
            continue
        zones = ", ".join(
            f"{name} {use.zones_mm2[name] / 1e6:.{places}f} m2" for name in ZONES if use.zones_mm2[name] > 0.0
        )
        lines.append(
            f"{use.name}: {use.area_mm2 / 1e6:.{places}f} m2, {100 * use.share:.1f} % in pieces "
            f"({100 * use.share_without_remainder:.1f} % without what is left beyond the last piece, "
            f"{use.free_mm:.0f} mm); by zone: {zones}"
        )
    if share := whole_share(laid):
        net = net_mm2(laid)
        thumb = ", ".join(f"{100 * y:g} %: {gross_area(net, y) / 1e6:.{places}f} m2" for y in THUMB_YIELDS)
        lines.append(
            f"pieces {net / 1e6:.{places}f} m2; hides cut {net / share / 1e6:.{places}f} m2, "
            f"measured yield {100 * share:.1f} %; rules of thumb say: {thumb}"
        )
    if laid.unplaced:
        lines.append(f"no room: {', '.join(laid.unplaced)}")
    if laid.seconds is not None:
        lines.append(f"sought for {laid.seconds:g} s, {laid.rounds} rounds: another run may give another layout")
    lines += [str(problem) for problem in laid.problems]
    return in_shop_unit("\n".join(lines), unit=unit)


def hides_section(laid: LaidHides, *, unit: Unit) -> Markup:
    """The report's part about hides: plans, yield, leather to order."""
    uses = hide_uses(laid)
    if not uses:
        return item_list([str(problem) for problem in laid.problems])
    places = 3 if unit == "in" else 2
    rows = [
        [
            use.name,
            fixed(use.area_mm2 / 1e6, places),
            fixed(use.pieces_mm2 / 1e6, places),
            f"{100 * use.share:.0f} %",
            f"{100 * use.share_without_remainder:.0f} %",
            *("" if use.roll_mm is not None else fixed(use.zones_mm2[name] / 1e6, places) for name in ZONES),
        ]
        for use in uses
    ]
    head = ["hide", "m²|", "pieces m²|", "yield|", "without remainder|", *(f"{name} m²|" for name in ZONES)]
    parts = [table(head, rows, caption="Where the pieces come from", kind="small", unit=unit)]
    parts += [_to_order(laid, unit=unit)] if whole_share(laid) else []
    for number in laid.used:
        drawing = hide_plan_drawing(laid, number, unit=unit)
        parts.append(figure(drawing.svg(), f"Plan of {laid.plan.hides[number].name}; full size in its DXF and SVG"))
    if laid.unplaced or laid.problems:
        parts.append(item_list([str(problem) for problem in laid.problems]))
    return joined_up(parts)


def _to_order(laid: LaidHides, *, unit: Unit) -> Markup:
    """Leather to order with the yield measured, beside what rules of thumb say; areas in the shop's measure and as
    tanneries sell it, in square feet."""
    net, share = net_mm2(laid), whole_share(laid)
    yields = [(f"measured on these hides, {100 * share:.0f} %", share)]
    yields += [(f"rule of thumb, {100 * y:g} %", y) for y in THUMB_YIELDS]
    sold = unit == "mm"
    places, rows = 2 if sold else 3, []
    for words, used in yields:
        gross = gross_area(net, used)
        feet = [fixed(in_square_feet(gross))] if sold else []
        rows.append([words, fixed(gross / 1e6, places), *feet, fixed((gross - net) / 1e6, places)])
    caption = in_shop_unit(
        f"Leather to order for {net / 1e6:.{places}f} m² of pieces, strips and test strips", unit=unit
    )
    head = ["share of the hide used", "m²|", *(["sq ft|"] if sold else []), "waste m²|"]
    return table(head, rows, caption=caption, kind="small", unit=unit)
