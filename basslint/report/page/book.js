// The rule book: finding a rule by its words, and keys that go from rule to rule.
(() => {
  const lessons = [...document.querySelectorAll(".lesson")];
  const find = document.querySelector(".find");
  const all = document.querySelector(".all");
  all.open = innerWidth >= 992; // on a small screen the lessons are near
  const texts = new Map();
  const wordsOf = (lesson) => {
    if (!texts.has(lesson)) {
      const own = [...lesson.querySelectorAll("h3, p, li")].map((e) => e.textContent).join(" ");
      texts.set(lesson, `${own} ${lesson.closest(".family").querySelector("h2").textContent}`.toLowerCase());
    }
    return texts.get(lesson);
  };
  const search = () => {
    const words = find.words.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    if (words.length) all.open = true;
    for (const lesson of lessons) {
      lesson.hidden = !words.every((word) => wordsOf(lesson).includes(word));
      shown += !lesson.hidden;
      document.querySelector(`[data-for="${lesson.id}"]`).hidden = lesson.hidden;
    }
    for (const family of document.querySelectorAll(".family")) family.hidden = !family.querySelector(".lesson:not([hidden])");
    document.querySelector(".none").hidden = shown > 0;
    find.querySelector(".count").textContent = words.length ? `${shown} of ${lessons.length}` : "";
  };
  find.addEventListener("input", search);
  find.addEventListener("submit", (event) => event.preventDefault());

  // The finding from which the book was opened: a place on a page beside it, and nothing else.
  const opened = () => {
    const from = /^([^/\\:?#]*)(#[\w-]+)$/.exec(new URLSearchParams(location.search).get("from") || "");
    const lesson = from && location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!lesson || !lesson.matches(".lesson")) return;
    const back = document.createElement("a");
    back.href = `./${encodeURIComponent(from[1])}${from[2]}`;
    back.textContent = "← back to the finding";
    const line = document.createElement("p");
    line.className = "back";
    line.append(back);
    lesson.querySelector("h3").after(line);
  };

  let at = null;
  const go = (lesson) => {
    lesson.hidden = false;
    lesson.closest(".family").hidden = false;
    at = lesson;
    lesson.focus({ preventScroll: true });
    lesson.scrollIntoView({ block: "start" });
  };
  const step = (way) => {
    const shown = lessons.filter((lesson) => !lesson.hidden);
    if (!shown.length) return;
    const now = shown.indexOf(at);
    go(shown[Math.min(shown.length - 1, Math.max(0, now < 0 ? 0 : now + way))]);
  };
  const open = () => {
    const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (target && target.classList.contains("lesson")) go(target);
  };
  addEventListener("hashchange", open);
  document.addEventListener("focusin", (event) => { at = event.target.closest(".lesson") || at; });
  document.addEventListener("click", (event) => { at = event.target.closest(".lesson") || at; });
  addEventListener("keydown", (event) => {
    const single = document.querySelector("[name=single]");
    if (event.ctrlKey || event.metaKey || event.altKey || !single.checked || /^(INPUT|SELECT|TEXTAREA)$/.test(event.target.tagName)) return;
    const figure = at && at.querySelector(".plate");
    const act = {
      j: () => step(1), k: () => step(-1),
      p: () => figure && plates.of(figure).play(), b: () => figure && plates.of(figure).next(),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
  opened();
  open();
})();
