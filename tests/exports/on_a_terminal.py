#!/usr/bin/env python3
"""Reads an export that comes slowly, once with stderr on a terminal and once with stderr in a pipe.

    python on_a_terminal.py OFFCURVE

On the terminal a line of progress must be drawn, must name the file, and must be gone at the end; in the pipe no byte of
it may stand. The export is a named pipe that is fed for longer than the program waits before it draws.
"""

import os
import pathlib
import pty
import subprocess
import sys
import tempfile
import threading
import time

# The program draws nothing before a second has gone by.
SECONDS = 2.5
# More bytes than it looks at before it knows that it reads a text: these come at once.
ROWS = 8000
PAUSES = 40


def feed(pipe):
    with open(pipe, "w", encoding="utf-8") as out:
        out.write("Time,P-1 Speed (%)\n")
        for row in range(ROWS):
            out.write(f"2026-01-{1 + row // 1440:02} {row // 60 % 24:02}:{row % 60:02},{40 + row % 7}.5\n")
        for _ in range(PAUSES):
            out.write("\n")
            out.flush()
            time.sleep(SECONDS / PAUSES)


def drain(end, found):
    while True:
        try:
            part = os.read(end, 65536)
        except OSError:  # a terminal whose other side is closed
            return
        if not part:
            return
        found.append(part)


def run(offcurve, folder, open_pair):
    """Everything that the program wrote to stderr."""
    pipe = folder / "slow.csv"
    os.mkfifo(pipe)
    ours, theirs = open_pair()
    found = []
    threads = [threading.Thread(target=feed, args=(pipe,), daemon=True), threading.Thread(target=drain, args=(ours, found), daemon=True)]
    for thread in threads:
        thread.start()
    command = [offcurve, "inspect", str(pipe), "--timezone", "UTC"]
    status = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=theirs, timeout=60).returncode
    os.close(theirs)
    for thread in threads:
        thread.join(10)
    pipe.unlink()
    if status != 0:
        sys.exit(f"{' '.join(command)} ended with status {status}: {b''.join(found)!r}")
    return b"".join(found)


def main():
    offcurve = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        on_terminal = run(offcurve, folder, pty.openpty)
        in_pipe = run(offcurve, folder, os.pipe)
    if b"reading " not in on_terminal or b"slow.csv, 0 MB" not in on_terminal:
        sys.exit(f"no line of progress on a terminal: {on_terminal!r}")
    if not on_terminal.rstrip(b"\r\n").split(b"slow.csv, 0 MB")[-1].startswith(b"\r\x1b[2K"):
        sys.exit(f"the line of progress is not wiped out at the end: {on_terminal!r}")
    if b"\x1b" in in_pipe or b"reading " in in_pipe:
        sys.exit(f"progress where there is no terminal: {in_pipe!r}")
    print("progress: drawn on a terminal, wiped out at the end, nothing of it in a pipe")


if __name__ == "__main__":
    main()
