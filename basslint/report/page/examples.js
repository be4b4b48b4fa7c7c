// What does an example of a rule sound like, side by side? The clean beat is moved in time so that
// all sides begin together, and each stands as many cents off its notes as its sound does.
const exampleSides = (data, songs) => {
  const first = data.sides[Object.keys(data.sides)[0]];
  const begun = songs[first.song].seconds(first.span[0]);
  const side = ({ song, span, bass, loop }) => {
    const sound = sounds.written(songs[song]);
    const later = begun - songs[song].seconds(span[0]);
    const end = songs[song].seconds(span[1]) + later;
    const moved = (s) => ({ ...s, start: s.start + later, end: Math.min(s.end + later, end) });
    const within = (s) => s.start < end;
    return {
      tones: sound.tones.map((t) => ({ ...moved(t), times: t.times.map((x) => x + later), pitches: t.pitches.map((p) => p + bass / 100) })).filter(within),
      notes: sound.notes.map((n) => ({ ...moved(n), pitch: n.pitch + loop / 100 })).filter(within),
      drums: sound.drums.map(moved).filter(within),
    };
  };
  return Object.fromEntries(Object.entries(data.sides).map(([name, of]) => [name, side(of)]));
};
// The rows of a mended song whose notes are not those of the flagged one.
const changedRows = (before, after) => {
  const key = (song, i) => `${song.start[i]} ${song.end[i]} ${song.pitch[i]} ${song.velocity[i]} ${song.part[i]}`;
  const known = new Set(Array.from({ length: before.notes }, (_, i) => key(before, i)));
  return Array.from({ length: after.notes }, (_, i) => i).filter((i) => !known.has(key(after, i)));
};
