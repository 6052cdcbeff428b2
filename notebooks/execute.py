"""Execute the notebooks afresh and write them back with their outputs, free of whatever changes by itself.

Run ``python notebooks/execute.py`` for all, or name the files. What is kept is deterministic: no times, no
machine, no versions, so that a difference in a commit is a difference in an answer.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

HERE = Path(__file__).resolve().parent
SECONDS_A_CELL = 60
METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}


def notebooks() -> list[Path]:
    """All notebooks of this folder."""
    return sorted(HERE.glob("*.ipynb"))


def executed(path: Path, folder: Path) -> Any:
    """Run every cell in a fresh kernel that works in ``folder``.

    Raises
    ------
    nbclient.exceptions.CellExecutionError
        At the first cell that fails.
    nbclient.exceptions.CellTimeoutError
        When a cell takes longer than a minute.
    """
    import nbformat
    from nbclient import NotebookClient

    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=SECONDS_A_CELL,
        coalesce_streams=True,
        kernel_name="python3",
        resources={"metadata": {"path": str(folder)}},
    )
    asyncio.run(client.async_execute())
    return stripped(notebook)


def stripped(notebook: Any) -> Any:
    """Leave out times, versions and names by chance; number the cells."""
    notebook.metadata = METADATA
    for number, cell in enumerate(notebook.cells, 1):
        cell.id = f"cell-{number:02d}"
        cell.metadata = {}
        for output in cell.get("outputs", []):
            output.pop("metadata", None)
            if output.output_type in {"display_data", "execute_result"}:
                output.metadata = {}
            if "image/png" in output.get("data", {}):
                output.data = {"image/png": output.data["image/png"]}
    return notebook


def main(named: Sequence[str]) -> None:
    """Execute the notebooks named, or all."""
    import nbformat

    for path in [Path(name) for name in named] or notebooks():
        with tempfile.TemporaryDirectory() as folder:
            notebook = executed(path, Path(folder))
        nbformat.write(notebook, path)
        print(f"{path.name}: {path.stat().st_size / 1024:.0f} KiB")


if __name__ == "__main__":
    main(sys.argv[1:])
