// How does the file look with some of its fixes done? The events of its tracks, edited as the
// patcher (basslint/mending/patch.py) planned it; tracks without edits stay byte for byte.
const midi = (() => {
  const END = 0x2f;
  const quantity = (bytes, at) => {
    let value = 0;
    for (;;) {
      const byte = bytes[at++];
      value = value * 128 + (byte & 0x7f);
      if (byte < 0x80) return [value, at];
    }
  };
  const written = (value) => {
    const out = [value & 0x7f];
    for (let rest = Math.floor(value / 128); rest; rest = Math.floor(rest / 128)) out.unshift((rest & 0x7f) | 0x80);
    return out;
  };
  // Events of a track: tick, status, and its data bytes (of meta and SysEx all that follows).
  const events = (bytes, at, end) => {
    const found = [];
    let tick = 0, running = 0;
    while (at < end) {
      let delta;
      [delta, at] = quantity(bytes, at);
      tick += delta;
      let status = bytes[at];
      if (status < 0x80) status = running;
      else at++;
      if (status >= 0xf0) {
        const [length, from] = quantity(bytes, status === 0xff ? at + 1 : at);
        found.push({ tick, status, data: bytes.slice(at, from + length) });
        at = from + length;
      } else {
        running = status;
        const size = status >= 0xc0 && status < 0xe0 ? 1 : 2;
        found.push({ tick, status, data: bytes.slice(at, at + size) });
        at += size;
      }
    }
    return found;
  };
  const isEnd = (e) => e.status === 0xff && e.data[0] === END;
  const strikes = (e, channel) => (e.status & 0xf0) === 0x90 && (e.status & 0x0f) === channel && e.data[1] > 0;
  // Where a new event belongs: ends and bends before the notes that start at its tick, all else
  // after what stands there, and nothing after the end of the track.
  const place = (kept, put) => {
    let first = kept.findIndex((e) => e.tick >= put.tick);
    if (first < 0) first = kept.length;
    let last = first;
    while (last < kept.length && kept[last].tick === put.tick) last++;
    while (last > first && isEnd(kept[last - 1])) last--;
    while (last && last === first && last === kept.length && isEnd(kept[last - 1])) first = --last;
    if (put.order >= 2) return last;
    for (let i = first; i < last; i++) if (strikes(kept[i], put.status & 0x0f)) return i;
    return last;
  };
  // Notes struck again while they sound: one of the two would end the other.
  const clashes = (list) => {
    const open = new Set();
    let count = 0;
    for (const e of list) {
      const kind = e.status & 0xf0, key = (e.status & 0x0f) * 128 + e.data[0];
      if (kind === 0x90 && e.data[1] > 0) {
        if (open.has(key)) count++;
        open.add(key);
      } else if (kind === 0x80 || kind === 0x90) open.delete(key);
    }
    return count;
  };
  // plans: of each fix, by track: [replaced {row: data}, taken rows, put [tick, order, status, data]].
  // Null where two of the fixes run into each other.
  const mended = (bytes, plans) => {
    const out = [];
    let at = 0, track = -1;
    while (at + 8 <= bytes.length) {
      const size = ((bytes[at + 4] << 24) | (bytes[at + 5] << 16) | (bytes[at + 6] << 8) | bytes[at + 7]) >>> 0;
      const end = Math.min(at + 8 + size, bytes.length);
      const isTrack = String.fromCharCode(...bytes.slice(at, at + 4)) === "MTrk";
      if (isTrack) track++;
      const mine = isTrack ? plans.map((plan) => plan[track]).filter(Boolean) : [];
      if (!mine.length) out.push(bytes.slice(at, end));
      else {
        const before = events(bytes, at + 8, end);
        const taken = new Set(mine.flatMap((plan) => plan[1]));
        const kept = before.filter((e, row) => !taken.has(row)).map((e) => ({ ...e }));
        const rows = before.map((_, row) => row).filter((row) => !taken.has(row));
        const index = new Map(rows.map((row, i) => [row, i]));
        for (const [replaced] of mine) for (const [row, data] of Object.entries(replaced)) kept[index.get(Number(row))].data = Uint8Array.from(data);
        const puts = mine.flatMap((plan) => plan[2]).map(([tick, order, status, data]) => ({ tick, order, status, data: Uint8Array.from(data) }));
        const placed = puts.map((put, n) => [place(kept, put), put.tick, put.order, n]);
        placed.sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2] || a[3] - b[3]);
        const list = [];
        let next = 0;
        for (let i = 0; i <= kept.length; i++) {
          while (next < placed.length && placed[next][0] === i) list.push(puts[placed[next++][3]]);
          if (i < kept.length) list.push(kept[i]);
        }
        if (clashes(list) > clashes(before)) return null;
        const body = [];
        let now = 0;
        for (const e of list) {
          const tick = Math.max(e.tick, now);
          body.push(...written(tick - now), e.status, ...e.data);
          now = tick;
        }
        const n = body.length;
        out.push(Uint8Array.from([0x4d, 0x54, 0x72, 0x6b, n >>> 24, (n >>> 16) & 255, (n >>> 8) & 255, n & 255, ...body]));
      }
      at = end;
    }
    if (at < bytes.length) out.push(bytes.slice(at));
    return new Blob(out, { type: "audio/midi" });
  };
  return { mended };
})();
