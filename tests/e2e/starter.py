"""Starts servers quickly, for tests that kill them: imports the service once and forks.

    python -m tests.e2e.starter

Takes ports on standard input, one a line, starts a server on each, and prints its process id. Settings come from the
environment. A server is an ordinary process that shares nothing with the others.
"""

import os
import signal
import sys

import uvicorn

from pool_api.__main__ import app


def main() -> None:
    """Start a server for every line until standard input ends."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            uvicorn.run(
                app,
                factory=True,
                host="127.0.0.1",
                port=int(line),
                loop="uvloop",
                http="httptools",
                access_log=False,
                log_level="critical",
            )
            return
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
