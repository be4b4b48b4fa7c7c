// The whole song in one strip: every bar by its gravest finding, and the phrases.
const overviewDrawing = (() => {
  const { GRAVITY, escape } = rollDrawing;
  const n = (value) => Math.round(value * 100) / 100;

  // Every bar by its gravest finding; phrases below; shape says what colour says.
  const draw = (song, findings, width) => {
    const worst = new Uint8Array(song.bars);
    for (const f of findings) {
      for (const [tick] of f.places) {
        const bar = song.barOf(tick);
        worst[bar] = Math.max(worst[bar], GRAVITY[f.level]);
      }
    }
    const px = width / song.length;
    const d = { error: "", warning: "", note: "" };
    let lines = "";
    const every = Math.max(1, Math.ceil(4 / (width / song.bars)));
    for (let bar = 0; bar < song.bars; bar++) {
      const left = song.barStart[bar] * px;
      if (bar % every === 0) lines += `M${n(left)} 0v24`;
      const level = ["", "note", "warning", "error"][worst[bar]];
      if (!level) continue;
      const wide = Math.max((song.barStart[bar + 1] - song.barStart[bar]) * px, 2);
      const tall = 8 * worst[bar];
      d[level] += `M${n(left)} ${24 - tall}h${n(wide)}v${tall}h${n(-wide)}z`;
    }
    const out = [`<path class="bars" d="${lines}"/>`];
    for (const level of ["note", "warning", "error"]) if (d[level]) out.push(`<path class="${level}" d="${d[level]}"/>`);
    let room = 0, lined = -Infinity;
    for (const [start, end, words] of song.data.lanes.phrase) {
      const left = start * px;
      if (left - lined >= 4) {
        out.push(`<path class="phrase" d="M${n(left)} 26v13"/>`);
        lined = left;
      }
      if ((end - start) * px > 7 * words.length + 4 && left >= room) {
        out.push(`<text class="phrase" x="${n(left + 3)}" y="37">${escape(words)}</text>`);
        room = left + 7 * words.length;
      }
    }
    return { svg: out.join(""), height: 40 };
  };

  return { draw };
})();
