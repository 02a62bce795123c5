"""What a trimmer should mind before cutting and while working: said in every report, in words, never in colours."""

from meshes.sheet.whole import Sheet

CAUTIONS = (
    "First cover: cut it in cheap cloth that stretches as little as your leather, sew it, fit it and correct the "
    "pieces before any leather is cut. Figures make the first cut close; only a fitting makes it right.",
    "Adhesive: its vapour harms and can catch fire in a flash. Open the doors, keep flames, heaters, sparks and "
    "pilot lights away, wear what the maker's safety sheet asks for, and let every coat dry before covering.",
    "Springs: coils and tied springs are under load. Hold them down before a twine, clip or hook is cut, keep your "
    "face out of their way, and wear eye protection.",
    "Needles and blades: fix the work before cutting, cut away from your hand, take the foot off the pedal before "
    "fingers go near the needle, and count pins and needles out of the seat before it leaves.",
    "Fire: leather, foam, wadding, adhesive and thread burn each in their own way. Use only materials allowed for "
    "the place of use and keep the proof; this program knows nothing of their fire behaviour.",
    "Seats with belts, airbags, sensors, heaters or anchorages: a cover can keep them from working. Follow the "
    "vehicle's or vessel's instructions and the local codes, and leave such seats to licensed practice.",
)

_SPRINGS = "Springs:"


def cautions_for(sheet: Sheet) -> tuple[str, ...]:
    """The cautions that concern the seats of a sheet: where none stands on springs none is told of them."""
    springs = any(pad.springs is not None for pad in sheet.pads)
    return tuple(one for one in CAUTIONS if springs or not one.startswith(_SPRINGS))
