"""The command `trimloft`. The commands themselves are in `sheet_commands` and `study_commands`.

Exit 0: done. 1: a fault of the program. 2: bad input, every problem on stderr, nothing written. 3: --strict and some
piece does not fit. 128 + signal: stopped. 141: nobody reads what it prints any more.
"""

import os
import sys
from typing import TYPE_CHECKING

from cyclopts import App, CycloptsError

from flatten.app.fit_command import fit, strip
from flatten.app.page_command import page
from flatten.app.sheet_commands import check, make, start, view
from flatten.app.study_commands import compare, flatten_mesh, hide, readings, relief, section

if TYPE_CHECKING:
    from meshes.base.problems import ProblemError

BAD_INPUT = 2

app = App(
    name="trimloft",
    version="0.1.0",
    help="From a measured seat to full-size cover patterns: the work between the tape measure and the knife.",
    help_format="plaintext",
)
for command in (page, start, make, check, view, compare, readings, section, relief, hide, fit, strip):
    app.command(command)
app.command(flatten_mesh, name="flatten")


def _complain(fault: "ProblemError") -> int:
    from flatten.app.telling import in_the_sheets_unit
    from meshes.base.problems import told

    print(*in_the_sheets_unit(told(fault.problems), fault.problems), sep="\n", file=sys.stderr)
    return BAD_INPUT


def main() -> None:
    """Run the command line and leave with its exit code."""
    from flatten.app.stopping import Stopped, listen, listen_no_more
    from flatten.app.streams import NO_READER, StreamFault, give_up, prepare
    from meshes.base.problems import Problem, ProblemError, plain
    from meshes.folder.temporary import remove_left_over

    # Small sparse solves run many times slower when every process starts its own threads; numpy reads this once, when
    # it is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    listen()
    prepare()
    remove_left_over()
    try:
        code = app(exit_on_error=False, print_error=False, result_action="return_value") or 0
        sys.stdout.flush()
    except CycloptsError as fault:
        print(f"trimloft: C101 {plain(str(fault))}; see trimloft --help", file=sys.stderr)
        code = BAD_INPUT
    except ProblemError as fault:
        code = _complain(fault)
    except MemoryError:
        text = "the memory does not suffice; make mesh in [output] larger, or close other programs"
        code = _complain(ProblemError([Problem("W102", "memory", text)]))
    except StreamFault as fault:
        give_up()
        code = NO_READER if fault.reason is None else _complain(ProblemError([fault.problem]))
    except Stopped as stopped:
        print(stopped, file=sys.stderr)
        code = stopped.exit_code
    listen_no_more()
    sys.exit(code)
