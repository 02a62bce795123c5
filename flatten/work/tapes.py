"""The report page's part about tapes laid over the seat: each beside what is computed there, and what explains them."""

from markupsafe import Markup

from flatten.job.pipeline import Job
from flatten.report.markup import fixed, joined_up, part, table
from meshes.tapes.told import explained_words


def tapes_section(job: Job) -> Markup:
    """The part; empty for a sheet without tapes."""
    tapes = job.tapes
    if not tapes.taped:
        return Markup("")
    rows = [
        [
            f"{one.control.pad}, {one.control.words}",
            fixed(one.control.length),
            "–" if one.length_mm is None else fixed(one.length_mm),
            f"{one.off_mm:+.1f}",
            fixed(one.error_mm),
            "measure again" if one.differs else "agrees",
        ]
        for one in tapes.taped
    ]
    head = ["tape", "read mm|", "computed mm|", "tape longer by mm|", "a tape is off by mm|", ""]
    shown = table(head, rows, caption="Tapes beside what is computed there", kind="small", unit=job.sheet.unit)
    words = explained_words(tapes) if any(one.differs for one in tapes.taped) else ""
    return joined_up([shown, part("paragraph", f"{words[0].upper()}{words[1:]}.")] if words else [shown])
