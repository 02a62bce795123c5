"""The command `page`: the bench page in a browser, for one folder of sheets.

Heavy imports stay inside the function so that help is quick.
"""

import sys
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from flatten.app.options import SwitchOn


def page(
    place: Path = Path(),
    /,
    *,
    lan: SwitchOn = False,
    port: int = 0,
    browser: Annotated[bool, Parameter(negative="--no-browser")] = True,
    yes: SwitchOn = False,
) -> int:
    """Open the bench page in a browser: measure, see, decide and print, without writing a sheet by hand.

    Parameters
    ----------
    place
        A folder of sheets, or one sheet. Nothing outside of that folder is read or written.
    lan
        Open it to the shop's network too, for a tablet: prints the address and a code for its camera. Not encrypted.
    port
        The port to use; 0 takes a free one.
    browser
        Open the browser of this computer.
    yes
        With --lan: do not ask before the page is opened to the network.
    """
    from flatten.page.serve import agreed, lan_addresses, opened, run, told

    if lan and not yes:
        agreed(input if sys.stdin is not None and sys.stdin.isatty() else None)
    opening = opened(place, lan=lan, port=port)
    print(*told(opening, lan=lan_addresses() if lan else ()), sep="\n")
    run(opening, browser=browser)
    return 0
