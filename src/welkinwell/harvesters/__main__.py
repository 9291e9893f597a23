"""What the march calls for a kind, as it was printed from its flow text.

python -m welkinwell.harvesters passive_box            # where the printed file lies
python -m welkinwell.harvesters passive_box --text     # the file itself
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from welkinwell.harvesters.kinds import LISTED


def main(arguments: Sequence[str] | None = None) -> None:
    """Print where a kind's kernel lies, or its text."""
    program = "python -m welkinwell.harvesters"
    parser = argparse.ArgumentParser(prog=program, description="A kind's printed kernel.")
    parser.add_argument("kind", choices=list(LISTED))
    parser.add_argument("--text", action="store_true", help="print the text instead of its place")
    asked = parser.parse_args(arguments)
    kernel = LISTED[asked.kind].part("flows").KERNEL
    print(kernel.text if asked.text else kernel.place)


if __name__ == "__main__":
    main()
