"""`terrain schema`: what the answers for machines look like."""

from __future__ import annotations

import click


@click.command(
    name="schema",
    epilog="\b\nExample:\n  terrain schema terrain-report-1 > terrain-report-1.schema.json",
)
@click.argument("name", required=False)
def command(name: str | None) -> None:
    """Print the JSON Schema (2020-12) of an answer; without NAME, list them.

    Each answer names its own in the key `schema`: "terrain-report/1" is terrain-report-1.
    """
    import json

    from terrain.errors import UsageError
    from terrain.report.data.jsonfile import schema, schema_names
    from terrain.text.message import message

    if name is None:
        for known in schema_names():
            click.echo(f"{known:18} {schema(known)['description'].partition('. ')[0]}.")
        return
    wanted = name.replace("/", "-")
    if wanted not in schema_names():
        raise UsageError(
            message("there is no schema {name}", name=name),
            "",
            message("There are: {names}.", names=", ".join(schema_names())),
        )
    click.echo(json.dumps(schema(wanted), indent=1, ensure_ascii=False))
