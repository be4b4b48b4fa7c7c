// A note that a finding is about, moved by hand: what it would be there, and what would be said of
// it. Every answer was computed by a check of the song so moved; here it is looked up.
const makeNudge = (desk, finding) => {
  const card = desk.cards.get(finding.id);
  card.querySelector(".nudging").append(document.querySelector("#nudge").content.cloneNode(true));
  const panel = card.querySelector(".nudge");
  const { song } = desk;
  const { row, from, said, tone, to } = finding.nudge;
  const places = new Map(to.map((each) => [`${each[0]},${each[1]}`, each]));
  const written = finding.mended; // the outline that the fix has
  const group = panel.querySelector(".listen");
  const told = panel.querySelector("[role=status]");
  let up = 0, later = 0;

  const size = (count, word) => `${Math.abs(count)} ${word}${Math.abs(count) === 1 ? "" : "s"}`;
  const moved = () => [
    up ? `${size(up, "semitone")} ${up > 0 ? "up" : "down"}` : "",
    later ? `${size(later, "sixteenth")} ${later > 0 ? "later" : "earlier"}` : "",
  ].filter(Boolean).join(", ") || "as written";
  const tick = () => song.start[row] + later * song.division / 4;
  const now = () => places.get(`${up},${later}`);
  // Of the bass alone; where nothing is said of its sounds, the note's own tone is moved.
  const change = () => {
    const [, , , , , lost, gained] = now();
    if (lost) return { lost, gained, silent: [], struck: [] };
    if (!up) return { lost: [], gained: [], silent: [], struck: [] };
    return sounds.turned(song, tone, up);
  };
  const words = () => {
    const [, , kind, chance, those] = now();
    const chord = song.data.lanes.chord.find(([start, end]) => start <= tick() && tick() < end);
    const of = chord ? `, ${chord[2]}` : "";
    const is = [
      `the root${chord ? ` of ${chord[2]}` : ""}`, `a tone of the chord${of}`, `of the scale, not of the chord${of}`,
      "foreign to chord and scale", "neither chord nor key can be told here",
    ][kind];
    const slip = chance === null ? "" : `Likely a slip: ${Math.min(99, Math.round(100 * chance))} %${from === null ? "" : `, ${chance > from ? "above" : "below"} the ${Math.round(100 * from)} % from which ${finding.rule} looks closer`}. `;
    if (!those) return `${song.name(song.pitch[row] + up, tick())}, ${moved()}: ${is}. ${slip}What the rules say of it there, a check of the song so moved tells.`;
    const spoken = those.map((each) => said[each]);
    const mine = spoken.filter((each) => each.endsWith(` ${finding.rule}`));
    const others = spoken.filter((each) => !mine.includes(each));
    const verdict = [
      mine.length ? `${finding.rule} speaks (${mine[0].split(" ")[0]})` : `${finding.rule} is silent`,
      ...others.map((each) => `${each.split(" ")[1]} speaks (${each.split(" ")[0]})`),
    ].join("; ");
    return `${song.name(song.pitch[row] + up, tick())}, ${moved()}: ${is}. ${slip}${verdict}.`;
  };
  const show = () => {
    told.textContent = words();
    const those = now()[4];
    const likely = from !== null && now()[3] > from;
    panel.dataset.state = (those ? those.length : likely) ? "spoken" : "silent";
    for (const button of panel.querySelectorAll("[data-by]")) {
      const [a, b] = button.dataset.by.split(",").map(Number);
      button.disabled = button.dataset.by === "0,0" ? !up && !later : !places.has(`${up + a},${later + b}`);
    }
    finding.mended = up || later ? [[tick(), tick() + song.end[row] - song.start[row], song.pitch[row] + up]] : written;
    desk.mini(finding);
  };
  // What is heard: the place as written beside the note as it is moved.
  const asked = {
    id: `${finding.id}-nudged`, span: finding.span, sides: (sound) => ({ written: sound, moved: sounds.mended(song, sound, change()) }),
  };
  desk.cards.set(asked.id, panel);
  group.dataset.rests = "moved";
  const key = () => { asked.at = `${up},${later}`; };
  panel.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.by) {
      const [a, b] = button.dataset.by.split(",").map(Number);
      [up, later] = button.dataset.by === "0,0" ? [0, 0] : [up + a, later + b];
      show();
      key();
      const focused = document.activeElement === document.body || button.disabled;
      if (listening) listening.play(desk, asked, "moved");
      if (focused) panel.querySelector("[data-by]:not(:disabled)").focus();
    } else if (listening && button.dataset.side) listening.turn(desk, asked, button.dataset.side);
    else if (listening && button.dataset.play !== undefined) listening.toggle(desk, asked);
  });
  key();
  show();
};
const nudging = { ask: null }; // a page with a server of its own asks it for a finding's moves
document.addEventListener("toggle", async ({ target }) => { // songs may be put in later
  if (!target.matches(".nudging[open]")) return;
  const card = target.closest(".finding");
  const desk = deskOf(card.closest(".song"));
  const finding = desk.findings.find((f) => f.id === card.id);
  if (finding.nudging) return;
  finding.nudging = true;
  if (!finding.nudge) {
    const told = document.createElement("p");
    told.setAttribute("role", "status");
    told.textContent = "Every place is being checked …";
    target.append(told);
    const answer = await nudging.ask(card.closest(".song"), finding);
    if (answer.to) { finding.nudge = answer; told.remove(); }
    else { told.textContent = answer.wrong; target.addEventListener("toggle", () => { told.remove(); finding.nudging = false; }, { once: true }); }
    if (!finding.nudge || !document.contains(card)) return;
  }
  makeNudge(desk, finding);
}, true);
