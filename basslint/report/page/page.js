"use strict";
// Zooming and playing; everything else on this page works without this script.
(() => {
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];

  // Zoom: the roll's bar width is one CSS length; keep the middle of the view where it is.
  for (const song of all(".song")) {
    const roll = song.querySelector(".roll");
    const tools = song.querySelector(".zoom");
    if (!roll) continue;
    const bars = Number(getComputedStyle(roll).getPropertyValue("--bars")) || 1;
    let bar = 54;
    const apply = (next, anchor = roll.clientWidth / 2) => {
      const at = (roll.scrollLeft + anchor) / roll.scrollWidth;
      bar = Math.min(600, Math.max(4, next));
      roll.style.setProperty("--bar", bar + "px");
      roll.scrollLeft = at * roll.scrollWidth - anchor;
    };
    const whole = () => (roll.clientWidth - roll.querySelector("b").offsetWidth - 1) / bars;
    const step = (way) => apply(way === 0 ? whole() : bar * 1.4 ** way);
    tools.hidden = false;
    for (const button of all("[data-zoom]", tools)) {
      button.addEventListener("click", () => step(Number(button.dataset.zoom)));
    }
    roll.addEventListener("keydown", (event) => {
      const way = { "+": 1, "=": 1, "-": -1, "0": 0 }[event.key];
      if (way !== undefined && !event.ctrlKey && !event.metaKey) {
        event.preventDefault();
        step(way);
      }
    });
    roll.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      apply(bar * 1.0018 ** -event.deltaY, event.clientX - roll.getBoundingClientRect().left);
    }, { passive: false });
    // Two fingers: the bar width follows their distance.
    const fingers = new Map();
    let spread = 0;
    const distance = () => {
      const [a, b] = [...fingers.values()];
      return Math.abs(a - b);
    };
    roll.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "touch") fingers.set(event.pointerId, event.clientX);
      if (fingers.size === 2) spread = distance() / bar;
    });
    roll.addEventListener("pointermove", (event) => {
      if (!fingers.has(event.pointerId)) return;
      fingers.set(event.pointerId, event.clientX);
      if (fingers.size === 2 && spread > 0) apply(distance() / spread);
    });
    for (const end of ["pointerup", "pointercancel"]) {
      roll.addEventListener(end, (event) => fingers.delete(event.pointerId));
    }
  }

  // Choosing a finding moves focus to it, and opens the rule page a link asks for.
  const reveal = () => {
    const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!target) return;
    if (target.tagName === "DETAILS") target.open = true;
    if (target.classList.contains("finding")) target.focus({ preventScroll: true });
  };
  addEventListener("hashchange", reveal);
  reveal();

  // Sound. One graph at a time: voices -> master gain -> limiter -> out.
  const panel = document.querySelector(".listen");
  const level = document.getElementById("level");
  const stopButton = document.getElementById("stop");
  const status = document.getElementById("playing");
  if (!window.AudioContext || !document.querySelector(".play")) return;
  panel.hidden = false;
  let context = null;
  let master = null;
  let timer = 0;
  const hertz = (pitch) => 440 * 2 ** ((pitch - 69) / 12);
  const gainOf = () => (Number(level.value) / 100) ** 2;

  const stop = () => {
    clearTimeout(timer);
    if (context) {
      const ending = context;
      master.gain.setTargetAtTime(0, ending.currentTime, 0.01);
      setTimeout(() => ending.close(), 80);
      context = master = null;
    }
    stopButton.disabled = true;
    status.textContent = "";
    delete document.body.dataset.playing;
  };

  const bassVoice = (line, at, up, decay) => {
    const out = context.createGain();
    out.gain.setValueAtTime(0, at);
    out.gain.linearRampToValueAtTime(0.7 * line.level, at + 0.004);
    const length = line.end - line.start;
    // 60 dB in `decay` seconds is a time constant of decay / ln(1000).
    out.gain.setTargetAtTime(0, at + 0.004, decay / Math.log(1000));
    out.gain.setTargetAtTime(0, at + length, 0.004);
    out.connect(master);
    for (const [harmonic, share] of [[1, 0.8], [2, 0.2]]) {
      const voice = context.createOscillator();
      const part = context.createGain();
      part.gain.value = share;
      line.knots.forEach(([time, pitch], k) => {
        const when = Math.max(at + time - line.start, at);
        const value = harmonic * hertz(pitch + 12 * up);
        if (k === 0) voice.frequency.setValueAtTime(value, at);
        else voice.frequency.exponentialRampToValueAtTime(value, Math.max(when, at + 0.0001));
      });
      voice.connect(part).connect(out);
      voice.start(at);
      voice.stop(at + length + 0.05);
    }
  };

  const chordVoice = (note, at) => {
    const voice = context.createOscillator();
    const out = context.createGain();
    voice.type = "triangle";
    voice.frequency.value = hertz(note.pitch);
    out.gain.setValueAtTime(0, at);
    out.gain.linearRampToValueAtTime(0.09 * note.level, at + 0.012);
    out.gain.setTargetAtTime(0, at + Math.max(note.end - note.start, 0.02), 0.03);
    voice.connect(out).connect(master);
    voice.start(at);
    voice.stop(at + note.end - note.start + 0.3);
  };

  const play = (box, which, name) => {
    stop();
    const sound = JSON.parse(box.dataset.sound);
    const piece = sound[which];
    context = new AudioContext();
    master = context.createGain();
    master.gain.value = gainOf();
    const limiter = context.createDynamicsCompressor();
    limiter.threshold.value = -6;
    limiter.ratio.value = 20;
    master.connect(limiter).connect(context.destination);
    const begin = context.currentTime + 0.06;
    const up = Number(box.querySelector("[data-up]").value);
    for (const line of piece.bass) bassVoice(line, begin + line.start, up, Number(box.dataset.decay));
    for (const note of piece.harmony) chordVoice(note, begin + note.start);
    stopButton.disabled = false;
    status.textContent = `Playing bars ${piece.first}–${piece.last}, ${name}.`;
    document.body.dataset.playing = which;
    timer = setTimeout(stop, 1000 * (piece.seconds + 0.4));
  };

  for (const box of all(".play")) {
    box.hidden = false;
    const sound = JSON.parse(box.dataset.sound);
    for (const button of all("[data-play]", box)) {
      const which = button.dataset.play;
      if (!sound[which]) {
        button.remove();
        continue;
      }
      button.addEventListener("click", () => play(box, which, which === "mended" ? "mended" : "as written"));
    }
  }
  stopButton.addEventListener("click", stop);
  addEventListener("keydown", (event) => event.key === "Escape" && stop());
  level.addEventListener("input", () => master && master.gain.setTargetAtTime(gainOf(), context.currentTime, 0.02));
})();
