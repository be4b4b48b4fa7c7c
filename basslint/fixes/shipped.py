"""Which fixes are shipped: of what is each, and in which module does it stand?

A page names fixes and most songs need none, so a module is imported for the first finding that it
may mend. A test holds this table to what the modules say.
"""

from __future__ import annotations

from basslint.readings.subjects import Subject

SHIPPED: dict[str, tuple[Subject, str]] = {
    "note-to-root": ("bass-note", "harmony"),
    "note-to-harmony": ("bass-note", "harmony"),
    "note-to-scale": ("bass-note", "harmony"),
    "root-without-rub": ("bass-note", "harmony"),
    "change-with-harmony": ("bass-note", "changes"),
    "with-leading-bass": ("bass-note", "changes"),
    "landing-to-scale": ("slide", "landings"),
    "bend-to-note": ("slide", "landings"),
    "land-earlier": ("slide", "slides"),
    "let-it-land": ("slide", "slides"),
    "close-bend": ("bass-note", "slides"),
    "trim-overlap": ("slide", "slides"),
    "even-steps": ("fill", "fills"),
    "onto-drums": ("fill", "fills"),
    "ramp": ("fill", "fills"),
    "octave-up": ("fill", "fills"),
    "apart": ("fill", "fills"),
    "to-phrase-end": ("fill", "fill_positions"),
    "air": ("bass-note", "fill_positions"),
    "note-octave-up": ("bass-note", "low_end"),
    "note-octave-down": ("bass-note", "low_end"),
    "note-to-usual-octave": ("bass-note", "low_end"),
    "onto-kick": ("bass-note", "low_end"),
    "end-note": ("note", "housekeeping"),
    "take-out": ("note", "housekeeping"),
    "one-of-two": ("note", "housekeeping"),
    "stretch-to-harmony": ("stretch", "stretches"),
    "part-onto-drums": ("lag", "lags"),
    "part-to-place": ("displacement", "displacements"),
    "part-to-key": ("part-key", "part_keys"),
    "part-octave-down": ("high-part", "high_parts"),
}
