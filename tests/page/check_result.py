"""Reads a result as other programs would.

    python tests/page/check_result.py RESULT_FOLDER...

Checks: findings.json against the JSON Schema of the repository, review.ipynb with nbformat and by running its code cells (each finding must have a
cell that counts at least one of its numbers again, and every number must agree with findings.json within the tolerance that the cell states),
operating-points.parquet with polars, the figures as XML, and that report.md names every finding. Of a verification the same with
verification.json, verify.ipynb (whose key cell must give the saving that the file tells) and daily.parquet. Of a folder with
inspection.json and samples.parquet: the schema, the ledger's sums, and counts and means of each point as polars finds them in the table. Of a fleet's folder
the schema, the sums at stake, and the table against fleet.json.
"""

import contextlib
import json
import pathlib
import sys
import xml.etree.ElementTree as xml

import jsonschema
import matplotlib
import nbformat
import polars as pl

SCHEMAS = pathlib.Path(__file__).parents[2] / "src/report"


def valid(folder, kind):
    schema = json.loads((SCHEMAS / f"{kind}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    found = json.loads((folder / f"{kind}.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(found)
    return found


def findings(folder):
    found = valid(folder, "findings")
    for estimate in [found["waste_total_kwh"]] + [f["waste_kwh"] for f in found["findings"]]:
        assert estimate is None or estimate["low"] <= estimate["estimate"] <= estimate["high"], estimate
    text = (folder / "report.md").read_text(encoding="utf-8")
    for finding in found["findings"]:
        assert finding["fault"] in text, finding["fault"]
    return found


def notebook(folder, name):
    book = nbformat.read(folder / f"{name}.ipynb", as_version=nbformat.NO_CONVERT)
    nbformat.validate(book)
    assert len({cell["id"] for cell in book["cells"]}) == len(book["cells"])
    names = {}
    # As in a notebook: the working folder is the notebook's, one cell after the other.
    with contextlib.chdir(folder):
        for cell in book["cells"]:
            if cell["cell_type"] == "code":
                exec(compile(cell["source"], f"{folder}/{name}.ipynb:{cell['id']}", "exec"), names)
    return names


def numbers(finding):
    """Every number that findings.json gives for a finding."""
    waste = finding["waste_kwh"] or {}
    return [finding["hours"], waste.get("estimate"), *(e["value"] for e in finding["evidence"])]


def counted_again(folder, found):
    """Runs review.ipynb; the numbers that its cells counted, and what is wrong with them."""
    names = notebook(folder, "review")
    assert names["points"].height > 0
    checked, wrong = names["checked"], []
    for finding in found["findings"]:
        who = finding["fault"], finding["subject"]
        mine = [c for c in checked if (c["fault"], c["subject"]) == who]
        if not mine:
            wrong.append(f"{who}: no number is counted again")
        for c in mine:
            # The cell's word for it is not taken: the number must be one of the finding's, and near it.
            near = c["here"] is not None and abs(c["here"] - c["findings"]) <= max(c["tolerance"] * abs(c["findings"]), c["least"])
            if c["findings"] not in numbers(finding):
                wrong.append(f"{who} {c['name']}: {c['findings']} is no number of the finding")
            elif not near:
                wrong.append(f"{who} {c['name']}: {c['here']} in the notebook, {c['findings']} in findings.json, tolerance {c['tolerance']:.0%}")
    return checked, wrong


def table(folder, found):
    points = pl.read_parquet(folder / "operating-points.parquet")
    assert points.columns[:4] == ["time", "pump", "speed", "flow"]
    assert points.schema["time"] == pl.Datetime("ms", "UTC")
    assert points.select("time", "pump").equals(points.select("time", "pump").sort("time", "pump"))
    span = found["period"]
    assert points["time"].min().strftime("%Y-%m-%dT%H:%M:%SZ") >= span["from"]
    assert points["time"].max().strftime("%Y-%m-%dT%H:%M:%SZ") < span["to"]
    assert not points.select(pl.col(pl.Float64, pl.Float32).is_nan().any()).row(0).count(True), "NaN stands for null"
    facts = json.loads(pl.read_parquet_metadata(folder / "operating-points.parquet")["facts"])
    assert points.columns[20:] == [c["column"] for c in facts["columns"]], "readings beside the points, as the facts list them"


def verification(folder):
    found = valid(folder, "verification")
    names = notebook(folder, "verify")
    if found["saving_kwh"]:
        saving = found["saving_kwh"]
        assert saving["low"] <= saving["estimate"] <= saving["high"], saving
        assert abs(names["saving"] - saving["estimate"]) <= 1e-3 * max(1, abs(saving["estimate"])), (names["saving"], saving)
    return found["told"]


def inspection(folder):
    found = valid(folder, "inspection")
    for file in found["files"]:
        refused = sum(r["count"] for r in file["refused"])
        assert file["cells"] == file["used"] + file["missing"] + refused, file["path"]
    samples = pl.read_parquet(folder / "samples.parquet")
    for point in found["points"]:
        # "bad" also counts cells that fell away with a time that stands twice.
        ok = samples.filter((pl.col("point") == point["name"]) & (pl.col("status") == "ok"))
        assert ok.height == point["samples"], point["name"]
        if ok.height:
            assert abs(ok["value"].mean() - point["mean"]) <= 1e-9 * max(1.0, abs(point["mean"])), point["name"]
            assert (ok["value"].min(), ok["value"].max()) == (point["min"], point["max"]), point["name"]
    return f"{len(found['points'])} points inspected"


def fleet(folder):
    found = valid(folder, "fleet")
    counts = found["counts"]
    assert counts.pop("plants") == sum(counts.values()) == len(found["plants"]) + len(found["not_reviewed"])
    for stake in found["at_stake"]:
        key = "at_stake_money_per_year" if stake["currency"] else "at_stake_kwh_per_year"
        ranked = [p for p in found["plants"] if p["rank"] and p["currency"] == stake["currency"]]
        assert [p["rank"] for p in ranked] == list(range(1, len(ranked) + 1))
        yearly = [p[key]["estimate"] for p in ranked if p[key]]
        assert abs(sum(yearly) - stake["per_year"]["estimate"]) <= 1e-5 * max(1, sum(yearly)), stake
    rows = pl.read_parquet(folder / "fleet.parquet")
    findings = [(p["path"], f["fault"], f["subject"]) for p in found["plants"] for f in p["findings"]]
    assert rows.drop_nulls("fault").select("path", "fault", "subject").rows() == findings
    assert rows["path"].unique(maintain_order=True).to_list() == [p["path"] for p in found["plants"]]
    for plant in found["plants"]:
        assert (folder.parent / plant["report"]).exists(), plant["report"]
    return f"{len(found['plants'])} plants"


def main(folders):
    matplotlib.use("Agg")
    for name in folders:
        folder = pathlib.Path(name).resolve()
        if (folder / "inspection.json").exists():
            print(f"{name}: {inspection(folder)}")
            continue
        if (folder / "fleet.json").exists():
            print(f"{name}: {fleet(folder)}")
            continue
        if (folder / "verification.json").exists():
            told = verification(folder)
        else:
            found = findings(folder)
            checked, wrong = counted_again(folder, found)
            assert not wrong, "\n".join([name, *wrong])
            table(folder, found)
            told = f"{len(found['findings'])} findings, {len(checked)} of their numbers counted again"
        figures = sorted((folder / "figures").glob("*.svg"))
        for figure in figures:
            xml.parse(figure)
        print(f"{name}: {told}, {len(figures)} figures, notebook runs")


if __name__ == "__main__":
    main(sys.argv[1:] or sys.exit(__doc__))
