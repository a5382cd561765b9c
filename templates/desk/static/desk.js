// What makes the desk better where a browser runs scripts; every page works without.
"use strict";

// A form is sent once, and only while the desk is there to take it: what was typed is not lost.
for (const form of document.querySelectorAll("form[data-guard]")) {
  form.addEventListener("submit", async (event) => {
    if (form.dataset.sure) return;
    event.preventDefault();
    if (form.dataset.asking) return;
    form.dataset.asking = "yes";
    const pressed = event.submitter;
    try {
      await fetch("/alive", { method: "HEAD", cache: "no-store" });
      form.dataset.sure = "yes";
      form.requestSubmit(pressed);
    } catch {
      delete form.dataset.asking;
      tell(form);
    }
  });
}

// Where a page is shown again from memory, its forms may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-guard]")) {
    delete form.dataset.sure;
    delete form.dataset.asking;
  }
});

function tell(form) {
  let said = form.querySelector("[data-gone]");
  if (!said) {
    said = document.createElement("p");
    said.className = "problems";
    said.dataset.gone = "";
    said.setAttribute("role", "alert");
    form.prepend(said);
  }
  said.textContent =
    "The desk has stopped, and nothing was written. Start it again and copy what you typed: it is still here.";
}

// What is wrong comes first; then the keyboard stands where the next thing is typed.
document.querySelector(".problems[tabindex]")?.focus();

// A form that nobody has touched is made anew when somebody comes back to it: its time is then now.
const entry = document.querySelector("form.entry");
const opened = Date.now();
let touched = document.querySelector(".problems") !== null;
entry?.addEventListener("input", () => (touched = true));
document.addEventListener("visibilitychange", () => {
  if (entry && !document.hidden && !touched && Date.now() - opened > 60_000) location.reload();
});

// A link to an explanation opens it.
function open_explained() {
  const part = document.getElementById(location.hash.slice(1));
  if (part instanceof HTMLDetailsElement) part.open = true;
}
window.addEventListener("hashchange", open_explained);
open_explained();

// The sheets are ready: the next key opens them, or they open by themselves where that was asked for.
// They take the place of this page, so that the way back leads to where the button was pressed.
const ready = document.querySelector("[data-ready]");
ready?.focus();
if (ready?.dataset.ready === "all") {
  window.addEventListener("load", () => setTimeout(() => location.replace(ready.href), 0));
}
