// How loud is a signal, and how is it kept below a peak? As audition/loudness.py, peaks.py
// (ITU-R BS.1770-4), sample by sample.
const loudness = (() => {
  const filters = (rate) => {
    let k = Math.tan(Math.PI * 1681.974450955533 / rate);
    let q = 0.7071752369554196;
    const high = 10 ** (3.999843853973347 / 20);
    const band = high ** 0.4996667741545416;
    let a0 = 1 + k / q + k * k;
    const shelf = [(high + band * k / q + k * k) / a0, 2 * (k * k - high) / a0,
      (high - band * k / q + k * k) / a0, 2 * (k * k - 1) / a0, (1 - k / q + k * k) / a0];
    k = Math.tan(Math.PI * 38.13547087602444 / rate);
    q = 0.5003270373238773;
    a0 = 1 + k / q + k * k;
    return [shelf, [1, -2, 1, 2 * (k * k - 1) / a0, (1 - k / q + k * k) / a0]];
  };

  // Integrated loudness in LUFS, −Infinity where nothing passes the gate.
  const measure = (samples, rate) => {
    let signal = samples;
    for (const [b0, b1, b2, a1, a2] of filters(rate)) {
      const out = new Float64Array(signal.length);
      let x1 = 0, x2 = 0, y1 = 0, y2 = 0;
      for (let i = 0; i < signal.length; i++) {
        const x = signal[i];
        const y = b0 * x + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
        out[i] = y;
        x2 = x1; x1 = x; y2 = y1; y1 = y;
      }
      signal = out;
    }
    const block = Math.round(0.4 * rate), hop = Math.round(0.1 * rate);
    const power = new Float64Array(signal.length + 1);
    for (let i = 0; i < signal.length; i++) power[i + 1] = power[i] + signal[i] * signal[i];
    const means = [];
    const total = Math.max(signal.length, block);
    for (let at = 0; at + block <= total; at += hop) {
      means.push((power[Math.min(at + block, signal.length)] - power[at]) / block);
    }
    const lufs = (p) => -0.691 + 10 * Math.log10(Math.max(p, 1e-30));
    const mean = (values) => values.reduce((a, b) => a + b, 0) / values.length;
    const passed = means.filter((p) => lufs(p) > -70);
    if (!passed.length) return -Infinity;
    const gate = lufs(mean(passed)) - 10;
    return lufs(mean(passed.filter((p) => lufs(p) > gate)));
  };

  const TAPS = 12;
  const between = [0.25, 0.5, 0.75].map((quarter) => {
    const row = new Float64Array(2 * TAPS);
    for (let j = 0; j < 2 * TAPS; j++) {
      const away = quarter - (j - TAPS + 1);
      const x = Math.PI * away;
      row[j] = Math.sin(x) / x * (0.5 + 0.5 * Math.cos(x / TAPS));
    }
    return row;
  });
  // The greatest magnitude at each sample and up to the next, at four times the rate; what is
  // certainly below `floor` is not looked at between its samples.
  const peaks = (samples, floor = 0) => {
    const high = new Float64Array(samples.length);
    for (let i = 0; i < samples.length; i++) {
      const here = Math.abs(samples[i]);
      let most = here;
      if (Math.max(here, Math.abs(samples[i + 1] || 0)) > 0.25 * floor) {
        for (const weights of between) {
          let sum = 0;
          for (let j = 0; j < 2 * TAPS; j++) sum += weights[j] * (samples[i + j - TAPS + 1] || 0);
          most = Math.max(most, Math.abs(sum));
        }
      }
      high[i] = most;
    }
    return high;
  };
  const truePeak = (samples) => {
    let most = 0;
    for (const value of samples) most = Math.max(most, Math.abs(value));
    return peaks(samples, most).reduce((a, b) => Math.max(a, b), 0);
  };

  const LOOK = 0.005;
  // The signal with its true peak not above `ceiling`: the lowest gain that any peak within 5 ms
  // needs, averaged over as long.
  const limited = (samples, ceiling, rate) => {
    const high = peaks(samples, ceiling);
    const need = new Float64Array(samples.length).fill(1);
    let least = 1;
    for (let i = 0; i < high.length; i++) {
      if (high[i] <= ceiling) continue;
      const gain = ceiling / high[i];
      need[i] = Math.min(need[i], gain);
      if (i + 1 < need.length) need[i + 1] = gain;
      least = Math.min(least, gain);
    }
    if (least >= 1) return samples;
    const look = Math.round(LOOK * rate);
    const n = samples.length;
    const lowest = new Float64Array(n);
    const queue = new Int32Array(n); // rows of rising need within the window
    let head = 0, tail = 0;
    for (let i = 0; i < n + look; i++) {
      if (i < n) {
        while (tail > head && need[queue[tail - 1]] >= need[i]) tail--;
        queue[tail++] = i;
      }
      if (i < look) continue;
      while (queue[head] < i - 2 * look) head++;
      lowest[i - look] = need[queue[head]];
    }
    const at = (i) => lowest[Math.min(n - 1, Math.max(0, i))];
    const out = new Float64Array(n);
    let sum = 0;
    for (let i = -look; i <= look; i++) sum += at(i);
    for (let i = 0; i < n; i++) {
      out[i] = samples[i] * sum / (2 * look + 1);
      sum += at(i + look + 1) - at(i - look);
    }
    return out;
  };

  return { measure, peaks, truePeak, limited, LOOK };
})();
