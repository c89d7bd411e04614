#!/usr/bin/env python3
"""The house's one command: `python3 manage.py studio` starts it, `python3 manage.py test` tries it out.

Standard library only, and readable by any Python 3, so that one that is too old can still say so.
"""

import os
import sys

NEEDED = (3, 11)


def too_old():
    """The sentence for a Python that cannot run the house, naming a newer one where this machine has it."""
    here = "This is Python {}.{}; Dyehouse needs Python {}.{} or newer.".format(
        *(sys.version_info[:2] + NEEDED)
    )
    for minor in range(19, NEEDED[1] - 1, -1):
        name = "python3.{}".format(minor)  # noqa: UP032
        for folder in os.environ.get("PATH", "").split(os.pathsep):
            if os.path.isfile(os.path.join(folder, name)):
                return "{} One is here; write: {} {}".format(here, name, " ".join(sys.argv))
    if os.path.exists("/etc/debian_version"):
        return here + " Debian 12 and Ubuntu 24.04 and later bring one: apt install python3 python3-venv"
    return here + " It is at https://www.python.org/downloads/; then run the same command with it."


def main():
    if sys.version_info < NEEDED:
        sys.exit(too_old())
    root = os.path.dirname(os.path.abspath(__file__))
    if root not in sys.path:
        sys.path.insert(0, root)
    from dyehouse.running import bootstrap

    sys.exit(bootstrap.main(sys.argv[1:]))


if __name__ == "__main__":
    main()
