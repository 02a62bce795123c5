"""The report as one page that needs nothing else: no other file, no network, nothing that runs.

Written for the trimmer at the bench: the verdict first, then pictures, pieces, seams, padding, and what to mind.
"""

from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path

from flatten.job.continuing import continues_words
from flatten.job.pipeline import Job
from flatten.leather.verdict import EASE, EASE_AREA, EASE_REACH_MM
from flatten.paper.cautions import CAUTIONS
from flatten.pieces.seams import INTERVAL_MM, INTERVAL_TOLERANCE_MM, SEAM_TOLERANCE_MM
from flatten.report.advice import overall
from flatten.report.cut_list import SQUARE_FOOT_M2, YIELDS, gross_area, net_area_mm2, welt_area_mm2, welt_mm
from flatten.report.markup import SUFFIXES, data_uri, defined, esc, fixed, listed, percent, table
from flatten.report.padding import padding_part, stock_part
from flatten.report.pieces import pieces_section, verdict_table
from flatten.report.pleats import pleats_section
from flatten.report.settled import sections_part
from meshes.base.files import number
from meshes.base.problems import Problem
from meshes.records.pad import Layer
from meshes.seat.build import BuiltPad

WORDS = (
    ("stretch", "Length on the seat divided by length on the piece. 3 % stretch: the leather is pulled 3 % longer."),
    ("fullness", "The opposite: the piece has more leather there than the seat; it must be eased in or it wrinkles."),
    ("demand", "What the shape asks of the leather: largest stretch against smallest over the whole piece."),
    ("budget", "The demand at which the first place of the piece is at the most the leather may be stretched there."),
    ("floor", "A proven lower limit of the demand: no piece in one part can do with less. A dash: none worked out."),
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
# The code of a seam whose sides differ.
SEAM_CODE = "F301"
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def report_html(job: Job, pictures: Mapping[str, Path]) -> bytes:
    """The page as UTF-8. pictures: by name, files of PNG, JPEG or WebP that are taken into the page.

    One that is missing is left out. The same job and pictures give the same bytes.
    """
    sections = [
        ("verdict", "Verdict", _verdict(job)),
        ("seat", "The seat", _pictures(pictures)),
        ("pieces", "Pieces", pieces_section(job)),
        ("seams", "Seams", _seams(job)),
        ("pleats", "Pleats", pleats_section(job)),
        ("pads", "Pads and padding", "".join(_pad(job, pad) for pad in job.pads) + stock_part(job)),
        ("leather", "Leather", _leather(job)),
        ("problems", "Problems and notes", _problems(job.problems)),
        ("cautions", "Before you cut", listed([_bold_start(text) for text in CAUTIONS])),
        ("words", "Words", _words()),
    ]
    shown = [section for section in sections if section[2]]
    links = " ".join(f'<a href="#{key}">{title}</a>' for key, title, _ in shown)
    body = "".join(f'<section id="{key}"><h2>{title}</h2>{text}</section>' for key, title, text in shown)
    page = _PAGE.format(
        policy=esc(POLICY),
        title=esc(job.sheet.name),
        style=files("flatten.report").joinpath("report.css").read_text(encoding="utf-8"),
        leather=esc(_leather_line(job)),
        links=links,
        body=body,
    )
    return page.encode()


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<title>{title}: cover patterns</title>
<style>
{style}</style>
</head>
<body>
<header><h1>{title}</h1><p>{leather}</p><nav aria-label="Parts of this report">{links}</nav></header>
<main>
{body}
</main>
<footer>Lengths in millimetres. The patterns are in patterns.pdf (tiled), patterns-roll.pdf, patterns.svg and
patterns.dxf; what to cut and buy is in cutlist.csv; all figures are in report.json. Made with Trimloft.</footer>
</body>
</html>
"""


def _leather_line(job: Job) -> str:
    card = job.leather
    guessed = any(text[:2] in ("M:", "P:") for text in card.source.values())
    return (
        f"Cover patterns for {_and([pad.pad.name for pad in job.pads])}. Leather: {card.name}, "
        f"{number(card.thickness_mm, 2)} mm thick. It is pulled {percent(card.pull)} to be smooth and may be stretched "
        f"{percent(card.stretch_along)} along and {percent(card.stretch_across)} across the backbone."
        + (" Some of these figures are habit, not measured: test your own hide." if guessed else "")
    )


def _and(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _verdict(job: Job) -> str:
    verdicts = [job.flats[piece.panels[0]].verdict for piece in job.pieces]
    off = sum(not seam.sews for seam in job.seams)
    seams = f" {off} of {len(job.seams)} seams differ by more than a hand eases in." if off else ""
    first = (
        "<div class='note'><p><strong>Cut the first one in cheap cloth and fit it.</strong> The figures make the first "
        "cut close; only a fitting makes it right.</p></div>"
    )
    proven = ""
    if all(job.flats[piece.panels[0]].certified for piece in job.pieces):
        proven = '<p class="quiet">Every piece is proven to lie flat without a fold and without lying over itself.</p>'
    return f'<p class="lead">{esc(overall(verdicts))}{esc(seams)}</p>{verdict_table(job)}{proven}{first}'


def _pictures(pictures: Mapping[str, Path]) -> str:
    shown = []
    for name, path in pictures.items():
        if path.suffix.lower() not in SUFFIXES or not path.is_file():
            continue
        words = esc(name.replace("_", " ").replace("-", " "))
        source = data_uri(path.read_bytes(), SUFFIXES[path.suffix.lower()])
        shown.append(f'<figure><img src="{source}" alt="{words}"><figcaption>{words}</figcaption></figure>')
    return f'<div class="pictures">{"".join(shown)}</div>' if shown else ""


def _seams(job: Job) -> str:
    rows = []
    for seam in job.seams:
        longer = seam.b if seam.mismatch_mm > 0 else seam.a
        differ = abs(seam.mismatch_mm)
        name = esc(seam.name) + (" (welt)" if seam.welt else "")
        rows.append(
            [
                name,
                *(fixed(mm) for mm in (seam.length_a_mm, seam.length_b_mm, seam.seat_mm)),
                f"{fixed(differ)} mm: {esc(longer)}" if differ >= 0.05 else "equal",
                "sews" if seam.sews else '<span class="flag">✗ ease in or part</span>',
            ]
        )
    head = ["seam", "first mm|", "second mm|", "on the seat mm|", "longer by, and which", "at the machine"]
    note = (
        "Length along the sew line on the first and on the second piece named, and on the padded seat. A seam sews "
        f"when its sides differ by no more than {number(SEAM_TOLERANCE_MM, 1)} mm in all and "
        f"{number(INTERVAL_TOLERANCE_MM, 1)} mm over any {number(INTERVAL_MM, 0)} mm of it."
    )
    return table(head, rows, caption=note) if rows else "<p>No seams: every pad is covered in one piece.</p>"


def _material_source(job: Job, name: str) -> str:
    material = job.sheet.materials[name]
    told = [material.source or "no source given", material.curve_source]
    return f"{esc(name.replace('_', ' '))}: {esc(', '.join(text for text in told if text))}"


def _pad(job: Job, pad: BuiltPad) -> str:
    facts = pad.facts
    low, high = facts.thickness_mm
    area = f"Cover {fixed(facts.area_mm2 / 1e6, 2)} m², free padding {number(low, 0)} to {number(high, 0)} mm thick."
    parts = [f"<h3>{esc(pad.pad.name)}</h3><p>{area}</p>"]
    if facts.layers:
        rows = [
            [
                str(k + 1),
                esc(material.replace("_", " ")),
                esc(_where(pad, layer)),
                number(thick, 1),
                fixed(size / 1e6, 3),
            ]
            for k, (layer, (material, _, thick, size)) in enumerate(zip(pad.pad.layers, facts.layers, strict=True))
        ]
        head = ["layer", "material", "where", "thickness mm|", "area m²|"]
        parts.append(table(head, rows, caption="Padding, from the support outwards", kind="small"))
        sources = dict.fromkeys(material for material, _, _, _ in facts.layers)
        parts.append(
            "<p>Where the numbers come from: " + "; ".join(_material_source(job, n) for n in sources) + ".</p>"
        )
    if facts.profiles:
        rows = [
            [f"{esc(fact.name)} mm", str(fact.points)]
            + [fixed(value, 2) for value in (fact.residual_mm, fact.sensitivity, fact.left_out_mm)]
            for fact in facts.profiles
        ]
        caption = "How well the built shape meets what was measured, and how much each reading counts"
        head = ["profile", "points|", "missed by at most mm|", "moves per mm of a reading|", "a reading left out mm|"]
        parts.append(table(head, rows, caption=caption, kind="small"))
    uneven = [(what, mm) for what, mm in facts.left_right if abs(mm) >= 0.05]
    if uneven:
        rows = [[esc(what), f"{mm:+.1f}"] for what, mm in uneven]
        caption = "Left and right differ; check them on the frame"
        parts.append(table(["measured on both sides", "right minus left mm|"], rows, caption=caption, kind="small"))
    elif facts.left_right:
        parts.append("<p>Left and right were measured alike.</p>")
    if words := continues_words(pad):
        parts.append(f"<p>{esc(pad.pad.name)} {esc(words)}.</p>")
    return "".join(parts) + sections_part(pad) + padding_part(job, pad)


def _where(pad: BuiltPad, layer: Layer) -> str:
    """A layer's place in words; a backrest has a top and a bottom."""
    word = "everywhere" if layer.where == "all" else pad.pad.side_word(layer.where)
    return word if layer.within is None else f"{word}, within {layer.within:g} mm of its edge"


def _leather(job: Job) -> str:
    card = job.leather
    net, strips = net_area_mm2(job) / 1e6, welt_area_mm2(job) / 1e6
    rows = [["pieces up to the cut lines", *_area(net)]]
    if strips:
        rows.append([f"strips for {fixed(welt_mm(job) / 1000.0, 2)} m of welt", *_area(strips)])
    for share in YIELDS:
        rows.append([f"to buy when {100 * share:.0f} % of the hide is used", *_area(gross_area(net + strips, share))])
    values = {
        "thickness_mm": f"{number(card.thickness_mm, 2)} mm",
        "pull": percent(card.pull),
        "stretch_along": percent(card.stretch_along),
        "stretch_across": percent(card.stretch_across),
    }
    words = {"thickness_mm": "thickness", "pull": "pull that keeps it smooth", "stretch_along": "most stretch along"}
    words["stretch_across"] = "most stretch across"
    figures = [[words[key], value, esc(_origin(card.source[key]))] for key, value in values.items()]
    return table(["leather", "m²|", "sq ft|"], rows, caption="How much", kind="small") + table(
        [esc(card.name), "value|", "where it comes from"], figures, caption="What it gives", kind="small"
    )


def _origin(source: str) -> str:
    """A source without the letter that grades it."""
    return source[3:] if source[1:3] == ": " and source[0] in "ABCMP" else source


def _area(area_m2: float) -> list[str]:
    return [fixed(area_m2, 2), fixed(area_m2 / SQUARE_FOOT_M2)]


def _problems(problems: tuple[Problem, ...]) -> str:
    """All of them but those of seams, which stand in the table of seams already."""
    rows = []
    for problem in problems:
        if problem.code != SEAM_CODE:
            where = problem.where + (f" (line {problem.line} of the sheet)" if problem.line else "")
            rows.append([esc(problem.code), esc(where), esc(problem.text)])
    seams = sum(problem.code == SEAM_CODE for problem in problems)
    listed_above = f'<p>{seams} that concern seams are marked in <a href="#seams">the table of seams</a>.</p>'
    none = "" if seams else "<p>None.</p>"
    shown = table(["code", "where", "what was found, what to do"], rows) if rows else none
    return shown + (listed_above if seams else "")


def _bold_start(text: str) -> str:
    first, rest = text.split(": ", 1)
    return f"<strong>{esc(first)}:</strong> {esc(rest)}"


def _words() -> str:
    return defined([(esc(word), esc(text)) for word, text in WORDS])
