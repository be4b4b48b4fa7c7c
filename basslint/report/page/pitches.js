// In which rows and layers does a song lie? What its roll is drawn from, put in order once.
const rollPlan = (() => {
  const MOST_HIT_ROWS = 8;
  // Rows of pitch: the bass large, all above it small. Gives y of a pitch (fractions too).
  const pitchScale = (song, small) => {
    let low = 127, top = 0, bassLow = 127, bassTop = 0;
    for (let i = 0; i < song.notes; i++) {
      const role = song.role(i);
      if (role === "drums") continue;
      const p = song.pitch[i];
      low = Math.min(low, p); top = Math.max(top, p);
      if (role === "bass") { bassLow = Math.min(bassLow, p); bassTop = Math.max(bassTop, p); }
    }
    if (low > top) return { y: () => 0, h: () => 0, height: 0, low: 1, top: 0 };
    const span = bassTop - bassLow;
    const large = small ? (span > 16 ? 5 : 8) : span > 30 ? 6 : span > 16 ? 9 : 12;
    const little = small ? 2 : top - Math.max(bassTop, low) > 60 ? 3 : 4;
    const edges = new Float64Array(130);
    let at = 4;
    for (let p = top + 1; p >= low - 1; p--) {
      edges[p + 1] = at;
      at += p >= bassLow - 1 && p <= bassTop + 1 ? large : little;
    }
    edges[low - 1] = at;
    const y = (pitch) => { // the middle of its row
      const p = Math.min(top + 1, Math.max(low - 1, pitch));
      const whole = Math.floor(p);
      const middle = (q) => (edges[q + 1] + edges[q]) / 2;
      return middle(whole) + (p - whole ? (middle(whole + 1) - middle(whole)) * (p - whole) : 0);
    };
    const h = (p) => (p < low - 1 || p > top + 1 ? little : edges[p] - edges[p + 1]);
    return { y, h, height: at + 2, low, top, bassLow, bassTop };
  };

  // What of a song is drawn, put in order once: layers of notes with the furthest end so far.
  const prepare = (song) => {
    const layers = { harmony: [], melody: [], other: [], bass: [], drums: [] };
    for (let i = 0; i < song.notes; i++) (layers[song.role(i)] || layers.other).push(i);
    const far = {};
    for (const [role, rows] of Object.entries(layers)) {
      let most = 0;
      far[role] = rows.map((i) => (most = Math.max(most, song.end[i])));
    }
    const keys = [...new Set(layers.drums.map((i) => song.pitch[i]))].sort((a, b) => a - b);
    const hitRow = new Map(keys.map((k, row) => [k, Math.min(row, MOST_HIT_ROWS - 1)]));
    const bent = song.data.tones.filter((t) => Array.isArray(t[3]));
    return { song, layers, far, keys, hitRow, bent, large: pitchScale(song, false), small: pitchScale(song, true) };
  };

  const firstPast = (column, value) => {
    let low = 0, high = column.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (column[middle] > value) high = middle;
      else low = middle + 1;
    }
    return low;
  };

  // The rows of a layer that lie in a window.
  const visible = (plan, role, from, to) => {
    const { song } = plan;
    const rows = plan.layers[role];
    const found = [];
    for (let i = firstPast(plan.far[role], from); i < rows.length; i++) {
      if (song.start[rows[i]] >= to) break;
      if (song.end[rows[i]] > from || song.start[rows[i]] >= from) found.push(rows[i]);
    }
    return found;
  };

  return { prepare, visible, MOST_HIT_ROWS };
})();
