// An example of a rule, drawn and heard in one place as it is flagged, mended and clean.
const makePlate = (figure) => {
  const data = JSON.parse(figure.querySelector("script.data").textContent);
  const songs = data.songs.map(readSong);
  const plans = songs.map(rollDrawing.prepare);
  const picture = figure.querySelector(".field svg");
  const names = figure.querySelector(".gutter svg");
  const line = figure.querySelector(".cursor");
  const group = figure.querySelector(".listen");
  const first = Object.keys(data.sides)[0];
  let side = first;

  const found = { flagged: data.findings }; // what is marked: the fault, and what mending made of it
  if (data.sides.mended) {
    const rows = changedRows(songs[0], songs[data.sides.mended.song]);
    found.mended = data.findings.slice(0, 1).map((f) => ({ ...f, rows, mended: [], curve: [] }));
  }
  const songOf = (name) => songs[data.sides[name].song];
  const viewOf = (name) => {
    const [from, to] = data.sides[name].span;
    return { from, to, width: Math.max(1, picture.clientWidth), small: true, drums: true, chosen: null, focus: -1, lit: null,
      findings: found[name] || [] };
  };
  const draw = () => {
    if (!picture.clientWidth) return;
    const made = Object.keys(data.sides).map((name) => rollDrawing.draw(plans[data.sides[name].song], viewOf(name)));
    const now = made[Object.keys(data.sides).indexOf(side)];
    const height = Math.max(...made.map((m) => m.height)); // nothing moves when sides are turned
    picture.setAttribute("height", height);
    picture.innerHTML = now.svg;
    names.setAttribute("height", height);
    names.innerHTML = rollDrawing.gutter(plans[data.sides[side].song], viewOf(side)).svg;
    figure.dataset.side = side;
    for (const words of figure.querySelectorAll(".told")) words.hidden = words.dataset.of !== side;
    for (const button of group.querySelectorAll("[data-side]")) button.setAttribute("aria-pressed", String(button.dataset.side === side));
  };

  let heard = null;
  const example = {
    id: figure.id, span: data.sides[first].span,
    examples: () => (heard = heard || exampleSides(data, songs)),
  };
  const desk = {
    song: songs[0], section: figure, cards: new Map([[figure.id, figure]]), name: figure.dataset.name,
    cursor: (seconds) => {
      const { span } = data.sides[side];
      const song = songOf(side);
      const begun = songOf(first).seconds(data.sides[first].span[0]);
      const tick = seconds === null ? -1 : song.ticks(seconds - begun + song.seconds(span[0]));
      line.hidden = tick < span[0] || tick > span[1];
      line.style.transform = `translateX(${(tick - span[0]) / (span[1] - span[0]) * picture.clientWidth}px)`;
    },
  };
  const turn = (to) => {
    side = to;
    group.dataset.rests = to;
    draw();
  };

  group.dataset.rests = first;
  if (listening) {
    group.hidden = false;
    group.querySelector("[data-play]").addEventListener("click", () => listening.toggle(desk, example));
  }
  for (const button of group.querySelectorAll("[data-side]")) {
    button.addEventListener("click", () => {
      turn(button.dataset.side);
      if (listening) listening.turn(desk, example, side);
    });
  }
  figure.querySelector(".drawn").hidden = false;
  new ResizeObserver(draw).observe(figure);
  draw();
  return {
    desk, example, data, songs,
    play: () => listening && listening.toggle(desk, example),
    next: () => {
      const all = Object.keys(data.sides);
      const to = all[(all.indexOf(side) + 1) % all.length];
      turn(to);
      if (listening) listening.turn(desk, example, to);
    },
  };
};

// Plates come to life when they come near.
const plates = (() => {
  const made = new Map();
  const of = (figure) => {
    if (!made.has(figure)) made.set(figure, makePlate(figure));
    return made.get(figure);
  };
  const near = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      near.unobserve(entry.target);
      of(entry.target);
    }
  }, { rootMargin: "400px" });
  for (const figure of document.querySelectorAll(".plate")) near.observe(figure);
  return { of };
})();
