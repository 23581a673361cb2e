"""Checks results of reviews: findings.json against the schema, review.ipynb by its format and by running its cells.

    python check_results.py SCHEMA OUT
"""

import json
import pathlib
import shutil
import sys
import tempfile

import jsonschema
import nbformat
from nbclient import NotebookClient


def check_findings(schema, path):
    findings = json.loads(path.read_text(encoding="utf-8"))
    wrong = sorted(schema.iter_errors(findings), key=lambda e: list(map(str, e.absolute_path)))
    return [f"{path}: {e.json_path}: {e.message}" for e in wrong]


def check_notebook(path):
    """Runs a copy of the result's folder, so that the result stays as the review wrote it."""
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch) / "result"
        shutil.copytree(path.parent, folder)
        NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(folder)}}).execute()
    code = [c for c in notebook.cells if c.cell_type == "code"]
    if not code:
        return [f"{path}: holds no code"]
    return [f"{path}: a cell was not run" for c in code if c.source.strip() and c.execution_count is None]


def main():
    rules = json.loads(pathlib.Path(sys.argv[1]).read_text(encoding="utf-8"))
    kind = jsonschema.validators.validator_for(rules)
    kind.check_schema(rules)
    schema = kind(rules, format_checker=kind.FORMAT_CHECKER)
    out = pathlib.Path(sys.argv[2])
    findings = sorted(out.rglob("findings.json"))
    notebooks = sorted(out.rglob("review.ipynb"))
    if not findings or len(findings) != len(notebooks):
        sys.exit(f"{out}: {len(findings)} findings.json and {len(notebooks)} review.ipynb")
    # A schema that lets anything pass checks nothing.
    if not list(schema.iter_errors({"schema": "something else"})):
        sys.exit(f"{sys.argv[1]}: lets a file pass that is no result")
    wrong = [w for path in findings for w in check_findings(schema, path)]
    wrong += [w for path in notebooks for w in check_notebook(path)]
    if wrong:
        sys.exit("\n".join(wrong))
    print(f"{len(findings)} results valid, {len(notebooks)} notebooks run")


if __name__ == "__main__":
    main()
