"""What the bundle starts: by a double-click the desk of the person's documents, with arguments the
command that they name.
"""

import multiprocessing
import sys

from handoff.cli.main import main

if __name__ == "__main__":
    multiprocessing.freeze_support()
    sys.exit(main(sys.argv[1:] or ["desk", "--documents"]))
