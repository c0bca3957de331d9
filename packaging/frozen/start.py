"""What a frozen bundle starts: the program, or one of its workers, which are the same file started again."""

import multiprocessing
import sys

if __name__ == "__main__":
    multiprocessing.freeze_support()
    from app.__main__ import main

    sys.exit(main())
