// One song on the page: overview, roll and read-out, filters and order, the roll as a table.
const makeDesk = (section, on) => {
  const find = (selector) => section.querySelector(selector);
  const all = (selector) => [...section.querySelectorAll(selector)];
  const song = readSong(JSON.parse(find("script.data").textContent));
  const plan = rollDrawing.prepare(song);
  const findings = song.data.findings;
  const cards = new Map(findings.map((f) => [f.id, document.getElementById(f.id)]));
  const roll = find(".roll");
  const field = find(".field");
  const picture = find(".field svg");
  const names = find(".gutter svg");
  const readout = find(".readout");
  const overview = find(".overview");
  const LEAST = song.division / 8; // ticks: the narrowest window
  const view = { from: 0, to: song.length, width: 1, findings, chosen: null, focus: -1, lit: null };
  let drawn = null;
  let asked = 0;

  const shown = () => findings.filter((f) => !cards.get(f.id).hidden);
  const render = () => {
    asked = 0;
    view.width = Math.max(1, field.clientWidth);
    view.findings = shown();
    drawn = rollDrawing.draw(plan, view);
    picture.setAttribute("height", drawn.height);
    picture.innerHTML = drawn.svg;
    roll.dataset.from = view.from;
    roll.dataset.to = view.to;
    const at = find(".overview .window");
    at.setAttribute("x", view.from / song.length * overview.clientWidth);
    at.setAttribute("width", Math.max((view.to - view.from) / song.length * overview.clientWidth, 3));
    const bar = song.barOf(view.from) + 1;
    const last = song.barOf(Math.max(view.to - 1, 0)) + 1;
    overview.setAttribute("aria-valuenow", bar);
    overview.setAttribute("aria-valuetext", `bars ${bar} to ${last} of ${song.bars}`);
    on.drawn();
  };
  const draw = () => { asked = asked || requestAnimationFrame(render); };
  const window_ = (from, to) => {
    const span = Math.min(song.length, Math.max(LEAST, to - from));
    view.from = Math.min(Math.max(0, from), song.length - span);
    view.to = view.from + span;
    draw();
  };
  const zoom = (factor, at = 0.5) => {
    const span = Math.min(song.length, Math.max(LEAST, (view.to - view.from) / factor));
    const still = view.from + at * (view.to - view.from);
    window_(still - at * span, still + (1 - at) * span);
  };
  const pan = (ticks) => window_(view.from + ticks, view.to + ticks);
  const show = (start, end) => { // bring a stretch into the window, with room around it
    const span = Math.max(view.to - view.from, (end - start) * 1.15);
    if (start < view.from || end > view.to) window_((start + end - span) / 2, (start + end + span) / 2);
    else draw();
  };

  const layOut = () => {
    const width = overview.clientWidth;
    const over = overviewDrawing.draw(song, shown(), Math.max(1, width));
    find(".overview g").innerHTML = over.svg;
    find(".overview svg").setAttribute("height", over.height);
    const labels = rollDrawing.gutter(plan, view);
    names.setAttribute("height", labels.height);
    names.innerHTML = labels.svg;
    draw();
  };

  // A note in words, with the chord over it and the finding on it.
  const words = (i) => {
    const tick = song.start[i];
    const chord = song.data.lanes.chord.find(([start, end]) => start <= tick && tick < end);
    const lies = findings.find((f) => f.rows.includes(i));
    const bar = song.barOf(tick);
    const beats = Math.round((song.end[i] - tick) / song.beatLength(bar) * 100) / 100;
    const drum = song.role(i) === "drums";
    return [
      drum ? song.data.drums[song.pitch[i]] || `drum ${song.pitch[i]}` : song.name(song.pitch[i], tick),
      song.partName(i), song.place(tick),
      drum ? "" : `${beats} ${beats === 1 ? "beat" : "beats"}`,
      `velocity ${song.velocity[i]}`,
      chord && !drum ? `chord ${chord[2]}, ${chord[3]}` : "",
      lies ? `${lies.level}: ${lies.rule}` : "",
    ].filter(Boolean).join(" · ");
  };
  const read = (i, loud) => {
    readout.setAttribute("aria-live", loud ? "polite" : "off");
    readout.textContent = i >= 0 ? words(i) : "";
  };
  const focusOn = (i) => {
    if (i < 0) return;
    view.focus = i;
    read(i, true);
    show(song.start[i], Math.min(song.end[i], song.start[i] + (view.to - view.from) * 0.8));
  };
  const lines = ["bass", "melody", "harmony", "other", "drums"].filter((role) => plan.layers[role].length);
  let line = 0;
  const step = (way) => {
    const rows = plan.layers[lines[line]];
    let at = rows.indexOf(view.focus);
    if (at < 0) at = rows.findIndex((i) => song.start[i] >= view.from) - (way > 0 ? 1 : 0);
    focusOn(rows[Math.min(rows.length - 1, Math.max(0, at + way))]);
  };
  const otherLine = (way) => {
    const tick = view.focus >= 0 ? song.start[view.focus] : view.from;
    line = (line + way + lines.length) % lines.length;
    const rows = plan.layers[lines[line]];
    const later = rows.findIndex((i) => song.end[i] > tick);
    focusOn(later < 0 ? rows[rows.length - 1] : rows[later]);
  };

  const keys = {
    ArrowRight: () => step(1), ArrowLeft: () => step(-1),
    ArrowUp: () => otherLine(1), ArrowDown: () => otherLine(-1),
    "+": () => zoom(1.4), "=": () => zoom(1.4), "-": () => zoom(1 / 1.4), 0: () => window_(0, song.length),
    Home: () => pan(-song.length), End: () => pan(song.length),
    PageDown: () => pan(view.to - view.from), PageUp: () => pan(view.from - view.to),
    Enter: () => {
      const lies = findings.find((f) => f.rows.includes(view.focus));
      if (lies) on.choose(lies.id, roll);
    },
  };
  roll.addEventListener("keydown", (event) => {
    const act = keys[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  });
  roll.addEventListener("focus", () => { if (view.focus < 0 && lines.length) read(-1, false); });
  field.addEventListener("wheel", (event) => {
    const box = field.getBoundingClientRect();
    if (event.ctrlKey) zoom(1.0018 ** -event.deltaY, (event.clientX - box.left) / box.width);
    else {
      const sideways = event.shiftKey ? event.deltaY : event.deltaX;
      if (Math.abs(sideways) < Math.abs(event.shiftKey ? 0 : event.deltaY)) return;
      pan(sideways * (view.to - view.from) / view.width);
    }
    event.preventDefault();
  }, { passive: false });

  // Pointers: one drags the song, two stretch it; one that rests reads the note under it.
  const fingers = new Map();
  let moved = false;
  const placeIn = (event) => {
    const box = field.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  field.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, event.clientX);
    moved = false;
  });
  field.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId)) {
      read(rollDrawing.noteAt(plan, view, ...placeIn(event)), false);
      return;
    }
    const before = [...fingers.values()];
    fingers.set(event.pointerId, event.clientX);
    const after = [...fingers.values()];
    const perPixel = (view.to - view.from) / view.width;
    if (after.length === 2) {
      const ratio = Math.abs(after[0] - after[1]) / Math.max(Math.abs(before[0] - before[1]), 1);
      const middle = (after[0] + after[1]) / 2 - field.getBoundingClientRect().left;
      zoom(ratio, middle / view.width);
    } else if (moved || Math.abs(after[0] - before[0]) > 2) {
      if (!moved) field.setPointerCapture(event.pointerId);
      pan((before[0] - after[0]) * perPixel);
      moved = true;
    }
  });
  for (const end of ["pointerup", "pointercancel"]) {
    field.addEventListener(end, (event) => {
      fingers.delete(event.pointerId);
      if (moved || end === "pointercancel" || !drawn) return;
      const [left, top] = placeIn(event);
      const mark = top >= drawn.y.marks && top < drawn.y.notes && drawn.placed.find((m) => Math.abs(m.left - left) < 9);
      const note = rollDrawing.noteAt(plan, view, left, top);
      const lies = mark ? mark.finding : note >= 0 && view.findings.find((f) => f.rows.includes(note));
      if (lies) on.choose(lies.id, roll);
      else if (note >= 0) { view.focus = note; read(note, true); draw(); }
    });
  }

  // The overview's window: drag it, click beside it, or use it like a scroll bar.
  const goTo = (event) => {
    const box = overview.getBoundingClientRect();
    const tick = (event.clientX - box.left) / box.width * song.length;
    const half = (view.to - view.from) / 2;
    window_(tick - half, tick + half);
  };
  overview.addEventListener("pointerdown", (event) => {
    overview.setPointerCapture(event.pointerId);
    goTo(event);
  });
  overview.addEventListener("pointermove", (event) => { if (event.buttons) goTo(event); });
  overview.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: -1, ArrowRight: 1, PageUp: -8, PageDown: 8, Home: -song.bars, End: song.bars }[event.key];
    if (!way) return;
    event.preventDefault();
    pan(way * song.length / song.bars);
  });
  for (const button of all("[data-zoom]")) {
    button.addEventListener("click", () => (button.dataset.zoom === "0" ? window_(0, song.length) : zoom(1.4 ** Number(button.dataset.zoom))));
  }

  const pile = makeCards(section, findings, cards, () => layOut());

  // The roll as a table: a row for each bar, made when it is asked for.
  const table = find(".as-table");
  table.addEventListener("toggle", () => {
    const body = table.querySelector("tbody");
    if (!table.open || body.children.length) return;
    body.innerHTML = tableRows(song, plan, findings);
  });

  // Small rolls of the cards. A card grows by its own, so few cards have them at once: a page whose
  // cards are drawn as they come into sight moves under the pointer. Of many they wait for that.
  const AT_ONCE = 40; // the style has it too
  const drawMinis = (those) => {
    const minis = those.map((f) => cards.get(f.id).querySelector(".mini"));
    const widths = minis.map((mini) => mini ? mini.clientWidth : 0); // read before anything is changed
    those.forEach((f, n) => {
      if (!widths[n]) return;
      const [from, to] = f.near || f.span;
      const made = rollDrawing.draw(plan, { ...view, from, to, width: widths[n], small: true, focus: -1, lit: null,
        findings: [f], kicks: f.kicks, drums: f.part >= 0 && song.data.parts[f.part][1] === "drums" });
      const picture = minis[n].querySelector("svg");
      picture.setAttribute("height", made.height);
      picture.innerHTML = made.svg;
      minis[n].dataset.done = "";
    });
  };
  const undrawn = (f) => !cards.get(f.id).querySelector(".mini[data-done]");
  const byId = new Map(findings.map((f) => [f.id, f]));
  const sights = new IntersectionObserver((entries) => {
    drawMinis(entries.filter((e) => e.isIntersecting).map((e) => byId.get(e.target.id)).filter(undrawn));
  }, { rootMargin: "300px" });
  for (const card of cards.values()) sights.observe(card);

  // For paper: the whole song in systems of eight bars.
  const paper = () => {
    const systems = [];
    const of = { ...view, findings, focus: -1, lit: null, width: 640 };
    for (let bar = 0; bar < Math.min(song.bars, 256); bar += 8) {
      of.from = song.barStart[bar];
      of.to = song.barStart[Math.min(bar + 8, song.bars)];
      const made = rollDrawing.draw(plan, of);
      const side = rollDrawing.gutter(plan, of);
      systems.push(`<div class="system"><svg class="names" width="52" height="${made.height}">${side.svg}</svg><svg width="640" height="${made.height}">${made.svg}</svg></div>`);
    }
    find(".paper").innerHTML = systems.join("");
  };

  const first = Math.min(song.bars, Math.max(4, Math.floor(field.clientWidth / 42)));
  window_(0, song.barStart[first]);
  const begin = pile.worst ? pile.worst.places[0][0] : 0;
  if (begin >= view.to) pan(song.barStart[song.barOf(begin) - 1]);
  layOut();
  render();
  if (findings.length <= AT_ONCE) drawMinis(findings);
  let width = field.clientWidth;
  new ResizeObserver(() => {
    layOut();
    if (field.clientWidth === width) return; // as it is told at first
    width = field.clientWidth;
    const those = findings.filter((f) => !undrawn(f));
    for (const f of those) delete cards.get(f.id).querySelector(".mini").dataset.done; // of hidden ones, until they are shown
    drawMinis(those);
  }).observe(field);

  return {
    song, plan, findings, cards, view, show, paper, shown, render, mini: (f) => drawMinis([f]),
    drawAround: (f) => { // a card that grew while it is gone to would not be where it was
      const those = shown();
      const at = those.indexOf(f);
      drawMinis(those.slice(Math.max(0, at - 4), at + 5).filter(undrawn));
    },
    choose: (f) => {
      if (f) pile.reach(cards.get(f.id));
      view.chosen = f;
      view.lit = f ? [f.places[0][0], Math.max(f.places[0][1], f.places[0][0] + 1)] : null;
      if (f) show(...view.lit);
    },
    // Where the sound is: a line over the roll, and over the small roll of the finding that plays.
    cursor: (seconds, f) => {
      const tick = seconds === null ? -1 : song.ticks(seconds);
      const set = (line_, from, to, width) => {
        line_.hidden = tick < from || tick > to;
        line_.style.transform = `translateX(${(tick - from) / (to - from) * width}px)`;
      };
      if (tick > view.to && tick < song.length && !f) window_(tick, tick + view.to - view.from);
      set(find(".field .cursor"), view.from, view.to, view.width);
      for (const mini of all(".mini")) {
        const card = mini.closest(".finding");
        if (f && card.id === f.id) set(mini.querySelector(".cursor"), ...(f.near || f.span), mini.clientWidth);
        else mini.querySelector(".cursor").hidden = true;
      }
    },
  };
};
