// From a rule's page back to where it spoke: links to its findings, made when the page is opened.
document.addEventListener("toggle", ({ target }) => {
  if (!target.matches(".rules details[open]") || target.querySelector(".spoke")) return;
  const links = [...document.querySelectorAll(`.finding a[href="#${CSS.escape(target.id)}"]`)].map((link) => {
    const card = link.closest(".finding");
    const song = document.querySelectorAll(".song").length > 1 ? `${card.closest(".song").querySelector("h2").textContent}, ` : "";
    return `<a href="#${card.id}">${rollDrawing.escape(song + card.querySelector(".place").textContent.trim())}</a>`;
  });
  target.querySelector(".page").insertAdjacentHTML("beforebegin", `<p class="spoke">It spoke here: ${links.join(" · ")}</p>`);
}, true);
// And from a finding to its lesson in the rule book, where that stands beside: the book leads back.
document.addEventListener("toggle", ({ target }) => {
  const link = target.open && target.matches(".finding details") && target.querySelector('a[href^="#rule-"]');
  const rules = document.querySelector(".rules");
  if (!link || !rules || !rules.dataset.book || link.nextElementSibling) return;
  const from = `${decodeURIComponent(location.pathname.split("/").pop())}#${link.closest(".finding").id}`;
  link.insertAdjacentHTML("afterend", ` · <a href="${rules.dataset.book}?from=${encodeURIComponent(from)}${link.hash}">Its lesson, to look at and listen to</a>`);
}, true);
