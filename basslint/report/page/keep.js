// A song on the page is put anew in its place: what was scrolled to, filtered, opened and playing stays.
const keeping = (() => {
  const details = (section) => [...section.querySelectorAll("details")];
  const kindOf = (x) => {
    const words = x.tagName === "DETAILS" ? x.querySelector("summary").textContent.replace(/[0-9]+/g, "") : "";
    return `${x.tagName} ${x.name || ""} ${JSON.stringify(x.dataset)} ${x.id} ${words}`;
  };
  const alike = (root, tag, kind, inCard) => [...root.querySelectorAll(tag)]
    .filter((x) => (inCard || !x.closest(".finding")) && kindOf(x) === kind);
  const nameOf = (each, section) => { // an element as the next version of its song has it
    const card = each.closest(".finding");
    const kind = kindOf(each);
    return { of: card ? card.id : "", kind, tag: each.tagName, at: alike(card || section, each.tagName, kind, card).indexOf(each) };
  };
  const find = (section, name) => {
    const root = name.of ? document.getElementById(name.of) : section;
    return (root && alike(root, name.tag, name.kind, name.of)[name.at]) || null;
  };

  // What is at the top of the window, and how far from its edge.
  const anchorNow = () => {
    for (const song of document.querySelectorAll(".song")) {
      const box = song.getBoundingClientRect();
      if (box.bottom <= 60) continue;
      if (box.top >= 0) return { id: song.id, song: song.id, top: box.top };
      for (const card of song.querySelectorAll(".finding:not([hidden])")) { // of this song alone: to measure one lays it out
        const { top, bottom } = card.getBoundingClientRect();
        if (bottom > 60 && top > -innerHeight) return { id: card.id, song: song.id, top };
      }
    }
    return null;
  };
  const backTo = (anchor, y) => {
    const each = anchor && (document.getElementById(anchor.id) || document.getElementById(anchor.song));
    if (each && document.getElementById(anchor.id)) scrollBy({ top: each.getBoundingClientRect().top - anchor.top, behavior: "instant" });
    else scrollTo({ top: y, behavior: "instant" });
  };

  const taken = (section) => {
    const desk = desks.get(section);
    const form = section.querySelector(".filters");
    const active = section.contains(document.activeElement) && document.activeElement !== section ? document.activeElement : null;
    return {
      desk,
      window: desk && [desk.view.from, desk.view.to, desk.view.focus],
      filters: form && [...form.elements].filter((x) => x.name).map((x) => [x.name, x.value, x.checked]),
      open: details(section).filter((x) => x.open).map((x) => nameOf(x, section)),
      ticked: desk ? [...section.querySelectorAll("[name=take]:checked")].map((x) => x.closest(".finding").id) : [],
      set: section.querySelector("[name=set]") && section.querySelector("[name=set]").selectedIndex > 0 && section.querySelector("[name=set]").value,
      fields: [...section.querySelectorAll(".tools-of input, .tools-of select")].map((x) => [nameOf(x, section), x.value, x.checked]),
      focus: active && nameOf(active, section),
      chosen: chosen && chosen.desk === desk ? chosen.finding.id : null,
    };
  };
  const given = (section, was) => {
    for (const [name, value, checked] of was.fields) {
      const field = find(section, name);
      if (!field || field.type === "file" || field.dataset.known !== undefined) continue;
      field.value = value;
      field.checked = checked;
    }
    for (const name of was.open) { const each = find(section, name); if (each) each.open = true; }
    if (!was.desk) return near.observe(section);
    const desk = deskOf(section);
    if (!desk) return undefined;
    const form = section.querySelector(".filters");
    if (form && was.filters) {
      for (const [name, value, checked] of was.filters) {
        const box = [...form.elements].find((x) => x.name === name && (x.type !== "checkbox" || x.value === value));
        if (!box) continue;
        if (box.type === "checkbox") box.checked = checked;
        else if ([...box.options].some((o) => o.value === value)) box.value = value;
      }
      form.dispatchEvent(new Event("change"));
    }
    for (const id of was.ticked) {
      const box = document.getElementById(id) && document.getElementById(id).querySelector("[name=take]");
      if (box && !box.disabled) { box.checked = true; box.dispatchEvent(new Event("change")); }
    }
    const set = section.querySelector("[name=set]");
    if (set && was.set && [...set.options].some((o) => o.value === was.set)) set.value = was.set;
    const [from, to, focus] = was.window;
    if (to <= desk.song.length) Object.assign(desk.view, { from, to });
    desk.view.focus = focus < desk.song.notes ? focus : -1;
    if (was.chosen) {
      chosen = null;
      const finding = desk.findings.find((f) => f.id === was.chosen);
      if (finding) {
        chosen = { desk, finding };
        desk.cards.get(finding.id).classList.add("chosen");
        desk.view.chosen = finding;
      }
    }
    desk.render();
    if (listening) {
      listening.adopt(was.desk, desk);
      listening.mark();
    }
    if (was.focus) { const each = find(section, was.focus); if (each) each.focus({ preventScroll: true }); }
    return undefined;
  };

  // `fresh`: the new section, not yet in the page.
  const replace = (old, fresh) => {
    const was = taken(old);
    near.unobserve(old);
    desks.delete(old);
    old.replaceWith(fresh);
    given(fresh, was);
  };
  return { replace, anchorNow, backTo };
})();
