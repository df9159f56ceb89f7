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
    } catch {
      // the button does the same, and says what is the matter
    }
  }

  function show(page) {
    form.elements.form_seen.value = page.querySelector('[name="form_seen"]').value;
    const effect = page.querySelector("#effect");
    if (effect) form.querySelector("#effect").replaceChildren(...effect.childNodes);
    const check = form.querySelector("[data-check]");
    if (check) check.hidden = Boolean(form.querySelector('#effect [value="record"]'));
  }

  function later() {
    clearTimeout(waiting);
    sent++;
    form.elements.form_seen.value = "";
    if (form.checkValidity()) waiting = setTimeout(ask, PAUSE_MS);
  }

  form.addEventListener("input", later);
  if (form.checkValidity() && !form.querySelector("#effect").children.length) ask();
}

document.querySelectorAll("form[data-effect]").forEach(showEffectWhileTyping);

/* An invitation stands behind the # of its link, where no server sees it; it goes into its field, and out of the
   address. */
function takeFromLink(form) {
  const told = location.hash.slice(1);
  if (!told) return;
  form.elements.invitation.value = decodeURIComponent(told);
  history.replaceState(null, "", location.pathname + location.search);
}

document.querySelectorAll("form[data-from-link]").forEach(takeFromLink);

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
