// How are versions of a stretch played so that they can be told apart by ear? All run side by side,
// sample by sample in step and equally loud; a switch turns from one to the other.
const makePlayer = () => {
  const RATE = voices.RATE;
  const CEILING = 0.9999 * 10 ** (-1 / 20); // a hair below −1 dBFS, which no sample passes
  const CHUNK = RATE / 2; // samples rendered at once
  const AHEAD = 2; // seconds that are ready: timers of a page in the background run once a second
  const MARGIN = 0.02; // seconds around a chunk that its limiter must see
  const LONG = 40; // seconds: of longer stretches a few pieces are measured
  const PIECE = 5;
  const MATCHING_ROUNDS = 4;
  let context = null;
  let master = null;
  let run = null; // what plays now
  let held = null; // where a pause or a change left off
  let level = -12; // dBFS of the highest peak
  let timer = 0;
  const measured = new Map();

  const open = () => {
    if (context) return;
    context = new AudioContext({ sampleRate: RATE });
    master = context.createGain();
    master.gain.value = 10 ** ((level + 1) / 20);
    master.connect(context.destination);
  };

  const rendered = (piece, sound, frame, count) =>
    voices.render(sound, piece.from + frame / RATE, count, piece.from, piece.to, piece.wish);

  // The versions that there are, the one first that the others are matched with.
  const sidesOf = (piece) => Object.keys(piece.sides).filter((side) => piece.sides[side]);

  // Gains at which all sides are equally loud, the first with its peak at the ceiling.
  const gains = (piece) => {
    const key = `${piece.id}|${JSON.stringify(piece.wish)}`;
    if (measured.has(key)) return measured.get(key);
    const frames = Math.round((piece.to - piece.from) * RATE);
    const spots = frames <= LONG * RATE ? [[0, frames]] : Array.from({ length: 6 }, (_, i) =>
      [Math.floor((frames - PIECE * RATE) * i / 5), PIECE * RATE]);
    const whole = (sound) => {
      const out = new Float64Array(spots.reduce((sum, [, count]) => sum + count, 0));
      let at = 0;
      for (const [frame, count] of spots) {
        out.set(rendered(piece, sound, frame, count), at);
        at += count;
      }
      return out;
    };
    const toPeak = (samples) => {
      const high = loudness.truePeak(samples);
      return high > 0 ? CEILING / high : 1;
    };
    const [first, ...others] = sidesOf(piece);
    const model = whole(piece.sides[first]);
    const result = { [first]: toPeak(model) };
    const aim = others.length ? loudness.measure(model, RATE) + 20 * Math.log10(result[first]) : 0;
    for (const side of others) {
      const samples = whole(piece.sides[side]);
      let found = loudness.measure(samples, RATE);
      result[side] = 1;
      if (!Number.isFinite(aim) || !Number.isFinite(found)) {
        result[side] = toPeak(samples);
        continue;
      }
      for (let round = 0; round < MATCHING_ROUNDS; round++) {
        result[side] *= 10 ** ((aim - found) / 20);
        const held = loudness.limited(samples.map((x) => x * result[side]), CEILING, RATE);
        found = loudness.measure(held, RATE);
        if (Math.abs(aim - found) < 0.02) break;
      }
    }
    if (measured.size > 200) measured.clear();
    measured.set(key, result);
    return result;
  };

  // Samples [frame, frame + count) of one side as they are heard at full level.
  const chunk = (piece, side, frame, count) => {
    const margin = Math.round(MARGIN * RATE);
    const raw = rendered(piece, piece.sides[side], frame - margin, count + 2 * margin);
    const gain = gains(piece)[side];
    for (let i = 0; i < raw.length; i++) raw[i] *= gain;
    const out = loudness.limited(raw, CEILING, RATE).subarray(margin, margin + count);
    const left = Math.round((piece.to - piece.from) * RATE) - frame; // it ends without a click
    const fade = Math.round(0.005 * RATE);
    for (let i = Math.max(0, left - fade); i < count; i++) out[i] *= Math.max(0, (left - i) / fade);
    return out;
  };

  const release = (which) => {
    which.over = true;
    const now = context.currentTime;
    which.out.gain.setTargetAtTime(0, now, 0.004);
    for (const source of which.sources) source.stop(now + 0.04);
    setTimeout(() => {
      for (const node of [which.out, ...Object.values(which.gains)]) node.disconnect();
    }, 80);
  };

  const put = (which) => {
    const { piece } = which;
    const count = Math.min(CHUNK, which.frames - which.frame);
    for (const side of sidesOf(piece)) {
      const samples = chunk(piece, side, which.frame, count);
      const buffer = context.createBuffer(1, count, RATE);
      buffer.copyToChannel(Float32Array.from(samples), 0);
      const source = context.createBufferSource();
      source.buffer = buffer;
      source.connect(which.gains[side]);
      source.onended = () => {
        source.disconnect();
        which.sources.delete(source);
      };
      which.sources.add(source);
      source.start(which.begun + which.played / RATE);
    }
    which.played += count;
    which.frame += count;
    if (which.frame >= which.frames && piece.loop) which.frame = 0;
  };

  const fill = () => {
    clearTimeout(timer);
    const now = run;
    if (!now) return;
    const ready = now.begun + now.played / RATE - context.currentTime;
    if (now.frame < now.frames && ready < AHEAD) {
      put(now);
      timer = setTimeout(fill, ready < 1 ? 0 : 60);
    } else if (now.frame >= now.frames && ready < 0) {
      stop();
      now.piece.ended();
    } else timer = setTimeout(fill, 100);
  };

  const start = (piece, frame) => {
    open();
    context.resume();
    if (run) release(run);
    gains(piece);
    const out = context.createGain();
    const sides = {};
    for (const side of sidesOf(piece)) {
      sides[side] = context.createGain();
      sides[side].gain.value = side === piece.side ? 1 : 0;
      sides[side].connect(out);
    }
    out.connect(master);
    run = {
      piece, out, gains: sides, sources: new Set(), from: frame, frame, played: 0,
      frames: Math.round((piece.to - piece.from) * RATE), begun: 0,
    };
    held = null;
    const first = run;
    first.begun = context.currentTime + 0.05;
    put(first); // and not later than it is ready
    timer = setTimeout(fill, 0);
  };

  const frameNow = () => {
    if (!run) return held ? held.frame : 0;
    const since = Math.max(0, context.currentTime - (context.outputLatency || 0) - run.begun);
    const frame = run.from + Math.round(since * RATE);
    return run.piece.loop ? frame % run.frames : Math.min(frame, run.frames);
  };

  const stop = () => {
    clearTimeout(timer);
    if (run) release(run);
    run = held = null;
  };

  return {
    // Ask for sound while the click that wants it lasts: some browsers give it then alone.
    wake: () => {
      open();
      context.resume();
    },
    // piece: {id, sides: sounds by name, side, from, to (s), loop, wish, ended()}
    play: (piece) => start(piece, 0),
    stop,
    pause: () => {
      const frame = frameNow();
      const { piece } = run;
      stop();
      held = { piece, frame };
    },
    resume: () => start(held.piece, held.frame),
    seek: (share) => {
      const piece = (run || held).piece;
      const frame = Math.floor(share * (Math.round((piece.to - piece.from) * RATE) - 1));
      if (run) start(piece, frame);
      else held = { piece, frame };
    },
    // The other version, in step and without a gap.
    turn: (side) => {
      (run || held).piece.side = side;
      if (!run) return;
      for (const each of sidesOf(run.piece)) {
        run.gains[each].gain.setTargetAtTime(each === side ? 1 : 0, context.currentTime, 0.005);
      }
    },
    // Something of the piece is other than it was: go on from here with what it is now.
    change: (of) => {
      const now = run || held;
      if (!now) return;
      const frame = frameNow();
      Object.assign(now.piece, of);
      if (run) start(now.piece, frame);
    },
    level: (peak) => {
      level = peak;
      if (master) master.gain.setTargetAtTime(10 ** ((peak + 1) / 20), context.currentTime, 0.02);
    },
    get piece() { return run ? run.piece : held && held.piece; },
    get playing() { return Boolean(run); },
    get seconds() { return frameNow() / RATE; },
    chunk,
    gains,
  };
};
