// Is the ear as sure as basslint is? Questions about a song, answered by ear and told at once. What
// was answered is counted for this visit alone.
const makeEar = (desk, box) => {
  const { song } = desk;
  const find = (selector) => box.querySelector(selector);
  const question = find(".question");
  const octave = find(".octave");
  const choices = find(".choices");
  const verdict = find(".verdict");
  const height = find("[name=height]");
  const sampledLoop = song.data.sampled && song.data.sampled.loops.length > 0;
  const UP = ["", "a semitone", "a whole tone", "a minor third", "a major third", "a fourth", "a tritone", "a fifth"];
  const FEWEST = { root: 3, written: 1, lands: 2 };
  const score = { right: 0, asked: 0, streak: 0, best: 0, confusions: new Map() };
  let kind = "", rest = [], now = null, answered = false;

  const pool = {
    root: song.data.asked.roots.map(([start, end, root, sure]) => ({ span: [start, end], root, sure })),
    written: desk.findings.filter((f) => f.change).map((f) => ({ span: f.span, finding: f })),
    lands: song.data.asked.landings.map(([start, end, inside, sure, land]) => ({ span: [start, end], inside, sure, land })),
  };
  const shuffled = (all) => {
    const list = [...all];
    for (let i = list.length - 1; i > 0; i--) {
      const j = Math.floor(Math.random() * (i + 1));
      [list[i], list[j]] = [list[j], list[i]];
    }
    return list;
  };
  const nameOf = (tone, tick) => song.name(60 + tone, tick).replace(/-?\d+$/, "");
  // How far an answer lies from the root, as people say it.
  const apart = (answer, root) => {
    const up = (answer - root + 12) % 12;
    return up <= 7 ? `${UP[up]} too high` : `${UP[12 - up]} too low`;
  };
  const count = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;

  // What sounds: each kind of question brings its own sides, and what is to be heard of them.
  const only = (sound, from, to, up) => ({
    ...sound, tones: [], drums: [], roots: [],
    notes: sound.notes.filter((n) => n.start < to && n.end > from).map((n) => ({ ...n, pitch: n.pitch + up })),
  });
  const sounded = {
    root: (q) => ({ wish: { bass: false, drums: false, roots: false, harmony: true, loops: true },
      sides: (sound) => ({ bar: only(sound, song.seconds(q.span[0]), song.seconds(q.span[1]), 12 * Number(height.value)) }) }),
    written: (q) => ({ wish: {}, sides: (sound) => {
      const both = [sound, sounds.mended(song, sound, q.finding.change)];
      return { A: both[q.first], B: both[1 - q.first] };
    } }),
    lands: () => ({ wish: { up: 1, harmony: true, bass: true }, sides: (sound) => ({ slide: sound }) }),
  };
  const play = (which) => listening && listening.play(desk, now, which);
  const tone = (from, pitch) => ({ start: from, end: from + 0.9, level: 0.7, times: [from], pitches: [pitch] });

  const tell = () => {
    const worst = [...score.confusions].sort((a, b) => b[1] - a[1]).slice(0, 3);
    find(".tally").textContent = score.asked
      ? [`${score.right} of ${score.asked} right`, `streak ${score.streak}, best ${score.best}`,
        ...worst.map(([words, times]) => `${words}, ${times === 1 ? "once" : count(times, "time")}`)].join(" · ")
      : "";
  };
  const judge = (right, words, confusion) => {
    if (answered) return;
    answered = true;
    desk.section.classList.remove("asking");
    score.asked++;
    score.right += right;
    score.streak = right ? score.streak + 1 : 0;
    score.best = Math.max(score.best, score.streak);
    if (confusion) score.confusions.set(confusion, (score.confusions.get(confusion) || 0) + 1);
    verdict.textContent = words;
    verdict.dataset.right = right;
    for (const button of [...octave.children, ...choices.children]) button.disabled = true;
    find(".after").hidden = false;
    find(".turns").hidden = kind !== "root";
    tell();
    find("[data-next]").focus();
  };
  const percent = (share) => `${Math.min(99, Math.round(100 * share))} % sure`;
  const answer = {
    root: (tone_) => {
      now.answer = tone_;
      const tick = now.span[0];
      const right = tone_ === now.root;
      const was = `The root is ${nameOf(now.root, tick)}; basslint is ${percent(now.sure)}`;
      for (const key of octave.children) key.classList.toggle("true", Number(key.dataset.tone) === now.root);
      judge(right, right ? `Right. ${was}.` : `${was}. You answered ${nameOf(tone_, tick)}: ${apart(tone_, now.root)}.`, right ? "" : apart(tone_, now.root));
    },
    written: (side) => {
      const right = (side === "A") === (now.first === 0);
      judge(right, `${right ? "Right" : "No"}: ${now.first === 0 ? "A" : "B"} is as written; there ${now.finding.rule} speaks (${now.finding.level}). The other is mended.`, right ? "" : `${now.finding.rule} not heard`);
    },
    lands: (side) => {
      const right = (side === "in") === Boolean(now.inside);
      const tick = now.land;
      const key = song.data.lanes.key.find(([start, end]) => start <= tick && tick < end);
      judge(right, `${right ? "Right" : "No"}: it lands ${now.inside ? "in" : "outside"} ${key ? key[2] : "the scale"}; basslint is ${percent(now.sure)} of the scale.`, right ? "" : `${now.inside ? "a landing in the scale" : "a landing outside it"} not heard`);
    },
  };
  const asks = {
    root: (q) => `Bar ${song.barOf(q.span[0]) + 1}, the harmony alone${sampledLoop ? ", as the sample sounds" : ""}: which note is its root?`,
    written: (q) => `Bars ${song.barOf(q.span[0]) + 1} to ${song.barOf(q.span[1] - 1) + 1}, twice: as written, and with one thing mended. Which is as written?`,
    lands: (q) => `A slide in bar ${song.barOf(q.land) + 1}, the bass an octave up: does it land in the scale?`,
  };
  const options = { written: [["A", "A is as written"], ["B", "B is as written"]], lands: [["in", "in the scale"], ["out", "outside it"]] };

  const next = () => {
    if (listening) listening.stop();
    if (!rest.length) rest = shuffled(pool[kind]);
    const drawn = rest.pop();
    now = { ...drawn, id: `${desk.section.id}-ear`, at: `${kind} ${drawn.span} ${Math.random()}`, first: Math.random() < 0.5 ? 0 : 1, told: "as asked" };
    Object.assign(now, sounded[kind](now));
    answered = false;
    desk.section.classList.toggle("asking", kind === "root"); // chords are not told in the roll
    question.hidden = false;
    find(".ask").textContent = asks[kind](now);
    verdict.textContent = "";
    find(".after").hidden = true;
    octave.hidden = kind !== "root";
    choices.hidden = kind === "root";
    height.closest("label").hidden = kind !== "root" || sampledLoop;
    for (const side of question.querySelectorAll("[data-side]")) side.hidden = kind !== "written";
    question.querySelector(".listen").dataset.rests = "A";
    for (const key of octave.children) {
      key.disabled = false;
      key.classList.remove("true");
      const spoken = nameOf(Number(key.dataset.tone), now.span[0]);
      key.textContent = spoken;
      key.setAttribute("aria-label", spoken.replace("#", " sharp").replace(/(?<=[A-G])b/, " flat"));
    }
    choices.innerHTML = (options[kind] || []).map(([value, words]) => `<button type="button" data-answer="${value}">${words}</button>`).join("");
    find(".ask").focus();
    play("A");
  };

  octave.innerHTML = Array.from({ length: 12 }, (_, tone_) =>
    `<button type="button" data-tone="${tone_}" class="${[1, 3, 6, 8, 10].includes(tone_) ? "black" : "white"}"></button>`).join("");
  const WHITE = [0, 2, 4, 5, 7, 9, 11];
  for (const key of octave.children) { // where keys lie: a black one over the gap between two white ones
    const at = Number(key.dataset.tone);
    const white = WHITE.filter((tone_) => tone_ < at).length;
    key.style.left = WHITE.includes(at) ? `${white / 7 * 100}%` : `${(white / 7 - 1 / 22) * 100}%`;
  }
  for (const button of box.querySelectorAll("[data-kind]")) {
    const enough = pool[button.dataset.kind].length >= FEWEST[button.dataset.kind];
    button.disabled = !enough;
    if (!enough) button.title = "This song holds too little of it that basslint is sure of.";
  }
  desk.cards.set(`${desk.section.id}-ear`, question);
  const turns = { span: [0, 0], id: `${desk.section.id}-turns`, sides: () => {
    const from = song.seconds(now.span[0]);
    const pitch = (tone_) => 48 + tone_; // C3 to B3: where pitch is told easily
    return { both: { tones: [tone(from, pitch(now.root)), tone(from + 1.05, pitch(now.answer))], notes: [], drums: [], roots: [], loops: [], oneShot: null } };
  }, wish: { bass: true, up: 0, decay: 4, roots: false }, lasts: 2.1, told: "the root, then your answer" };
  desk.cards.set(turns.id, find(".after"));
  box.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button || button.disabled) return;
    const { dataset } = button;
    if (dataset.kind) {
      kind = dataset.kind;
      rest = [];
      for (const other of box.querySelectorAll("[data-kind]")) other.setAttribute("aria-pressed", String(other === button));
      next();
    } else if (dataset.tone) answer.root(Number(dataset.tone));
    else if (dataset.answer) answer[kind](dataset.answer);
    else if (dataset.next !== undefined) next();
    else if (dataset.side && listening) listening.turn(desk, now, dataset.side);
    else if (dataset.play !== undefined && listening) {
      if (!button.closest(".turns")) listening.toggle(desk, now);
      else {
        turns.at = now.at + now.answer;
        turns.span = now.span;
        listening.play(desk, turns, "both");
      }
    }
  });
  // Letters answer; they are the page's own keys elsewhere.
  box.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.tagName === "SELECT" || !now || question.hidden) return;
    const letter = event.key.toUpperCase();
    if (event.key.length === 1) event.stopPropagation();
    if (answered) return;
    if (kind === "root" && /^[A-G]$/.test(letter)) answer.root(([9, 11, 0, 2, 4, 5, 7][letter.charCodeAt(0) - 65] + (event.shiftKey ? 1 : 0)) % 12);
    else if (kind === "written" && (letter === "A" || letter === "B")) answer.written(letter);
    else return;
    event.preventDefault();
  });
  height.addEventListener("change", () => {
    if (!now) return;
    now.at += height.value;
    play("bar");
  });
};
document.addEventListener("toggle", ({ target }) => { // songs may be put in later
  if (!target.matches(".ear[open]") || target.dataset.made) return;
  target.dataset.made = "yes";
  makeEar(deskOf(target.closest(".song")), target);
}, true);
