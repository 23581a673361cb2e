"""Makes a fleet for the stopwatch: plants that are copies of one, with small differences.

    python make_fleet.py PLANT FOLDER COUNT [EVERY [ROWS]]

PLANT is a folder with a plant.toml and wide exports. FOLDER/site-NN/plant-NN/ get a plant file with a price of its own, and the exports, of which the
first NN rows are left out, of the rest only each EVERY-th row is kept, and of those ROWS at most. Nothing is written where it stands already.
"""

import pathlib
import re
import sys


def main(plant, folder, count, every=1, rows=0):
    plant, folder = pathlib.Path(plant), pathlib.Path(folder)
    text = (plant / "plant.toml").read_text(encoding="utf-8")
    if every > 1:
        text = text.replace('interval = "1 min"', f'interval = "{every} min"')
    exports = sorted(path for path in plant.rglob("*.csv"))
    lines = {path: path.read_bytes().splitlines(keepends=True) for path in exports}
    for k in range(count):
        place = folder / f"site-{k // 10:02}" / f"plant-{k:02}"
        done = place / "plant.toml"
        if done.exists():
            continue
        for path, all_lines in lines.items():
            kept = all_lines[1 + k :: every]
            to = place / path.relative_to(plant)
            to.parent.mkdir(parents=True, exist_ok=True)
            with open(to, "wb") as file:
                file.write(all_lines[0])
                file.writelines(kept[:rows] if rows else kept)
        done.write_text(re.sub(r"(?m)^energy_price = .*$", f"energy_price = {0.15 + k / 1000:.3f}", text), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], *(int(a) for a in sys.argv[3:]))
