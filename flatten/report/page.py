"""The report as one page that needs nothing else: no other file, no network, nothing that runs.

Written for the trimmer at the bench: the verdict first, then the seat, and after it the work in its order: buy, pad,
cut, sew, fit. What a trimmer says comes first; the words of the figures stand in the list of words.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

from markupsafe import Markup

from flatten.edges.order import sewing_order
from flatten.fit.words import figures_words
from flatten.job.continuing import continues_words
from flatten.job.pipeline import Job
from flatten.leather.verdict import EASE, EASE_AREA, EASE_REACH_MM
from flatten.paper.cautions import cautions_for
from flatten.pieces.seams import INTERVAL_MM, INTERVAL_TOLERANCE_MM, SEAM_TOLERANCE_MM
from flatten.report.advice import no_room_words, overall
from flatten.report.buying import buying_section
from flatten.report.fitting import BOTH_WAYS, fitting_section, shorter_words
from flatten.report.markup import (
    SUFFIXES,
    data_uri,
    defined,
    fixed,
    item_list,
    joined_up,
    part,
    percent,
    report_section,
    table,
    whole_page,
)
from flatten.report.padding import padding_part
from flatten.report.pieces import pieces_section, verdict_table
from flatten.report.pleats import pleats_section
from flatten.report.settled import sections_part
from flatten.trim.words import board_words
from meshes.base.files import number
from meshes.base.frozen_map import FrozenMap
from meshes.base.problems import Problem
from meshes.base.units import Unit, in_shop_unit, span
from meshes.closed.words import closed_words
from meshes.records.frame import AS_EVER
from meshes.records.pad import Layer
from meshes.seat.build import BuiltPad
from meshes.tapes.told import disagreeing_words

WORDS = (
    ("stretch", "Length on the seat divided by length on the piece. 3 % stretch: the leather is pulled 3 % longer."),
    ("fullness", "The opposite: the piece has more leather there than the seat; it must be eased in or it wrinkles."),
    (
        "demand",
        "How much a piece must stretch: what the shape asks of the leather, largest stretch against smallest over the "
        "whole piece.",
    ),
    (
        "budget",
        "How much it may, likewise from its least stretch on: the demand at which the first place of the piece is at "
        "the most the leather may be stretched there.",
    ),
    (
        "floor",
        "The least any piece must: a proven lower limit of the demand, no piece in one part can do with less. A dash: "
        "none worked out.",
    ),
    (
        "verdict",
        f"Fits: no place asks more than the leather gives there. Fits with ease: places do, by {percent(EASE)} at the "
        f"most, within {EASE_REACH_MM:.0f} mm of a seam in which fullness can be worked, on {percent(EASE_AREA, 0)} of "
        "the piece or less; these limits are proposed. Too tight: more than that. Proven too tight: so is any piece in "
        "one part.",
    ),
    ("tack line", "Where the cover is pulled to and fixed on the frame."),
    ("allowance", "Leather beyond the sew line: to sew, to pull and grip, or to turn in by hand."),
)
# What the foot of the page says of its lengths.
LENGTHS: Mapping[Unit, str] = FrozenMap(
    {"mm": "Lengths in millimetres.", "in": "Lengths in inches to the nearest sixteenth, with millimetres beside."}
)
# The code of a seam whose sides differ.
SEAM_CODE = "F301"
# Left and right that differ by less were measured alike.
UNEVEN_MM = 0.05


def report_html(job: Job, pictures: Mapping[str, Path], more: Sequence[tuple[str, str, Markup]] = ()) -> bytes:
    """The page as UTF-8. pictures: by name, files of PNG, JPEG or WebP that are taken into the page.

    One that is missing is left out. more: parts (key, title, body) that follow what to buy. The same job and
    pictures give the same bytes.
    """
    # In the order of the work, after the verdict and what it is about.
    sections = [
        ("verdict", "Verdict", _verdict(job)),
        ("seat", "The seat", _pictures(pictures)),
        ("buy", "Buy", buying_section(job)),
        *more,
        ("pads", "Pad", joined_up([_pad(job, k) for k in range(len(job.pads))])),
        ("cautions", "Before you cut", item_list([_bold_start(text) for text in cautions_for(job.sheet)])),
        ("pieces", "Cut", pieces_section(job)),
        ("pleats", "Sew the pleats", pleats_section(job)),
        ("seams", "Sew the seams", _seams(job)),
        ("fit", "Fit", fitting_section(job)),
        ("problems", "Problems and notes", _problems(job.problems)),
        ("leather", "The leather", _leather(job)),
        ("words", "Words", defined(WORDS)),
    ]
    parts = [{"key": key, "title": title, "body": body} for key, title, body in sections if body]
    name = job.sheet.name
    text = whole_page(
        "report.html",
        title=f"{name}: cover patterns",
        heading=name,
        leather=_leather_line(job),
        parts=parts,
        lengths=LENGTHS[job.sheet.unit],
    )
    return in_shop_unit(text, unit=job.sheet.unit).encode()


def _leather_line(job: Job) -> str:
    card = job.leather
    guessed = any(text[:2] in ("M:", "P:") for text in card.source.values())
    return (
        f"Cover patterns for {_and([pad.pad.name for pad in job.pads])}. Leather: {card.name}, "
        f"{number(card.thickness_mm, 2)} mm thick. It is pulled at least {percent(card.pull)} to be smooth and may be "
        f"stretched {percent(card.stretch_along)} along and {percent(card.stretch_across)} across the backbone."
        + (" Some of these figures are habit, not measured: test your own hide." if guessed else "")
    )


def _and(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _verdict(job: Job) -> Markup:
    verdicts = [job.flats[piece.panels[0]].verdict for piece in job.pieces]
    off = sum(not seam.sews for seam in job.seams)
    seams = f" {off} of {len(job.seams)} seams differ by more than a hand eases in." if off else ""
    proven = all(job.flats[piece.panels[0]].certified for piece in job.pieces)
    folds = sum(not job.flats[piece.panels[0]].certified for piece in job.pieces)
    unproven = f" {folds} of {len(verdicts)} pieces may fold as drawn: do not cut them." if folds else ""
    fitted = "" if job.fitting is None else figures_words(job.fitting.told)
    fit = overall(verdicts) + unproven + seams
    told = (fit, no_room_words(job.problems), disagreeing_words(job.tapes), fitted)
    words = " ".join(part for part in told if part)
    return report_section("verdict", words=words, table=verdict_table(job), proven=proven)


def _pictures(pictures: Mapping[str, Path]) -> Markup:
    shown = [
        (name.replace("_", " ").replace("-", " "), data_uri(path.read_bytes(), SUFFIXES[path.suffix.lower()]))
        for name, path in pictures.items()
        if path.suffix.lower() in SUFFIXES and path.is_file()
    ]
    return report_section("pictures", shown=shown) if shown else Markup("")


def _seams(job: Job) -> Markup:
    rows = []
    for seam in job.seams:
        longer = seam.b if seam.mismatch_mm > 0 else seam.a
        differ = abs(seam.mismatch_mm)
        name = seam.name + (" (welt)" if seam.welt else "")
        rows.append(
            [
                name,
                *(fixed(mm) for mm in (seam.length_a_mm, seam.length_b_mm, seam.seat_mm)),
                f"{fixed(differ)} mm: {longer}" if differ >= 0.05 else "equal",
                "sews" if seam.sews else part("flag", "✗ ease in or part"),
            ]
        )
    head = ["seam", "first mm|", "second mm|", "on the seat mm|", "longer by, and which", "at the machine"]
    note = (
        "Length along the sew line on the first and on the second piece named, and on the padded seat. A seam sews "
        f"when its sides differ by no more than {number(SEAM_TOLERANCE_MM, 1)} mm in all and "
        f"{number(INTERVAL_TOLERANCE_MM, 1)} mm over any {number(INTERVAL_MM, 0)} mm of it. {shorter_words(job)}"
    )
    if not rows:
        return part("paragraph", "No seams: every pad is covered in one piece.")
    return joined_up([table(head, rows, caption=note, unit=job.sheet.unit), _sewing(job)])


def _sewing(job: Job) -> Markup:
    """The order of sewing, with what is done at every seam; only where the sheet speaks of kinds of seams or of
    fixings."""
    if not job.makes and all(pad.pad.fixings == AS_EVER for pad in job.pads):
        return Markup("")
    steps = sewing_order(job.pads, job.makes)
    rows = [[str(k + 1), step.seam, step.kind, step.words, str(step.rows)] for k, step in enumerate(steps)]
    caption = "Order of sewing: what ends in a seam is sewn before it"
    return table(["", "seam", "kind", "what is done", "rows of thread|"], rows, caption=caption, unit=job.sheet.unit)


def _material_source(job: Job, name: str) -> str:
    material = job.sheet.materials[name]
    told = [material.source or "no source given", material.curve_source]
    return f"{name.replace('_', ' ')}: {', '.join(text for text in told if text)}"


def _pad(job: Job, k: int) -> Markup:
    pad = job.pads[k]
    facts = pad.facts
    low, high = facts.thickness_mm
    padding = f"free padding {span(number(low, 0), number(high, 0))} mm thick" if high > 0.0 else "no padding"
    uneven = any(abs(mm) >= UNEVEN_MM for _, mm in facts.left_right)
    told = report_section(
        "pad",
        name=pad.pad.name,
        area=f"Cover {fixed(facts.area_mm2 / 1e6, 2)} m², {padding}.",
        layers=_layers(pad, job.sheet.unit),
        sources=[_material_source(job, name) for name in dict.fromkeys(layer[0] for layer in facts.layers)],
        profiles=_profiles(pad, job.sheet.unit),
        sides=_sides(pad, job.sheet.unit) if uneven else "",
        alike=bool(facts.left_right) and not uneven,
        continues=continues_words(pad),
        closed=closed_words(pad) or board_words(pad),
    )
    return joined_up([told, sections_part(pad, job.tensions[k], job.sheet.unit), padding_part(job, pad)])


def _layers(pad: BuiltPad, unit: Unit) -> Markup:
    rows = [
        [str(k + 1), material.replace("_", " "), _where(pad, layer), number(thick, 2), fixed(size / 1e6, 3)]
        for k, (layer, (material, _, thick, size)) in enumerate(zip(pad.pad.layers, pad.facts.layers, strict=True))
    ]
    head = ["layer", "material", "where", "thickness mm|", "area m²|"]
    caption = "Padding, from the support outwards"
    return table(head, rows, caption=caption, kind="small", unit=unit) if rows else Markup("")


def _profiles(pad: BuiltPad, unit: Unit) -> Markup:
    rows = [
        [f"{fact.name} mm", str(fact.points)]
        + [fixed(value, 2) for value in (fact.residual_mm, fact.sensitivity, fact.left_out_mm)]
        for fact in pad.facts.profiles
    ]
    caption = "How well the built shape meets what was measured, and how much each reading counts"
    head = ["profile", "points|", "missed by at most mm|", "moves per mm of a reading|", "a reading left out mm|"]
    return table(head, rows, caption=caption, kind="small", unit=unit) if rows else Markup("")


def _sides(pad: BuiltPad, unit: Unit) -> Markup:
    rows = [[what, f"{mm:+.1f}"] for what, mm in pad.facts.left_right if abs(mm) >= UNEVEN_MM]
    caption = "Left and right differ; check them on the frame"
    return table(["measured on both sides", "right minus left mm|"], rows, caption=caption, kind="small", unit=unit)


def _where(pad: BuiltPad, layer: Layer) -> str:
    """A layer's place in words; a backrest has a top and a bottom."""
    word = "everywhere" if layer.where == "all" else pad.pad.side_word(layer.where)
    word = word if layer.within is None else f"{word}, within {layer.within:g} mm of its edge"
    return word if layer.block is None else f"{word}, a block"


def _leather(job: Job) -> Markup:
    card = job.leather
    values = {
        "thickness_mm": f"{number(card.thickness_mm, 2)} mm",
        "pull": percent(card.pull),
        "stretch_along": percent(card.stretch_along),
        "stretch_across": percent(card.stretch_across),
    }
    words = {"thickness_mm": "thickness", "pull": "pull that keeps it smooth", "stretch_along": "most stretch along"}
    words["stretch_across"] = "most stretch across"
    figures = [[words[key], value, _origin(card.source[key])] for key, value in values.items()]
    head = [card.name, "value|", "where it comes from"]
    return joined_up([table(head, figures, caption="What it gives", kind="small"), part("paragraph", BOTH_WAYS)])


def _origin(source: str) -> str:
    """A source without the letter that grades it."""
    return source[3:] if source[1:3] == ": " and source[0] in "ABCMP" else source


def _problems(problems: tuple[Problem, ...]) -> Markup:
    """All of them but those of seams, which stand in the table of seams already."""
    rows = [
        [problem.code, problem.where + (f" (line {problem.line} of the sheet)" if problem.line else ""), problem.text]
        for problem in problems
        if problem.code != SEAM_CODE
    ]
    shown = table(["code", "where", "what was found, what to do"], rows) if rows else ""
    return report_section("problems", table=shown, seams=sum(problem.code == SEAM_CODE for problem in problems))


def _bold_start(text: str) -> Markup:
    first, rest = text.split(": ", 1)
    return part("lead", first, rest)
