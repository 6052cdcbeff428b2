"""``pathprofile defaults``: what is assumed where nothing is said, and where each figure comes from."""

from __future__ import annotations

import typer

from pathprofile.cli import options


def defaults(*, as_json: options.Json = False) -> None:
    """Show what is assumed where you say nothing, with the source of each figure."""
    from pathprofile.link.assume import DEFAULTS

    if as_json:
        from pathprofile.export.reach_json import to_json

        table = {
            name: {"value": row.value, "unit": row.unit, "source": row.source}
            for name, row in DEFAULTS.items()
        }
        typer.echo(to_json({"schema": "pathprofile.defaults/1", "defaults": table}, indent=1))
        return
    for name, row in DEFAULTS.items():
        value = f"{row.value:g}" if isinstance(row.value, float) else row.value
        typer.echo(f"{name:<36}{value + ' ' + row.unit:<20}{row.source}")
