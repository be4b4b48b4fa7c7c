// How does a window of a song look? Lanes, notes, slides, drums and findings as SVG, laid out in
// pixels of that window, so that nothing is off however long the song is.
const rollDrawing = (() => {
  const { visible, MOST_HIT_ROWS } = rollPlan;
  const LANE = 18, RULER = 18, MARKS = 22, HIT_ROW = 10;
  const GRAVITY = { error: 3, warning: 2, note: 1 };
  const SIGNS = { error: "●", warning: "◐", note: "○" };
  const escape = (text) => String(text).replace(/[&<>"]/g, (c) => `&#${c.charCodeAt(0)};`);
  const n = (value) => Math.round(value * 100) / 100;

  const layout = (plan, view) => {
    const scale = view.small ? plan.small : plan.large;
    const lanes = view.small ? ["chord"] : ["phrase", "chord", ...(plan.song.data.lanes.key.length > 1 ? ["key"] : [])];
    let at = RULER;
    const y = {};
    for (const lane of lanes) { y[lane] = at; at += LANE; }
    if (!view.small) { y.marks = at; at += MARKS; }
    y.notes = at;
    at += scale.height;
    y.drums = at;
    const rows = Math.min(plan.keys.length, MOST_HIT_ROWS);
    if (view.kicks) at += HIT_ROW + 4; // of a card: the kicks alone
    else if (rows && (!view.small || view.drums)) at += rows * HIT_ROW + 4;
    return { scale, lanes, y, height: at };
  };

  const draw = (plan, view) => {
    const { song } = plan;
    const { from, to, width } = view;
    const { scale, lanes, y, height } = layout(plan, view);
    const px = width / (to - from);
    const x = (tick) => (tick - from) * px;
    const out = [];
    const path = (kind, d) => d && out.push(`<path class="${kind}" d="${d}"/>`);
    const text = (kind, left, top, words) => out.push(`<text class="${kind}" x="${n(left)}" y="${n(top)}">${escape(words)}</text>`);
    const inside = (start, end) => start < to && end > from;

    // bars and beats
    const firstBar = song.barOf(Math.max(0, from));
    const barPx = (song.barStart[firstBar + 1] - song.barStart[firstBar]) * px;
    const step = [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024].find((s) => s * barPx >= 34) || 2048;
    let bars = "", beats = "";
    for (let bar = firstBar; bar < song.bars && song.barStart[bar] < to; bar++) {
      const left = x(song.barStart[bar]);
      if (barPx >= 5 || bar % step === 0) bars += `M${n(left)} 0V${height}`;
      if (bar % step === 0) text("bar", Math.max(left, view.small ? left : 0) + 3, 13, bar + 1);
      const beat = song.beatLength(bar);
      if (beat * px >= 14) {
        for (let t = song.barStart[bar] + beat; t < song.barStart[bar + 1] - 1e-6; t += beat) beats += `M${n(x(t))} ${RULER}V${height}`;
      }
    }
    path("beats", beats);
    path("bars", bars);

    // lanes: what a stretch is called stays in sight as long as the stretch does
    for (const lane of lanes) {
      let lines = "";
      let room = -Infinity;
      for (const [start, end, words] of song.data.lanes[lane]) {
        if (!inside(start, end)) continue;
        const left = x(start), right = x(end);
        if (left - room >= 4) {
          lines += `M${n(left)} ${y[lane]}v${LANE}`;
          room = left;
        }
        const seen = Math.min(right, width) - Math.max(left, 0);
        const needs = 6.6 * words.length + 6;
        if (seen >= needs) text(lane, Math.max(left, 0) + 4, y[lane] + 13, words);
      }
      path(`line ${lane}`, lines);
    }
    for (const [start, end] of song.data.lanes.fill) {
      if (barPx >= 4 && inside(start, end)) {
        out.push(`<rect class="fill" x="${n(x(start))}" y="${y.notes}" width="${n((end - start) * px)}" height="${height - y.notes}"/>`);
      }
    }
    if (view.lit) {
      const [start, end] = view.lit;
      if (inside(start, end)) out.push(`<rect class="lit" x="${n(x(start))}" y="${RULER}" width="${n(Math.max((end - start) * px, 2))}" height="${height - RULER}"/>`);
    }

    // notes: never thinner than a pixel, whose middle is then the note's own
    const box = (start, end, pitch, share) => {
      let left = x(start), wide = (end - start) * px;
      if (wide < 1) { left -= (1 - wide) / 2; wide = 1; }
      const tall = Math.max(scale.h(Math.round(pitch)) * share, 1.5);
      return [left, y.notes + scale.y(pitch) - tall / 2, wide, tall];
    };
    // Thin ones of a pitch that are less than a pixel apart are drawn as one: nothing of that lies
    // more than half a pixel from a note.
    const layer = (role, share) => {
      let d = "", edges = "";
      const tops = new Float64Array(128), talls = new Float64Array(128);
      const from_ = new Float64Array(128).fill(NaN), until = new Float64Array(128);
      for (let p = 0; p < 128; p++) [, tops[p], , talls[p]] = box(from, from, p, share);
      const flush = (p) => {
        if (Number.isNaN(from_[p])) return;
        let left = Math.max(from_[p], -4), right = Math.min(until[p], width + 4);
        if (right - left < 1) { const middle = (left + right) / 2; left = middle - 0.5; right = middle + 0.5; }
        d += `M${n(left)} ${n(tops[p])}h${n(right - left)}v${n(talls[p])}h${n(left - right)}z`;
        if (right - left > 2.5 && from_[p] > -1) edges += `M${n(left + 0.5)} ${n(tops[p])}v${n(talls[p])}`;
      };
      for (const i of visible(plan, role, from, to)) {
        const p = song.pitch[i];
        const left = (song.start[i] - from) * px, right = (song.end[i] - from) * px;
        if (left - until[p] < 1 && from_[p] === from_[p] && (right - left < 3 || right <= until[p])) {
          until[p] = Math.max(until[p], right);
          continue;
        }
        flush(p);
        from_[p] = left;
        until[p] = right;
      }
      for (let p = 0; p < 128; p++) flush(p);
      path(role, d);
      path("edge", edges);
    };
    layer("other", 0.7);
    layer("harmony", 0.8);
    layer("melody", 0.8);
    layer("bass", 0.86);

    // The stretches in which a pitch moves, a pixel at least from corner to corner.
    const curve = (times, pitches) => {
      let d = "", lastX = NaN, lastY = NaN, moving = false;
      const at = (i) => [x(times[i]), y.notes + scale.y(pitches[i])];
      const far = ([left, top]) => Math.abs(left - lastX) >= 0.6 || Math.abs(top - lastY) >= 0.6;
      for (let i = 1; i < times.length; i++) {
        if (pitches[i] === pitches[i - 1]) { moving = false; continue; }
        if (!moving) {
          [lastX, lastY] = at(i - 1);
          d += `M${n(lastX)} ${n(lastY)}`;
          moving = true;
        }
        const next = at(i);
        const ends = i + 1 === times.length || pitches[i + 1] === pitches[i];
        if (!ends && !far(next)) continue;
        [lastX, lastY] = next;
        d += `L${n(lastX)} ${n(lastY)}`;
      }
      return d;
    };
    let glides = "";
    if (barPx >= 2) for (const t of plan.bent) if (inside(t[0], t[1])) glides += curve(t[3], t[4]);
    path("glide", glides);

    // findings: what is at fault by shape and colour, what would stand instead as an outline
    const wrong = { note: "", warning: "", error: "" }, crosses = { note: "", warning: "", error: "" };
    let ghosts = "", diamonds = "", ghostCurves = "";
    // a drum's hit as a tick, the harder the taller; its row of the lane is filled from below
    const stroke = (tick, key, velocity) => {
      const tall = (HIT_ROW - 2) * (0.3 + 0.7 * velocity / 127);
      return `M${n(x(tick))} ${n(y.drums + 1 + (plan.hitRow.get(key) + 1) * HIT_ROW - tall)}v${n(tall)}`;
    };
    const hitsShown = plan.keys.length && !view.kicks && (!view.small || view.drums);
    const done = new Set(); // pixels, where a bar is hardly more than that
    for (const finding of view.findings || []) {
      let lastCross = -Infinity, lastDiamond = -Infinity;
      for (const i of finding.rows) {
        if (!inside(song.start[i], song.end[i]) || song.role(i) === "drums") continue;
        const [left, top, wide, tall] = box(song.start[i], song.end[i], song.pitch[i], song.role(i) === "bass" ? 0.86 : 0.8);
        if (barPx < 4) {
          const pixel = Math.round(left) * 128 + song.pitch[i];
          if (done.has(pixel)) continue;
          done.add(pixel);
        }
        wrong[finding.level] += `M${n(left)} ${n(top)}h${n(wide)}v${n(tall)}h${n(-wide)}z`;
        if (barPx > 14 && left - lastCross >= 9) { // of a roll's strokes not each
          lastCross = left;
          const mid = top + tall / 2, r = Math.min(4.5, Math.max(3, tall / 2));
          crosses[finding.level] += `M${n(left - r)} ${n(mid - r)}l${2 * r} ${2 * r}m0 ${-2 * r}l${-2 * r} ${2 * r}`;
        }
      }
      for (const [start, end, pitch] of finding.mended) {
        if (!inside(start, end)) continue;
        if (barPx < 4) continue; // too small to be told from the fault
        if (finding.part >= 0 && song.data.parts[finding.part][1] === "drums") {
          if (!hitsShown || !plan.hitRow.has(pitch) || x(start) < 0) continue;
          const left = x(start), middle = y.drums + 3 + plan.hitRow.get(pitch) * HIT_ROW + (HIT_ROW - 2) / 2;
          diamonds += `M${n(left)} ${n(middle - 4)}l3.5 4l-3.5 4l-3.5 -4z`;
          continue;
        }
        const [left, top, wide, tall] = box(start, end, pitch, 0.8);
        ghosts += `M${n(left)} ${n(top)}h${n(wide)}v${n(tall)}h${n(-wide)}z`;
        if (barPx > 14 && left - lastDiamond >= 9) {
          lastDiamond = left;
          const mid = top + tall / 2;
          diamonds += `M${n(left)} ${n(mid - 4)}l4 4l-4 4l-4 -4z`;
        }
      }
      if (finding.curve.length) ghostCurves += curve(finding.curve.map((c) => c[0]), finding.curve.map((c) => c[1]));
    }
    for (const level of ["note", "warning", "error"]) path(`wrong ${level}${barPx >= 14 ? "" : " tight"}`, wrong[level]);
    path("ghost", ghosts);
    path("ghost-curve", ghostCurves);
    for (const level of ["note", "warning", "error"]) path(`cross ${level}`, crosses[level]);
    if (!hitsShown) path("diamond", diamonds);

    if (barPx > 40) { // names on the bass's notes, where there is room
      for (const i of visible(plan, "bass", from, to)) {
        const words = song.name(song.pitch[i], song.start[i]);
        const left = Math.max(x(song.start[i]), 0);
        if (Math.min(x(song.end[i]), width) - left > 7 * words.length + 14 && scale.h(song.pitch[i]) >= 11) {
          text("name", left + 7, y.notes + scale.y(song.pitch[i]) + 3.5, words);
        }
      }
    }

    for (const tick of view.kicks || []) { // through the notes, so that the distance is seen
      path("kick", `M${n(x(tick))} ${y.notes}V${y.drums + HIT_ROW}`);
      text("bar", x(tick) + 4, y.drums + HIT_ROW, "kick");
    }
    if (hitsShown) {
      const atFault = new Map(); // the level of its gravest finding
      for (const f of view.findings || []) if (f.part >= 0 && song.data.parts[f.part][1] === "drums") for (const i of f.rows) {
        if (!atFault.has(i) || GRAVITY[f.level] > GRAVITY[atFault.get(i)]) atFault.set(i, f.level);
      }
      let hits = "";
      const faults = { note: "", warning: "", error: "" };
      const drawn = new Float64Array(MOST_HIT_ROWS).fill(-Infinity);
      for (const i of visible(plan, "drums", from, to)) {
        const row = plan.hitRow.get(song.pitch[i]);
        const left = x(song.start[i]);
        if (left < 0 || (left - drawn[row] < 1 && !atFault.has(i))) continue;
        const d = stroke(song.start[i], song.pitch[i], song.velocity[i]);
        if (atFault.has(i)) faults[atFault.get(i)] += d;
        else { hits += d; drawn[row] = left; }
      }
      path("hit", hits);
      for (const level of ["note", "warning", "error"]) path(`hit wrong-hit ${level}`, faults[level]);
      path("diamond", diamonds);
    }

    const placed = [];
    if (!view.small) {
      let last = -Infinity;
      const all = (view.findings || []).flatMap((f) => f.places.map(([tick]) => [tick, f])).filter(([tick]) => tick >= from && tick < to);
      all.sort((a, b) => a[0] - b[0] || GRAVITY[b[1].level] - GRAVITY[a[1].level]);
      for (const [tick, finding] of all) {
        const left = x(tick);
        if (left - last < 11) {
          const before = placed[placed.length - 1];
          if (GRAVITY[finding.level] > GRAVITY[before.finding.level]) before.finding = finding;
          continue;
        }
        last = left;
        placed.push({ left, finding });
      }
      for (const { left, finding } of placed) text(`mark ${finding.level}${view.chosen === finding ? " chosen" : ""}`, Math.max(left - 5, 0), y.marks + 16, SIGNS[finding.level]);
    }
    if (view.focus !== undefined && view.focus >= 0 && song.role(view.focus) !== "drums") {
      const i = view.focus;
      const [left, top, wide, tall] = box(song.start[i], song.end[i], song.pitch[i], 1);
      out.push(`<rect class="focus" x="${n(left - 2)}" y="${n(top - 2)}" width="${n(wide + 4)}" height="${n(tall + 4)}"/>`);
    }
    return { svg: out.join(""), height, y, scale, placed, x };
  };

  // The names at the left: lanes, octaves and the pitches of the bass, drums.
  const gutter = (plan, view) => {
    const { scale, lanes, y, height } = layout(plan, view);
    const out = [];
    const label = (kind, top, words) => out.push(`<text class="${kind}" x="48" y="${n(top)}">${escape(words)}</text>`);
    label("lane", 13, "bar");
    for (const lane of lanes) label("lane", y[lane] + 13, lane);
    if (!view.small) label("lane", y.marks + 15, "finding");
    let last = -Infinity;
    const bass = new Set(plan.layers.bass.map((i) => plan.song.pitch[i]));
    for (let p = scale.top; p >= scale.low; p--) {
      const at = y.notes + scale.y(p);
      if ((p % 12 === 0 || bass.has(p)) && at - last >= 9) {
        label(bass.has(p) ? "pitch own" : "pitch", at + 3, plan.song.name(p, view.from));
        last = at;
      }
    }
    if (!view.small || view.drums) {
      plan.keys.slice(0, MOST_HIT_ROWS).forEach((key, row) => {
        if (row < MOST_HIT_ROWS - 1 || plan.keys.length <= MOST_HIT_ROWS) label("pitch", y.drums + 9 + row * HIT_ROW, plan.song.data.drums[key] || key);
        else label("pitch", y.drums + 9 + row * HIT_ROW, "others");
      });
    }
    return { svg: out.join(""), height };
  };

  // The note at a point of a drawn window, −1 where none is: what is drawn on top is found first.
  const noteAt = (plan, view, left, top) => {
    const { scale, y } = layout(plan, view);
    const tick = view.from + left * (view.to - view.from) / view.width;
    const slack = 2 * (view.to - view.from) / view.width;
    for (const role of ["bass", "melody", "harmony", "other"]) {
      for (const i of visible(plan, role, tick - slack, tick + slack).reverse()) {
        const middle = y.notes + scale.y(plan.song.pitch[i]);
        if (Math.abs(top - middle) <= Math.max(scale.h(plan.song.pitch[i]) / 2, 3)) return i;
      }
    }
    if (top >= y.drums && plan.keys.length) {
      const row = Math.floor((top - y.drums - 2) / HIT_ROW);
      for (const i of visible(plan, "drums", tick - 2 * slack, tick + slack)) {
        if (plan.hitRow.get(plan.song.pitch[i]) === row && Math.abs(plan.song.start[i] - tick) <= 2 * slack) return i;
      }
    }
    return -1;
  };

  return { prepare: rollPlan.prepare, draw, gutter, noteAt, SIGNS, GRAVITY, escape };
})();
