// Connects: each song's desk when it comes near, keys that step through findings, links and copying.
const listening = window.AudioContext ? makeListening(document.querySelector(".dock")) : null;
const desks = new Map();
let serial = 0; // of the desks made: a song may be put anew in its place
let chosen = null; // {desk, finding}
let cameFrom = null; // what had the focus before a finding took it

const deskOf = (section) => {
  if (desks.has(section) || !section.querySelector("script.data")) return desks.get(section);
  section.querySelector(".desk").hidden = false;
  const desk = makeDesk(section, { choose: (id, from) => choose(desk, desk.findings.find((f) => f.id === id), from), drawn: () => {} });
  desk.section = section;
  desk.serial = ++serial;
  desk.name = section.querySelector("h2").textContent;
  const pick = section.querySelector("[name=set]");
  desk.choice = () => (pick ? pick.value : "safe");
  wireTicks(desk);
  // Fixes that are ticked touch no event of one another: what they change adds up.
  desk.change = () => {
    if (desk.choice() !== "ticked") return desk.song.data[desk.choice()] || null;
    const sum = { lost: [], gained: [], silent: [], struck: [] };
    for (const f of desk.ticked()) for (const what of Object.keys(sum)) sum[what].push(...f.change[what]);
    return desk.ticked().length ? sum : null;
  };
  const download = section.querySelector("[data-download]");
  if (download) download.addEventListener("click", () => takeAway(desk, download.dataset.download));
  desks.set(section, desk);
  if (listening) {
    const wire = (group, finding) => {
      if (!group) return;
      group.hidden = false;
      group.querySelector("[data-play]").addEventListener("click", () => listening.toggle(desk, finding));
      for (const side of group.querySelectorAll("[data-side]")) {
        side.addEventListener("click", () => listening.turn(desk, finding, side.dataset.side));
      }
    };
    wire(section.querySelector(".whole"), null);
    for (const f of desk.findings) wire(desk.cards.get(f.id).querySelector(".listen"), f);
    if (pick) pick.addEventListener("change", () => listening.now && listening.stop());
  }
  return desk;
};

// The files that were written with the page, by name.
const filesOf = async (desk) => {
  const { sizes, packed } = desk.song.data.files;
  const bytes = Uint8Array.from(atob(packed), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const whole = new Uint8Array(await new Response(stream).arrayBuffer());
  const files = {};
  let at = 0;
  for (const [name, size] of sizes) files[name] = whole.slice(at, at += size);
  return files;
};
const takeAway = async (desk, path) => {
  const files = await filesOf(desk);
  const made = desk.choice() === "ticked"
    ? midi.mended(files.written, desk.ticked().map((f) => f.plan))
    : new Blob([files[desk.choice()]], { type: "audio/midi" });
  desk.section.querySelector(".taken").textContent = made ? "" : "Two of the ticked fixes run into each other; untick one.";
  if (!made) return;
  const link = document.createElement("a");
  link.href = URL.createObjectURL(made);
  link.download = path.replace(/^.*[/\\]/, "").replace(/\.midi?$/i, "") + ".mended.mid";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
};
// Fixes that are ticked; one that touches the same events as another cannot be ticked beside it.
const wireTicks = (desk) => {
  const boxes = desk.findings.map((f) => desk.cards.get(f.id).querySelector("[name=take]"));
  desk.ticked = () => desk.findings.filter((f, n) => boxes[n] && boxes[n].checked && f.plan);
  const apply = () => desk.findings.forEach((f, n) => {
    if (!boxes[n]) return;
    const rival = f.rivals.find((other) => boxes[other] && boxes[other].checked);
    boxes[n].disabled = !f.plan || rival !== undefined;
    boxes[n].nextSibling.data = rival === undefined ? " take this fix" : ` changes the same notes as ${desk.findings[rival].rule}`;
  });
  for (const box of boxes) {
    if (!box) continue;
    box.closest("label").hidden = false;
    box.addEventListener("change", () => {
      apply();
      const pick = desk.section.querySelector("[name=set]");
      if (pick && desk.ticked().length) {
        pick.value = "ticked";
        pick.dispatchEvent(new Event("change"));
      }
    });
  }
  apply();
};

const choose = (desk, finding, from) => {
  if (chosen) {
    chosen.desk.cards.get(chosen.finding.id).classList.remove("chosen");
    if (chosen.desk !== desk) chosen.desk.choose(null);
  }
  chosen = { desk, finding };
  cameFrom = from || cameFrom;
  const card = desk.cards.get(finding.id);
  card.hidden = false;
  card.classList.add("chosen");
  desk.choose(finding);
  desk.drawAround(finding);
  card.focus({ preventScroll: true });
  card.scrollIntoView({ block: "center", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
};

// The finding after or before the chosen one, over all songs, as the cards stand.
const step = (way) => {
  const cards = [...document.querySelectorAll(".finding:not([hidden])")];
  if (!cards.length) return;
  const at = chosen ? cards.indexOf(chosen.desk.cards.get(chosen.finding.id)) : way > 0 ? -1 : cards.length;
  const card = cards[Math.min(cards.length - 1, Math.max(0, at + way))];
  const desk = deskOf(card.closest(".song"));
  choose(desk, desk.findings.find((f) => f.id === card.id), chosen ? null : document.activeElement);
};

const reveal = () => {
  const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (!target) return;
  if (target.tagName === "DETAILS") target.open = true;
  const section = target.closest(".song");
  const desk = section && deskOf(section);
  if (!desk || !target.classList.contains("finding")) return;
  choose(desk, desk.findings.find((f) => f.id === target.id), null);
};

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape") {
    if (listening && listening.now) listening.stop();
    else if (cameFrom && document.contains(cameFrom)) {
      cameFrom.focus();
      cameFrom = null;
    }
    return;
  }
  const single = document.querySelector("[name=single]");
  if ((single && !single.checked) || /^(INPUT|SELECT|TEXTAREA)$/.test(event.target.tagName)) return;
  const act = {
    j: () => step(1), k: () => step(-1),
    p: () => listening && chosen && listening.toggle(chosen.desk, chosen.finding),
    b: () => listening && chosen && listening.turn(chosen.desk, chosen.finding, listening.now && listening.now.which === "written" ? "mended" : "written"),
  }[event.key];
  if (!act) return;
  event.preventDefault();
  act();
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.step) step(Number(button.dataset.step));
  if (button.dataset.copy !== undefined) {
    const code = button.previousElementSibling;
    const done = () => { button.textContent = "copied"; };
    const select = () => { // where the clipboard may not be written to, it is ready to be copied
      getSelection().selectAllChildren(code);
      if (document.execCommand("copy")) done();
    };
    if (navigator.clipboard) navigator.clipboard.writeText(code.textContent).then(done, select);
    else select();
  }
  if (button.dataset.roll !== undefined) {
    const card = button.closest(".finding");
    const desk = deskOf(card.closest(".song"));
    choose(desk, desk.findings.find((f) => f.id === card.id), null);
    cameFrom = button;
    card.closest(".song").querySelector(".roll").focus();
  }
});

const near = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    near.unobserve(entry.target);
    deskOf(entry.target);
  }
}, { rootMargin: "600px" });
for (const section of document.querySelectorAll(".song")) near.observe(section);
addEventListener("hashchange", reveal);
addEventListener("beforeprint", () => { for (const section of document.querySelectorAll(".song")) { const desk = deskOf(section); if (desk) desk.paper(); } });
document.body.classList.add("scripted");
if (listening) document.querySelector(".dock").hidden = false;
reveal();
