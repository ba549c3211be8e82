"""The key card."""

from __future__ import annotations

import click

from trainer.cli.common import json_option, plain_ascii, say, show_data, width


@click.command()
@json_option
def keys(as_json: bool) -> None:
    """The keys of all screens, as a card for one printed page; two columns in a terminal of 100
    columns or more, one in a narrower one.

    With --json each key has its names and what it does.
    """
    from trainer.ui.card import as_rows, card

    if as_json:
        show_data({"keys": as_rows()})
    else:
        say(card(width(), ascii=plain_ascii()))
