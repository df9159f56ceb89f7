"""How many uploaded files are read at a time."""

import threading

ONE_AT_A_TIME = threading.Lock()
"""A file at the limits takes hundreds of MiB while it is read, and several at once would be read no sooner."""
