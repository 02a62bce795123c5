"""Which files a job writes, and under which commands: the names that a folder's manifest may list."""

from flatten.seatview.pictures import SEAT
from flatten.written.hide_files import HIDE_FILES
from meshes.folder.output import Writer

NAMES = (
    *("report.json", "report.html", "patterns.pdf", "patterns-roll.pdf", "patterns.svg", "patterns.dxf"),
    *("padding.pdf", "padding-roll.pdf", "padding.svg", "padding.dxf", "cutlist.csv", "seat.glb"),
    "job-sheet.pdf",
    *(file for _, file, _, _ in SEAT),
    *HIDE_FILES,
)
# Both lay the pieces on the hides, `hide` for as long as it is asked to: what the last of them found is there.
MAKE = Writer("make", "trimloft make", NAMES, shares=("hide",))
HIDE = Writer("hide", "trimloft hide", HIDE_FILES, shares=("make",))
# The same job once more with cuts that the sheet does not ask for yet, never in place of the sheet's own.
APPLY = Writer("relief-apply", "trimloft relief --apply", NAMES)
