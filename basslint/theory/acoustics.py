"""Which levels does the decay of a sound go by, and how low does a system sound?"""

from __future__ import annotations

from typing import Final

# ISO 3382: T60 is the time in which a sound falls by so many decibels.
T60_FALL_DB: Final = 60.0
# A sound that has fallen so far since it was struck is no longer heard in a mix. Common practice,
# no source; what rules/slides/slide-after-decay.md asks for unless the user sets another floor.
STILL_HEARD_DB: Final = -24.0
# Good club systems reach down to about so many hertz; what lies below few systems sound. Common
# practice, no source; what rules/low-end/too-low.md asks for unless the user sets another.
CARRIED_HZ: Final = 30.0
