// What does the page know of a song? Its columns out of JSON, with bars and seconds of each tick.
const readSong = (data) => {
  const barStart = [0];
  for (const [length, count] of data.bars) {
    for (let i = 0; i < count; i++) barStart.push(barStart[barStart.length - 1] + length);
  }
  // a column as it is carried: numbers with commas between them, none where it is the one before
  const column = (text) => {
    let last = 0;
    return text ? text.split(",").map((each) => (each ? last = +each : last)) : [];
  };
  const [s, d, p, v, k] = ["s", "d", "p", "v", "k"].map((name) => column(data.notes[name]));
  const start = new Float64Array(s.length);
  for (let i = 0, at = 0; i < s.length; i++) start[i] = at += s[i];
  const end = start.map((tick, i) => tick + d[i]);
  let elapsed = 0;
  const tempo = data.tempo.map(([tick, usec], i) => {
    if (i) elapsed += (tick - data.tempo[i - 1][0]) * data.tempo[i - 1][1] / (data.division * 1e6);
    return { tick, elapsed, perTick: usec / (data.division * 1e6) };
  });

  // The last row of a rising column whose value is not above `value`, 0 where all are.
  const rowAt = (rows, value, of) => {
    let low = 0;
    let high = rows.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (of(rows[middle]) <= value) low = middle;
      else high = middle;
    }
    return low;
  };
  const seconds = (tick) => {
    const row = tempo[rowAt(tempo, tick, (t) => t.tick)];
    return row.elapsed + (tick - row.tick) * row.perTick;
  };
  const ticks = (time) => {
    const row = tempo[rowAt(tempo, time, (t) => t.elapsed)];
    return row.tick + (time - row.elapsed) / row.perTick;
  };
  const bars = barStart.length - 1;
  const barOf = (tick) => Math.min(rowAt(barStart, tick, (t) => t), bars - 1);
  const meterOf = (bar) => data.meter[rowAt(data.meter, bar, (m) => m[0])];
  const beatLength = (bar) => 4 * data.division / meterOf(bar)[2];
  const name = (pitch, tick) => {
    const spelled = data.names[rowAt(data.names, tick, (n) => n[0])][1];
    return spelled[((pitch % 12) + 12) % 12] + (Math.floor(pitch / 12) + data.octave);
  };
  // A place in words: bar 5, beat 2.5.
  const place = (tick) => {
    const bar = barOf(tick);
    const beat = (tick - barStart[bar]) / beatLength(bar) + 1;
    return `bar ${bar + 1}, beat ${Math.round(beat * 100) / 100}`;
  };
  const tone = (row) => ({
    start: seconds(row[0]),
    end: seconds(row[1]),
    level: row[2],
    times: Array.isArray(row[3]) ? row[3].map(seconds) : [seconds(row[0])],
    pitches: Array.isArray(row[3]) ? row[4] : [row[3]],
  });
  return {
    data, barStart, bars, length: barStart[bars], division: data.division,
    start, end, pitch: p, velocity: v, part: k, notes: s.length,
    role: (note) => data.parts[k[note]][1], partName: (note) => data.parts[k[note]][0],
    seconds, ticks, barOf, beatLength, meterOf, name, place, tone, rowAt,
  };
};
