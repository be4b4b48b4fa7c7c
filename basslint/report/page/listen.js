// What is played, and by which knobs: the dock at the foot of the page, shared by all songs.
const makeListening = (dock) => {
  const player = makePlayer();
  const get = (name) => dock.querySelector(`[name=${name}]`);
  const status = dock.querySelector(".status");
  const seek = get("seek");
  const LOW = -12; // dBFS of the peak at each opening
  let now = null; // {desk, finding (null: the song), which}
  let wanted = null; // what plays as soon as its sounds are read
  let frame = 0;

  const wish = (desk, finding) => ({
    bass: get("bass").checked, harmony: get("harmony").checked, drums: get("drums").checked,
    loops: get("loops").checked, roots: get("roots").checked, plain: get("plain").checked,
    up: Number(get("up").value), small: get("small").checked, decay: desk.song.data.decay,
    ...(finding && finding.wish), // what a question lets be heard
  });

  // A song's sound, or null until the files that play in it are read; `then` is called after that.
  const asWritten = (desk, then) => {
    if (desk.sound) return desk.sound;
    const files = [...desk.section.querySelectorAll("script.sampled")];
    if (!files.length) desk.sound = sounds.written(desk.song);
    else if (!desk.reading) {
      desk.reading = sampled.readAll(files, desk.song.data.sampled.rates).then((read) => {
        desk.unread = read.includes(null);
        desk.sound = sounds.written(desk.song, read);
      });
    }
    if (!desk.sound) desk.reading.then(then);
    return desk.sound || null;
  };

  // The versions of a finding or a song; what brings its own (an example, a question) says so.
  const sidesOf = (desk, finding, then) => {
    if (finding && finding.examples) return finding.examples();
    const written = asWritten(desk, then);
    if (!written) return null;
    if (finding && finding.sides) return finding.sides(written);
    return { written, mended: sounds.mended(desk.song, written, finding ? finding.change : desk.change()) };
  };

  const buttonsOf = (desk, finding) => (finding ? desk.cards.get(finding.id) : desk.section).querySelector(finding ? ".listen" : ".whole");
  const mark = () => {
    for (const group of document.querySelectorAll(".listen, .whole")) {
      const mine = now && group === buttonsOf(now.desk, now.finding);
      const playing = mine && player.playing;
      group.querySelector("[data-play]").textContent = playing ? "❚❚ Pause" : group.querySelector("[data-play]").dataset.name;
      for (const side of group.querySelectorAll("[data-side]")) {
        side.setAttribute("aria-pressed", String(side.dataset.side === (mine ? now.which : group.dataset.rests || "written")));
      }
    }
    for (const role of ["loop", "bass"]) {
      const label = get({ loop: "loops", bass: "plain" }[role]).closest("label");
      label.hidden = !document.querySelector(`script.sampled[data-role=${role}]`);
    }
    dock.querySelector("[data-stop]").disabled = !now && !wanted;
    document.body.dataset.playing = now && player.playing ? now.which : "";
    if (!now) status.textContent = wanted ? "Reading the sounds …" : "";
    else {
      const { song } = now.desk;
      const piece = player.piece;
      const bars = `bars ${song.barOf(song.ticks(piece.from) + 0.5) + 1}–${song.barOf(song.ticks(piece.to) - 0.5) + 1}`;
      status.textContent = `${player.playing ? "Playing" : "Paused"}: ${now.desk.name}, ${bars}, ${now.finding && now.finding.told || `as ${now.which}`}.${now.desk.unread ? " This browser cannot read a sound that belongs here." : ""}`;
    }
  };

  const tick = () => {
    if (!now) return;
    const { from, to } = player.piece;
    const at = player.seconds;
    seek.value = Math.round(at / (to - from) * 1000);
    now.desk.cursor(from + at, now.finding);
    frame = requestAnimationFrame(tick);
  };
  const stop = () => {
    wanted = null;
    player.stop();
    cancelAnimationFrame(frame);
    if (now) now.desk.cursor(null, now.finding);
    now = null;
    seek.value = 0;
    mark();
  };
  const pieceOf = (desk, finding, which, sides) => { // it is now; what the player needs of it
    const { song } = desk;
    now = { desk, finding, which: sides[which] ? which : Object.keys(sides)[0] };
    const [start, end] = finding ? finding.span : [0, song.length];
    return {
      id: `${desk.serial} ${finding ? finding.id + (finding.at || "") : desk.choice()}`,
      sides, side: now.which, from: song.seconds(start), to: finding && finding.lasts ? song.seconds(start) + finding.lasts : song.seconds(end),
      loop: get("loop").checked, wish: wish(desk, finding), ended: stop,
    };
  };
  const play = (desk, finding, which) => {
    if (now) stop();
    const asked = wanted = {};
    const sides = sidesOf(desk, finding, () => wanted === asked && play(desk, finding, which));
    if (!sides) {
      player.wake();
      return mark();
    }
    wanted = null;
    player.play(pieceOf(desk, finding, which, sides));
    frame = requestAnimationFrame(tick);
    return mark();
  };
  // A song that was put anew in the place of what plays goes on from there; what is heard of a
  // finding that is gone plays to its end.
  const adopt = (before, desk) => {
    if (!now || now.desk !== before) return;
    const finding = now.finding && desk.findings.find((f) => f.id === now.finding.id);
    const sides = (finding || !now.finding) && sidesOf(desk, finding || null, () => adopt(before, desk));
    if (!sides) return;
    const piece = pieceOf(desk, finding || null, now.which, sides);
    if (player.seconds < piece.to - piece.from) player.change(piece);
    else stop();
    mark();
  };
  const isNow = (desk, finding) => now && now.desk === desk && now.finding === finding;
  // ▷ and ❚❚ of a finding or a song, and the switch between its two versions.
  const toggle = (desk, finding) => {
    if (!isNow(desk, finding)) return play(desk, finding, buttonsOf(desk, finding).dataset.rests || "written");
    if (player.playing) player.pause();
    else player.resume();
    return mark();
  };
  const turn = (desk, finding, which) => {
    if (!isNow(desk, finding)) return play(desk, finding, which);
    if (!player.piece.sides[which]) return undefined;
    now.which = which;
    player.turn(which);
    return mark();
  };

  for (const name of ["bass", "harmony", "drums", "loops", "roots", "plain", "up", "small"]) {
    get(name).addEventListener("change", () => now && player.change({ wish: wish(now.desk, now.finding) }));
  }
  get("loop").addEventListener("change", () => now && player.change({ loop: get("loop").checked }));
  seek.addEventListener("input", () => now && player.seek(Number(seek.value) / 1000));
  const level = get("level");
  const setLevel = () => {
    player.level(Number(level.value));
    dock.querySelector(".level").textContent = `${level.value} dB`.replace("-", "−");
    level.setAttribute("aria-valuetext", `peaks at ${level.value} decibels below full scale`);
  };
  level.addEventListener("input", setLevel);
  // Browsers put knobs back to where they stood: loud, perhaps. Each opening starts low.
  addEventListener("pageshow", () => { level.value = LOW; setLevel(); });
  level.value = LOW;
  setLevel();
  dock.querySelector("[data-stop]").addEventListener("click", stop);
  addEventListener("pagehide", stop);
  mark();
  return { play, toggle, turn, stop, adopt, mark, get now() { return now; } };
};
