// Follows the server: what it says goes on, and songs that were checked anew are put in their places.
const follow = (() => {
  const bar = document.querySelector(".follow");
  const state = bar.querySelector(".state");
  const main = document.querySelector("main");
  const versions = new Map(bar.dataset.songs.trim().split(/\s+/).filter(Boolean).map((pair) => pair.split(":")));
  const only = new URLSearchParams(location.search).get("song");
  const title = document.title;
  const placed = new Set(); // findings that were new at the last change of their song
  let busy = false;
  let waiting = null; // the newest word of the server, while an older one is worked on
  let over = false; // it has said goodbye: an answer that is still on its way says nothing more

  const option = (name) => document.querySelector(`.when [name=${name}]`);
  const say = (mood, words) => {
    bar.className = `follow ${mood}`;
    if (state.textContent !== words) state.textContent = words;
  };
  const sectionOf = (id) => { const each = document.getElementById(id); return each && each.matches(".song") ? each : null; };

  // What stands above a song goes below its heading, and new findings are marked.
  const dress = (section, html) => {
    const tools = document.createElement("div");
    tools.className = "tools-of";
    tools.innerHTML = html;
    section.querySelector("h2").after(tools);
    const since = tools.querySelector(".since");
    const fresh = since ? since.dataset.new.split(" ").filter(Boolean) : [];
    for (const id of fresh) {
      const card = section.querySelector(`#${CSS.escape(id)} h3`);
      if (card) card.insertAdjacentHTML("beforeend", ' <span class="fresh">new</span>');
    }
    if (follow.dressed) follow.dressed(section, tools);
    return fresh.length;
  };

  // A short soft tone; quieter than anything that is listened to.
  const tone = () => {
    if (!option("tone").checked || !window.AudioContext) return;
    const context = new AudioContext();
    const gain = context.createGain();
    const source = context.createOscillator();
    source.frequency.value = 660;
    gain.gain.setValueAtTime(0, context.currentTime);
    gain.gain.linearRampToValueAtTime(0.05, context.currentTime + 0.03);
    gain.gain.exponentialRampToValueAtTime(0.001, context.currentTime + 0.4);
    source.connect(gain).connect(context.destination);
    source.onended = () => context.close();
    source.start();
    source.stop(context.currentTime + 0.45);
  };
  const retitle = () => {
    const wanted = option("title").checked;
    document.title = wanted ? `(${document.querySelectorAll(".finding:not(.waived)").length}) ${title}` : title;
  };

  const fit = (data) => {
    const doc = new DOMParser().parseFromString(data.frame, "text/html");
    const header = document.querySelector("header");
    const at = keeping.anchorNow(); // measured once before and once after: a long page lays out slowly
    const y = scrollY;
    if (header.innerHTML !== doc.querySelector("header").innerHTML) header.replaceWith(doc.querySelector("header"));
    const rules = document.querySelector("main > .rules");
    const next = doc.querySelector("main > .rules");
    const open = rules ? [...rules.querySelectorAll("details[open]")].map((x) => x.id) : [];
    if (rules && !(next && rules.innerHTML === next.innerHTML)) rules.remove();
    if (next && !document.querySelector("main > .rules")) main.append(next);
    for (const id of open) { const each = document.getElementById(id); if (each) each.open = true; }
    let news = 0;
    for (const song of data.songs) {
      const fresh = document.createRange().createContextualFragment(song.html).querySelector(".song");
      news += dress(fresh, song.tools);
      fresh.dataset.version = song.version;
      const old = sectionOf(song.id);
      if (old) keeping.replace(old, fresh);
      else {
        main.prepend(fresh);
        near.observe(fresh);
      }
      versions.set(song.id, String(song.version));
    }
    if (y > 0) keeping.backTo(at, y);
    if (follow.after) follow.after();
    if (news) tone();
    retitle();
  };

  const hear = async (word) => {
    if (over) return;
    if (busy) { waiting = word; return; }
    busy = true;
    try {
      const wanted = word.songs.filter(([id, version]) => versions.get(id) !== String(version) && (!only || id === only));
      const known = new Set(word.songs.map(([id]) => id));
      for (const section of document.querySelectorAll(".song")) {
        if (known.has(section.id)) continue;
        if (desks.has(section) && listening && listening.now && listening.now.desk === desks.get(section)) listening.stop();
        near.unobserve(section);
        desks.delete(section);
        section.remove();
        versions.delete(section.id);
        if (chosen && !document.contains(chosen.desk.section)) chosen = null;
      }
      const here = [...document.querySelectorAll(".song")].map((s) => s.id);
      if (wanted.length || word.frame !== bar.dataset.frame) {
        // of many at once the page takes those that it shows, and a few more
        const asked = wanted.map(([id]) => id).filter((id, n) => here.includes(id) || n < 12);
        const answer = await fetch("/pieces", {
          method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ shown: here, asked }),
        });
        if (answer.ok) {
          fit(await answer.json());
          bar.dataset.frame = word.frame;
        }
      }
      if (!over) say(word.mood, word.words);
    } catch {
      if (!over) say("lost", "The answer did not arrive; it is asked for again.");
      setTimeout(() => hear(waiting || word), 1000);
    } finally {
      busy = false;
      const next = waiting;
      waiting = null;
      if (next) hear(next);
    }
  };

  const stores = document.querySelector(".tool-store");
  const start = () => {
    for (const made of stores.querySelectorAll(".made")) {
      const section = sectionOf(made.dataset.of);
      if (!section) continue;
      section.dataset.version = versions.get(section.id);
      dress(section, made.innerHTML);
    }
    stores.remove();
    bar.dataset.frame = "";
    option("title").addEventListener("change", retitle);
    const source = new EventSource("/events"); // it comes back by itself after a closed lid
    source.addEventListener("word", (event) => hear(JSON.parse(event.data)));
    source.addEventListener("end", () => { over = true; source.close(); say("lost", "basslint has ended. What stands here stays; start it again to follow on."); });
    source.addEventListener("error", () => {
      if (source.readyState === EventSource.CLOSED) say("lost", "basslint no longer knows this page. Open the address that the terminal shows.");
      else say("lost", "basslint does not answer; it is asked again and again. What stands here stays.");
    });
  };
  return { start, dressed: null, after: null };
})();
