"""`python -m cuekit`, and the command `cuekit`."""

import signal

# Until there is somebody to tell it in a line, Ctrl-C ends the program without a word (unless it is ignored).
if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
    signal.signal(signal.SIGINT, signal.SIG_DFL)

from cuekit.cli import main

if __name__ == "__main__":
    main()
