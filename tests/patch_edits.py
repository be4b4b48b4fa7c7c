"""Edits of one note on the first track, and its events as bytes."""

from __future__ import annotations

from midi_bytes import meta

from basslint.fixes.edits import Edit
from basslint.mending.patch import patch
from basslint.smf.scan import scan
from basslint.song.arrangement import build

ON, OFF = b"\x90\x24\x64", b"\x80\x24\x40"
E_ON, E_OFF = b"\x90\x28\x64", b"\x80\x28\x40"
NAME = (0, meta(3, b"Sub"))


def edited(data: bytes, *edits: Edit) -> bytes:
    return patch(data, build(scan(data)), edits)


def pitch(start: int, end: int, before: int, after: int, channel: int = 1) -> Edit:
    return Edit(
        do="pitch", track=0, channel=channel, tick=start, end_tick=end, before=before, after=after
    )


def end(start: int, old: int, new: int) -> Edit:
    return Edit(
        do="end", track=0, channel=1, tick=start, end_tick=old, before=old, after=new, pitch=36
    )


def move(start: int, old_end: int, new: int) -> Edit:
    return Edit(
        do="move",
        track=0,
        channel=1,
        tick=start,
        end_tick=old_end,
        before=start,
        after=new,
        pitch=36,
    )


def velocity(start: int, end: int, new: int) -> Edit:
    return Edit(
        do="velocity",
        track=0,
        channel=1,
        tick=start,
        end_tick=end,
        before=100,
        after=new,
        pitch=36,
    )


def insert(start: int, end: int, new: int) -> Edit:
    return Edit(
        do="insert",
        track=0,
        channel=1,
        tick=start,
        end_tick=end,
        before=None,
        after=new,
        velocity=90,
    )
