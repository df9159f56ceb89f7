/* Makes pages that work without it more pleasant. What a form would change is shown while one types, by sending the
   form for its effect, as its button does, and taking that part out of the answer. */

"use strict";

const PAUSE_MS = 300;

function showEffectWhileTyping(form) {
  let waiting = 0;
  let sent = 0;

  async function ask() {
    const asked = ++sent;
    const body = new URLSearchParams(new FormData(form));
    body.set("step", "effect");
    try {
      const answer = await fetch(form.action || location.href, { method: "POST", body });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (asked !== sent) return;
      if (answer.redirected) history.replaceState(null, "", answer.url);
      if (answer.ok) show(page);
      else if (!page.querySelector("#effect")) unknown();
    } catch {
      if (asked === sent) unknown();
    }
  }

  function unknown() {
    const told = document.createElement("p");
    told.className = "hint";
    told.textContent = "What it changes can't be shown just now. Nothing is lost: go on with the button below.";
    form.querySelector("#effect").replaceChildren(told);
    form.querySelector("[data-check]").hidden = false;
  }

  function show(page) {
    form.elements.form_seen.value = page.querySelector('[name="form_seen"]').value;
    for (const each of page.querySelectorAll("#quantity")) {
      const own = form.elements.namedItem(each.name);
      if (own && !own.value && own !== document.activeElement) own.value = each.value;
    }
    const effect = page.querySelector("#effect");
    if (effect) form.querySelector("#effect").replaceChildren(...effect.childNodes);
    const check = form.querySelector("[data-check]");
    if (check) check.hidden = Boolean(form.querySelector('#effect [value="record"]'));
  }

  function later(event) {
    if (event.target.name === "note") return; // it changes no effect
    clearTimeout(waiting);
    sent++;
    form.elements.form_seen.value = "";
    if (form.checkValidity()) waiting = setTimeout(ask, PAUSE_MS);
  }

  form.addEventListener("input", later);
  if (form.checkValidity() && !form.querySelector("#effect").children.length) ask();
}

document.querySelectorAll("form[data-effect]").forEach(showEffectWhileTyping);

/* What a browser finds wrong in a part of a form that is folded would be said nowhere. */
document.addEventListener("invalid", (event) => {
  for (let part = event.target.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
}, true);

/* An invitation stands behind the # of its link, where no server sees it; it goes into its field, and out of the
   address. */
function takeFromLink(form) {
  const told = location.hash.slice(1);
  if (!told) return;
  form.elements.invitation.value = decodeURIComponent(told);
  history.replaceState(null, "", location.pathname + location.search);
}

document.querySelectorAll("form[data-from-link]").forEach(takeFromLink);

/* Without a connection a form would be lost on the browser's own page: it stays here instead. */
function stayWithoutConnection(event) {
  const form = event.target;
  let told = form.querySelector("[data-offline]");
  if (navigator.onLine) {
    if (told) told.remove();
    return;
  }
  event.preventDefault();
  if (told) return;
  told = document.createElement("div");
  told.className = "note bad";
  told.dataset.offline = "";
  told.setAttribute("role", "alert");
  told.textContent = "There is no connection, so nothing was sent. What you filled in stays here: press again when it is back.";
  form.append(told);
}

document.addEventListener("submit", stayWithoutConnection);

/* Whether there is more of a wide table beside what is seen; one that is seen whole is no stop of the keyboard. */
function tellWidth(frame) {
  const tell = () => {
    const hidden = frame.scrollWidth - frame.clientWidth;
    frame.classList.toggle("cut", hidden - frame.scrollLeft > 1);
    if (hidden > 0) frame.tabIndex = 0;
    else frame.removeAttribute("tabindex");
  };
  frame.addEventListener("scroll", tell, { passive: true });
  new ResizeObserver(tell).observe(frame);
}

document.querySelectorAll(".wide").forEach(tellWidth);
