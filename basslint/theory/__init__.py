"""The field's tables: pitch and key names, chords, scales, General MIDI, tuning."""

__all__ = ["acoustics", "chord_symbols", "chords", "general_midi", "names", "scales", "tuning"]
