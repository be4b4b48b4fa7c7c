"""The field's tables: pitch and key names, chords, scales, General MIDI, tuning."""
