"""Does --help say of every word what it is?"""

from __future__ import annotations

import argparse

import pytest

from basslint.cli.options import COMMANDS


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_is_explained(command: str) -> None:
    parser = argparse.ArgumentParser()
    COMMANDS[command][1](parser)
    mute = [action.dest for action in parser._actions if not action.help]
    assert mute == [], command


def test_a_folder_of_pages_is_offered_where_pages_are_written() -> None:
    """Help that promised a folder of them stood beside commands that write none."""
    for name, (_, add) in COMMANDS.items():
        parser = argparse.ArgumentParser()
        add(parser)
        options = {action.dest: action for action in parser._actions}
        told = "FOLDER/" in (options["output"].help or "") if "output" in options else False
        assert told == (name == "check"), name
