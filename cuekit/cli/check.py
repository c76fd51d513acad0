"""`cuekit check`: three short sweeps, and what comes back of them."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from cuekit.bouts.audio_port import never
from cuekit.bouts.checked_devices import checks_folder, remember
from cuekit.bouts.equipment import check_equipment
from cuekit.bouts.equipment_text import told_check
from cuekit.bouts.sound_card import SoundCard
from cuekit.cli.options import language_option
from cuekit.telling.phrases import load_phrases


@click.command()
@click.option(
    "--state",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Where checks are remembered; also set by CUEKIT_STATE.",
)
@language_option()
def command(folder: Path | None, language: str) -> None:
    """Play three soft sweeps, listen for them, and say whether loudspeaker and microphone will do.

    Nothing is recorded to the disk. The delay is remembered for this pair of devices.
    """
    phrases, card = load_phrases(language), SoundCard()
    loudspeaker, microphone = card.names()
    click.echo(phrases.say("equipment.playing", loudspeaker=loudspeaker, microphone=microphone))
    check = check_equipment(card, never)
    pair = remember(folder or checks_folder(), loudspeaker, microphone, check, datetime.date.today())
    for line in told_check(check, remembered=pair is not None, phrases=phrases):
        click.echo(line)
