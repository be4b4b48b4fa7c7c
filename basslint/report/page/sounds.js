// Which sounds does a song have, and which once something of it is mended? In seconds.
const sounds = (() => {
  // `read`: the sounds of files that play in it, as `sampled.readAll` gives them.
  const written = (song, read = []) => {
    const note = (i) => ({
      start: song.seconds(song.start[i]), end: song.seconds(song.end[i]),
      pitch: song.pitch[i], level: song.velocity[i] / 127, row: i,
    });
    const roots = (song.data.roots || []).map(([start, end, pitch]) => ({ start: song.seconds(start), end: song.seconds(end), pitch, level: 1 }));
    const made = { tones: song.data.tones.map(song.tone), notes: [], drums: [], roots, ...sampled.played(song, read) };
    for (let i = 0; i < song.notes; i++) {
      const role = song.role(i);
      if (role !== "bass") made[role === "drums" ? "drums" : "notes"].push(note(i));
    }
    return made;
  };
  // `change`: what the page's data say that a fix takes away and brings; null where nothing.
  const mended = (song, before, change) => {
    if (!change) return null;
    const lost = new Set(change.lost), silent = new Set(change.silent);
    const struck = change.struck.map(([start, end, pitch, velocity, part]) => ({
      start: song.seconds(start), end: song.seconds(end), pitch, level: velocity / 127,
      drum: song.data.parts[part][1] === "drums",
    }));
    return {
      ...before,
      tones: [...before.tones.filter((_, i) => !lost.has(i)), ...change.gained.map(song.tone)],
      notes: [...before.notes.filter((x) => !silent.has(x.row)), ...struck.filter((x) => !x.drum)],
      drums: [...before.drums.filter((x) => !silent.has(x.row)), ...struck.filter((x) => x.drum)],
    };
  };
  // What changes where one tone of the bass alone is turned higher or lower.
  const turned = (song, row, semitones) => {
    const own = song.data.tones[row];
    const raised = (pitch) => (Array.isArray(pitch) ? pitch.map(raised) : pitch + semitones);
    return { lost: [row], gained: [[...own.slice(0, -1), raised(own[own.length - 1])]], silent: [], struck: [] };
  };
  return { written, mended, turned };
})();
