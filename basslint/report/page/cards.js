// Which cards of a song are shown, in which order, and which of them are laid out?
const makeCards = (section, findings, cards, changed) => {
  const AT_ONCE = 200; // are laid out: a thousand would slow every step of the roll
  const list = section.querySelector(".findings");
  const filters = section.querySelector(".filters");
  const more = section.querySelector("[data-more]");
  let limit = AT_ONCE;

  const layOut = () => {
    let shown = 0;
    for (const card of list.children) {
      const beyond = !card.hidden && shown++ >= limit;
      if (card.classList.contains("beyond") !== beyond) card.classList.toggle("beyond", beyond);
    }
    more.hidden = shown <= limit;
    more.textContent = `show more (${shown - limit} wait)`;
  };
  const grow = (to) => {
    limit = Math.max(limit, to);
    layOut();
  };
  // A card that is gone to, with those around it.
  const reach = (card) => {
    if (!list || !more) return;
    card.hidden = false;
    const at = [...list.children].filter((c) => !c.hidden).indexOf(card);
    if (at >= limit - 20) grow(at + AT_ONCE);
  };
  if (more) {
    more.addEventListener("click", () => grow(limit + AT_ONCE));
    new IntersectionObserver(([entry]) => entry.isIntersecting && grow(limit + AT_ONCE), { rootMargin: "1000px" }).observe(more);
    layOut();
  }

  const gravity = (f) => (f.waived ? 0 : 10) + rollDrawing.GRAVITY[f.level];
  const orders = { bar: findings, worst: [...findings].sort((a, b) => gravity(b) - gravity(a)) };
  let order = "bar";
  const apply = () => {
    const get = (name) => filters.querySelector(`[name=${name}]`);
    const levels = new Set([...filters.querySelectorAll("[name=level]:checked")].map((box) => box.value));
    const rule = get("rule").value;
    const part = get("part").value;
    const mendable = get("mendable").checked;
    let shown = 0;
    for (const f of findings) {
      const hide = Boolean(!levels.has(f.level) || (rule && f.rule !== rule)
        || (part && String(f.part) !== part) || (mendable && (!f.fix || f.waived)));
      const card = cards.get(f.id);
      if (card.hidden !== hide) card.hidden = hide;
      shown += !hide;
    }
    if (get("order").value !== order) { // to put a thousand cards in anew takes its time
      order = get("order").value;
      list.append(...orders[order].map((f) => cards.get(f.id)));
    }
    filters.querySelector(".count").textContent = `${shown} of ${findings.length} shown`;
    if (more) layOut();
    changed();
  };
  if (filters) {
    filters.addEventListener("change", apply);
    filters.addEventListener("submit", (event) => event.preventDefault());
  }
  return { reach, worst: orders.worst[0] };
};
