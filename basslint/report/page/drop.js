// What is dropped and stated goes to the server; what is made of a song comes back as a file.
(() => {
  const zone = document.querySelector(".drop");
  const told = zone.querySelector(".dropped");
  const sounds_ = zone.querySelector(".sounds");
  const isSong = (name) => /\.midi?$/i.test(name);
  const known = zone.querySelector("[name=files]").accept.split(",");
  const isKnown = (name) => known.some((end) => name.toLowerCase().endsWith(end));

  // The server's answer: an object, a file, or a refusal in words.
  const ask = async (address, body, type) => {
    try {
      const answer = await fetch(address, { method: "POST", body, headers: { "Content-Type": type } });
      if (answer.headers.get("content-type").startsWith("application/json")) return await answer.json();
      return answer.ok ? { file: await answer.blob() } : { wrong: await answer.text() };
    } catch { return { wrong: "basslint does not answer. Start it again, and open its new address." }; }
  };
  const say = (object) => ask(object.address, JSON.stringify(object.words), "application/json");
  const send = (address, file) => ask(`${address}${address.includes("?") ? "&" : "?"}name=${encodeURIComponent(file.name)}`, file, "application/octet-stream");
  const save = (blob, name) => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  };
  nudging.ask = (section, finding) => say({ address: `/song/${section.id}/nudge`, words: { finding: finding.id } });
  const songs = () => [...document.querySelectorAll(".song")].map((s) => [s.id, s.querySelector("h2").textContent]);

  const inSight = () => [...document.querySelectorAll(".song")].find((s) => s.getBoundingClientRect().bottom > innerHeight / 3);

  // A sound waits until it is said what it is, and of which song: the one it was dropped on, else
  // the one in sight. The question is brought into sight, wherever it was dropped.
  const offer = (file, on) => {
    const row = document.createElement("li");
    row.className = "row";
    const label = (words, field) => { const made = document.createElement("label"); made.append(words, field); return made; };
    const pick = (options) => { const made = document.createElement("select"); for (const [value, words] of options) made.append(new Option(words, value)); return made; };
    const as = pick([["loop", "the loop"], ["one-shot", "the one-shot of the bass"]]);
    const of = pick(songs());
    if (on) of.value = on.id;
    const use = document.createElement("button");
    use.type = "button";
    use.textContent = "Use it";
    const name = document.createElement("strong");
    name.textContent = file.name;
    row.append(name, label("is ", as), label(" of ", of), use);
    sounds_.append(row);
    told.textContent = "";
    row.scrollIntoView({ block: "center" });
    as.focus({ preventScroll: true });
    use.addEventListener("click", async () => {
      use.disabled = true;
      told.textContent = `Listening to ${file.name} …`;
      const answer = await send(`/song/${of.value}/sound?as=${as.value}`, file);
      told.textContent = answer.wrong || `${file.name} is now ${as.selectedOptions[0].text} of ${of.selectedOptions[0].text}.`;
      use.disabled = false;
      if (answer.wrong) return;
      row.remove();
      dropped.add(of.value); // the song it was said of may stand far below
      show();
    });
  };
  const refuse = (words) => { told.textContent = words; told.scrollIntoView({ block: "center" }); };
  const take = async (files, on) => {
    for (const file of files) {
      if (!isSong(file.name)) {
        if (!isKnown(file.name)) refuse(`“${file.name}” is neither a song nor a sound by its name: drop one of ${known.join(", ")}.`);
        else if (songs().length) offer(file, on);
        else refuse("A sound needs a song: drop a .mid file first.");
        continue;
      }
      told.textContent = `Checking ${file.name} …`;
      const answer = await send("/drop", file);
      if (answer.wrong) refuse(answer.wrong);
      else told.textContent = `${file.name} is on the page.`;
      if (answer.id) dropped.add(answer.id);
      show();
    }
  };
  const dropped = new Set(); // songs to go to once they are here
  const show = () => {
    for (const id of dropped) {
      const section = document.getElementById(id);
      if (!section) continue;
      dropped.delete(id);
      section.scrollIntoView({ block: "start" });
    }
  };
  zone.querySelector("[name=files]").addEventListener("change", (event) => { take([...event.target.files], inSight()); event.target.value = ""; });
  addEventListener("dragover", (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    zone.classList.add("over");
  });
  addEventListener("dragleave", (event) => { if (!event.relatedTarget) zone.classList.remove("over"); });
  addEventListener("drop", (event) => {
    zone.classList.remove("over");
    if (!event.dataTransfer.files.length) return;
    event.preventDefault();
    take([...event.dataTransfer.files], event.target.closest(".song") || inSight());
  });

  const state = async (section, form) => {
    const words = Object.fromEntries([...form.elements].filter((x) => x.name).map((x) => [x.name, x.value]));
    const answer = await say({ address: `/song/${section.id}/state`, words });
    const now = document.getElementById(section.id); // it may have been put anew meanwhile
    const wrong = now && now.querySelector(".stating .wrong");
    if (wrong) wrong.textContent = answer.wrong || "";
  };
  const make = async (section, button) => {
    const at = section.querySelector(".handed");
    const stem = section.querySelector("h2").textContent.replace(/^.*[/\\]/, "").replace(/\.midi?$/i, "");
    const set = section.querySelector("[name=set]");
    at.textContent = "Being made …";
    const by_ear = Boolean(set) && set.value === "ear";
    const mended = button.dataset.version === "mended";
    const answer = await say({ address: `/song/${section.id}/${button.dataset.make}`, words: { by_ear, mended } });
    at.textContent = answer.wrong || "";
    if (answer.file) save(answer.file, button.dataset.make === "guide" ? `${stem}.roots.mid` : `${stem}${mended ? ".mended" : ""}.wav`);
  };
  const write = async (section) => {
    const at = section.querySelector(".handed");
    const set = section.querySelector("[name=set]");
    if (set && set.value === "ticked") {
      at.textContent = "Fixes that are ticked are taken away with “MIDI so mended”.";
      return;
    }
    at.textContent = "Being written …";
    const answer = await say({ address: `/song/${section.id}/write`, words: { by_ear: Boolean(set) && set.value === "ear" } });
    at.textContent = answer.wrong || answer.words;
  };

  // Wires what stands above a song, each time it is put in its place.
  follow.dressed = (section, tools) => {
    const form = tools.querySelector(".stating form");
    if (form) { // what cannot be read has none
      form.addEventListener("submit", (event) => { event.preventDefault(); state(section, form); });
      form.addEventListener("change", () => state(section, form));
    }
    tools.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      if (button.dataset.make) make(section, button);
      if (button.dataset.write !== undefined) write(section);
      if (button.dataset.away !== undefined) say({ address: `/song/${section.id}/away`, words: {} });
      if (button.dataset.save !== undefined) save(new Blob([form.querySelector(".lines").textContent], { type: "application/toml" }), "basslint.toml");
    });
  };
  follow.after = show;
})();
follow.start();
