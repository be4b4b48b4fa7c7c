"""Which kind of message does a status byte begin? MIDI 1.0 detailed specification.

Of a channel message the upper four bits tell the kind, the lower four the channel from 0.
"""

from __future__ import annotations

from typing import Final

KIND: Final = 0xF0  # mask of the kind
CHANNEL: Final = 0x0F  # mask of the channel
NOTE_OFF: Final = 0x80
NOTE_ON: Final = 0x90
KEY_PRESSURE: Final = 0xA0  # the first of the kinds that are no notes
CONTROLLER: Final = 0xB0
PROGRAM: Final = 0xC0
BEND: Final = 0xE0
SYSTEM: Final = 0xF0  # from here on no channel message: SysEx, meta events in files
META: Final = 0xFF  # in files; on the wire it resets the system
