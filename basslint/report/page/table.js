// The roll as rows of a table: for each bar its chords, phrase, bass notes and findings.
const tableRows = (song, plan, findings) => {
  const rows = Array.from({ length: song.bars }, () => ({ bass: [], found: [] }));
  for (const i of plan.layers.bass) {
    const bar = song.barOf(song.start[i]);
    const beat = (song.start[i] - song.barStart[bar]) / song.beatLength(bar) + 1;
    rows[bar].bass.push(`${song.name(song.pitch[i], song.start[i])} on ${Math.round(beat * 100) / 100}`);
  }
  for (const f of findings) for (const [tick] of f.places) rows[song.barOf(tick)].found.push(`${f.level} ${f.rule}`);
  const within = (lane, bar) => song.data.lanes[lane].filter(([start, end]) => start < song.barStart[bar + 1] && end > song.barStart[bar]).map((s) => s[2]);
  return rows.map((row, bar) => `<tr><th scope="row">${bar + 1}</th>${
    [within("chord", bar).join(" "), within("phrase", bar).join(" "), row.bass.join(", "), row.found.join(", ")]
      .map((cell) => `<td>${rollDrawing.escape(cell)}</td>`).join("")}</tr>`).join("");
};
