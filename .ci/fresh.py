"""Fails when a build compiled a library that an earlier build should have left ready.

    python3 fresh.py CARGO_MESSAGES PREFIX...

CARGO_MESSAGES is what cargo printed with --message-format=json; a library is watched when its name begins with a PREFIX.
"""

import json
import sys

path, *prefixes = sys.argv[1:]
seen, compiled = set(), set()
with open(path, encoding="utf-8") as lines:
    for line in lines:
        if not line.startswith("{"):
            continue
        message = json.loads(line)
        if message["reason"] != "compiler-artifact":
            continue
        name = message["target"]["name"]
        if name.startswith(tuple(prefixes)):
            seen.add(name)
            if not message["fresh"]:
                compiled.add(name)

missing = [p for p in prefixes if not any(name.startswith(p) for name in seen)]
if missing:
    sys.exit(f"the build names no library that begins with {', '.join(missing)}: nothing was checked")
if compiled:
    sys.exit(f"compiled a second time: {', '.join(sorted(compiled))}; a dev-dependency changes their features")
print(f"{len(seen)} libraries found ready")
