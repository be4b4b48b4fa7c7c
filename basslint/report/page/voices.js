// What does a stretch of the song sound like? The voices of basslint/audition/voices.py again, with
// the same numbers: a test compares the samples of both.
const voices = (() => {
  const RATE = 44100;
  const ATTACK = 0.004, RELEASE = 0.012, EDGE = 0.005; // seconds
  const CHORD_ATTACK = 0.010, CHORD_RELEASE = 0.060, CHORD_FALL = 2.5;
  const CHORD_SHARES = [1, 0.3, 0.12];
  const CHORD_LEVEL = 0.16, DRUM_LEVEL = 0.5, HIT = 0.30, ROOT_LEVEL = 0.35;
  const LOOP_LEVEL = 0.35, LOOP_EDGE = 0.003, ONE_SHOT_START = 0.002;
  const OCTAVE = Math.LN2 / 12, FALL = Math.log(1000); // a semitone, 60 dB
  const SHARES = [1, 0.25];
  const SMALL = [...SHARES, ...[3, 4, 5, 6, 7, 8].map((k) => 0.75 / k)];
  const KICKS = [35, 36], SNARES = [37, 38, 39, 40], TOMS = [41, 43, 45, 47, 48, 50];
  const CYMBALS = [46, 49, 51, 52, 53, 55, 57, 59];
  const HEADROOM = 0.9; // at which audition/embedded.py wrote the loudest sample of a file
  const hertz = (pitch) => 440 * 2 ** ((pitch - 69) / 12);
  const clip = (x) => Math.min(1, Math.max(0, x));
  const cosine = (x) => 0.5 - 0.5 * Math.cos(Math.PI * clip(x));
  const edges = (since, length) => cosine(since / ATTACK) * cosine((length - since) / RELEASE);

  const noise = new Float64Array(Math.round(HIT * RATE));
  for (let i = 0, state = 7; i < noise.length; i++) {
    state = (Math.imul(1664525, state) + 1013904223) >>> 0;
    noise[i] = state / 2 ** 31 - 1;
  }
  const hits = new Map();
  const hit = (key) => {
    if (hits.has(key)) return hits.get(key);
    const out = new Float64Array(noise.length);
    for (let i = 0; i < out.length; i++) {
      const t = i / RATE;
      let value;
      if (KICKS.includes(key) || TOMS.includes(key)) {
        const [rest, fall] = KICKS.includes(key) ? [50, 0.07] : [60 + 6 * (key - 40), 0.09];
        const cycles = rest * t - 90 * 0.012 * Math.expm1(-t / 0.012);
        value = Math.sin(2 * Math.PI * cycles) * Math.exp(-t / fall);
      } else if (SNARES.includes(key)) {
        const body = Math.sin(2 * Math.PI * 185 * t) * Math.exp(-t / 0.03);
        value = 0.5 * noise[i] * Math.exp(-t / 0.05) + 0.5 * body;
      } else {
        const bright = (noise[i] - (i ? noise[i - 1] : 0)) / 2;
        value = 0.6 * bright * Math.exp(-t / (CYMBALS.includes(key) ? 0.09 : 0.018));
      }
      out[i] = value * edges(t, HIT);
    }
    hits.set(key, out);
    return out;
  };

  // The pieces of a tone between its knots: when, from which frequency, how steep, after how many
  // periods. Straight in pitch is a power of e in frequency, which has a closed integral.
  const pieces = (tone, up) => {
    const { times, pitches, start } = tone;
    const pitchAt = (t) => {
      if (t <= times[0]) return pitches[0];
      for (let i = 1; i < times.length; i++) {
        if (t < times[i]) {
          return pitches[i - 1] + (pitches[i] - pitches[i - 1]) * (t - times[i - 1]) / (times[i] - times[i - 1]);
        }
      }
      return pitches[times.length - 1];
    };
    const at = [start, ...times.filter((t) => t > start)];
    const pitch = [pitchAt(start), ...pitches.filter((_, i) => times[i] > start)];
    let cycles = 0;
    return at.map((t, i) => {
      const last = i === at.length - 1;
      const slope = last ? 0 : OCTAVE * (pitch[i + 1] - pitch[i]) / Math.max(at[i + 1] - t, 1e-9);
      const piece = { at: t, hertz: hertz(pitch[i] + up), slope: Math.abs(slope) < 1e-9 ? 0 : slope, cycles };
      if (!last) cycles += run(piece, at[i + 1] - t);
      return piece;
    });
  };
  const run = (piece, time) => piece.slope
    ? piece.hertz * Math.expm1(piece.slope * time) / piece.slope
    : piece.hertz * time;

  // First and last sample (exclusive) of a sound in a stretch of `count` samples from `zero` on.
  const moments = (start, end, zero, count) => [
    Math.max(0, Math.ceil((start - zero) * RATE)),
    Math.min(count, Math.floor((end - zero) * RATE) + 1),
  ];

  const addBass = (out, zero, tone, stop, wish) => {
    const end = Math.min(tone.end, stop);
    const [first, last] = moments(tone.start, end + RELEASE, zero, out.length);
    if (first >= last) return;
    const shares = wish.small ? SMALL : SHARES;
    const parts = pieces(tone, 12 * (wish.up || 0));
    const length = end - tone.start + RELEASE;
    const level = tone.level / (SHARES[0] + SHARES[1]);
    let row = 0;
    for (let i = first; i < last; i++) {
      const t = zero + i / RATE;
      while (row + 1 < parts.length && parts[row + 1].at <= t) row++;
      const piece = parts[row];
      const phase = 2 * Math.PI * ((piece.cycles + run(piece, t - piece.at)) % 1);
      const twice = 2 * Math.cos(phase);
      let before = 0;
      let wave = Math.sin(phase);
      let sum = 0;
      for (let k = 0; k < shares.length; k++) { // sin((k+1)x) = 2 cos x sin kx − sin((k−1)x)
        sum += shares[k] * wave;
        [before, wave] = [wave, twice * wave - before];
      }
      const since = t - tone.start;
      let envelope = level * Math.exp(-FALL * since / wish.decay);
      if (since < ATTACK || length - since < RELEASE) envelope *= edges(since, length);
      out[i] += sum * envelope;
    }
  };

  // A sound between its samples, at a place counted in them; silence outside.
  const between = (wave, place) => {
    const row = Math.floor(place);
    if (row < 0 || row >= wave.length - 1) return row === wave.length - 1 && place === row ? wave[row] : 0;
    return wave[row] + (place - row) * (wave[row + 1] - wave[row]);
  };
  // The bass's own sound, as fast as its pitch asks.
  const addOneShot = (out, zero, tone, stop, wish, { wave, rate, hz }) => {
    const end = Math.min(tone.end, stop);
    const [first, last] = moments(tone.start, end + RELEASE, zero, out.length);
    if (first >= last) return;
    const parts = pieces(tone, 12 * (wish.up || 0));
    let row = 0;
    for (let i = first; i < last; i++) {
      const t = zero + i / RATE;
      while (row + 1 < parts.length && parts[row + 1].at <= t) row++;
      const place = (parts[row].cycles + run(parts[row], t - parts[row].at)) / hz * rate;
      const edge = clip((t - tone.start) / ONE_SHOT_START) * clip((end + RELEASE - t) / RELEASE);
      out[i] += tone.level * edge * between(wave, place) / HEADROOM;
    }
  };
  // One turn of a loop of sound.
  const addTurn = (out, zero, turn, stop) => {
    const end = Math.min(turn.end, stop);
    const first = Math.max(0, Math.ceil((turn.start - zero) * RATE));
    const last = Math.min(out.length, Math.trunc((end - zero) * RATE));
    for (let i = first; i < last; i++) {
      const since = zero + i / RATE - turn.start;
      const edge = clip(Math.min(since, end - turn.start - since) / LOOP_EDGE);
      out[i] += LOOP_LEVEL * edge * between(turn.wave, (turn.begins + since * turn.speed) * turn.rate) / HEADROOM;
    }
  };

  const addChord = (out, zero, note, stop, full) => {
    const end = Math.min(note.end, stop);
    const [first, last] = moments(note.start, end + CHORD_RELEASE, zero, out.length);
    if (first >= last) return;
    const f = hertz(note.pitch);
    const level = full * note.level / (CHORD_SHARES[0] + CHORD_SHARES[1] + CHORD_SHARES[2]);
    const length = end - note.start + CHORD_RELEASE;
    const offset = zero + first / RATE - note.start;
    const step = Math.exp(-1 / (RATE * CHORD_FALL));
    CHORD_SHARES.forEach((share, k) => {
      const w = 2 * Math.PI * f * (k + 1) / RATE;
      if (w >= Math.PI) return;
      const twice = 2 * Math.cos(w);
      const phase = 2 * Math.PI * ((f * (k + 1) * offset) % 1);
      let now = Math.sin(phase);
      let before = Math.sin(phase - w);
      let fall = share * level * Math.exp(-offset / CHORD_FALL);
      for (let i = first; i < last; i++) {
        const since = zero + i / RATE - note.start;
        let envelope = fall;
        if (since < CHORD_ATTACK) envelope *= since / CHORD_ATTACK;
        if (length - since < CHORD_RELEASE) envelope *= Math.max(0, (length - since) / CHORD_RELEASE);
        out[i] += now * envelope;
        [before, now] = [now, twice * now - before];
        fall *= step;
      }
    });
  };

  const addHit = (out, zero, note) => {
    const samples = hit(note.pitch);
    const at = Math.round((note.start - zero) * RATE);
    const level = DRUM_LEVEL * note.level;
    const first = Math.max(0, -at);
    const last = Math.min(samples.length, out.length - at);
    for (let i = first; i < last; i++) out[at + i] += level * samples[i];
  };

  // `count` samples from `zero` (seconds) of a sound: {tones, notes, drums} in order of start, and
  // where there are such roots, loops and the bass's own oneShot. Stretch [begin, stop]: what is held
  // from before begins at `begin`, all ends at `stop`. wish: {bass, harmony, drums, loops, roots:
  // heard or not; up: octaves; small: for small speakers; plain: no one-shot; decay}.
  const render = (sound, zero, count, begin, stop, wish) => {
    const out = new Float64Array(count);
    const until = zero + count / RATE;
    const near = (s, tail) => s.start < Math.min(until, stop) && s.end > begin + 1e-9 && s.end + tail > zero;
    const own = !wish.plain && !wish.small && sound.oneShot;
    if (wish.bass) {
      for (const t of sound.tones) {
        if (!near(t, RELEASE)) continue;
        if (own) addOneShot(out, zero, t, stop, wish, own);
        else addBass(out, zero, t, stop, wish);
      }
    }
    if (wish.harmony) for (const n of sound.notes) if (near(n, CHORD_RELEASE)) addChord(out, zero, n, stop, CHORD_LEVEL);
    for (const n of (wish.roots && sound.roots) || []) if (near(n, CHORD_RELEASE)) addChord(out, zero, n, stop, ROOT_LEVEL);
    for (const turn of (wish.loops && sound.loops) || []) if (near(turn, 0)) addTurn(out, zero, turn, stop);
    if (wish.drums) {
      for (const n of sound.drums) {
        if (n.start >= begin - 1e-6 && n.start < stop - 1e-6 && n.start < until && n.start + HIT > zero) {
          addHit(out, zero, n);
        }
      }
    }
    const fade = EDGE * RATE;
    const from = Math.round((begin - zero) * RATE);
    for (let i = Math.max(0, from); i < Math.min(count, from + fade); i++) out[i] *= (i - from) / fade;
    for (let i = 0; i < Math.min(count, from); i++) out[i] = 0;
    return out;
  };

  return { RATE, render, HIT, CHORD_RELEASE };
})();
