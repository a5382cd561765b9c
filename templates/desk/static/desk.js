// What makes the desk better where a browser runs scripts; every page works without.
"use strict";

const WORDS = JSON.parse(document.body.dataset.words);

// A form is sent once, and only while this very desk is there to take it.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (event.defaultPrevented || !form.matches("form[data-guard]") || form.dataset.sure) return;
  event.preventDefault();
  if (form.dataset.asking) return;
  form.dataset.asking = "yes";
  const pressed = event.submitter;
  if (form.dataset.unkept) keep_now(form);
  await putting; // else what was kept would stay when it is saved
  await keeping;
  if (!(await is_here())) {
    delete form.dataset.asking;
    tell(form);
    return;
  }
  form.dataset.sure = "yes";
  form.requestSubmit(pressed);
});

// Where a page is shown again from memory, its forms may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-guard]")) {
    delete form.dataset.sure;
    delete form.dataset.asking;
  }
});

// A desk that hangs takes the request and never answers it.
const ANSWERS_WITHIN_MS = 15_000;
function ask(address, options) {
  return fetch(address, { cache: "no-store", signal: AbortSignal.timeout(ANSWERS_WITHIN_MS), ...options });
}

// Whether the desk that made this page still answers: after it was closed, another program may.
async function is_here() {
  try {
    const answer = await ask("/alive");
    return answer.ok && (await answer.text()) === form_key();
  } catch {
    return false;
  }
}

function form_key() {
  return document.querySelector("input[name=form_key]")?.value;
}

// The form has its draft: where it is carried out, the draft goes.
function has_draft(form, name) {
  let field = form.querySelector("input[name=draft]");
  if (!field) {
    field = document.createElement("input");
    field.type = "hidden";
    field.name = "draft";
    form.append(field);
  }
  form.dataset.draft = field.value = name;
}

function tell(form) {
  let said = form.querySelector("[data-gone]");
  if (!said) {
    said = document.createElement("p");
    said.className = "problems";
    said.dataset.gone = "";
    said.setAttribute("role", "alert");
    form.prepend(said);
  }
  const kept = form.dataset.draft ? WORDS.kept : WORDS.copy;
  said.textContent = `${WORDS["new-address"]} ${kept}`;
}

// What is typed into a form and not saved is kept by the desk, and put back into the same form.
// A form is known by where it is sent and by whom it is about, not by the keys of one page.
const OF_ONE_PAGE = ["form_key", "form", "meant", "accepted", "filled_in", "card", "draft", "in_place", "named", "without"];
const PAUSE_MS = 500;
const waiting = new WeakMap();
let putting = Promise.resolve();
let keeping = Promise.resolve();
let has_kept = false;
const taken = new Set(); // names of drafts that are not in a form of this page

function fields_of(form) {
  return [...form.elements].filter(
    (each) => each.name && ["input", "select", "textarea"].includes(each.localName) &&
      !["hidden", "file", "submit"].includes(each.type));
}

// The time that the page filled in is kept with when that was, and whose the form was with how they
// were named: where that is otherwise later, it is asked about.
function typed_in(form) {
  return [...fields_of(form), ...form.querySelectorAll("input:is([name=filled_in], [name=named])")]
    .filter((each) => !is_box(each) || each.checked)
    .map((each) => [each.name, each.value]);
}

function is_box(each) {
  return each.type === "checkbox" || each.type === "radio";
}

function is_changed(each) {
  if (is_box(each)) return each.checked !== each.defaultChecked;
  if (each.localName !== "select") return each.value !== each.defaultValue;
  const at_first = [...each.options].find((option) => option.defaultSelected) ?? each.options[0];
  return each.value !== at_first?.value;
}

function name_of(form) {
  const about = [...form.elements].filter(
    (each) => (each.type === "hidden" && !OF_ONE_PAGE.includes(each.name)) || each.name === "bed");
  const parts = about.map((each) => `${each.name}=${each.value}`);
  return [new URL(form.getAttribute("action"), location).pathname, ...parts].join(" ");
}

function words_of(form) {
  const place = form.closest("article, .in-place");
  const title = place?.querySelector("h3") ?? document.querySelector("h1");
  const whose = form.querySelector("select[name=bed]")?.selectedOptions[0] ??
    (place ?? document).querySelector(".whose");
  return [title, whose].filter(Boolean).map((each) => each.textContent.trim()).join(": ");
}

async function keep(form) {
  clearTimeout(waiting.get(form));
  const was = form.dataset.draft ?? "";
  const is_typed = (is_second_try(form) && !is_in_log(form)) ||
    fields_of(form).some((each) => each.name !== "bed" && is_changed(each));
  if (form.dataset.sure) return;
  delete form.dataset.unkept;
  if (!is_typed && !was) return;
  let name = is_typed ? name_of(form) : "";
  while (name && name !== was && taken.has(name)) name += " again";
  // A form in a list has a page of its own, where it is sent to.
  const page = new URL(form.elements.in_place ? form.getAttribute("action") : location, location);
  for (const part of ["notice", "refused"]) page.searchParams.delete(part);
  for (const part of ["bed", "again"]) {
    const value = form.elements.namedItem(part)?.value;
    if (value) page.searchParams.set(part, value);
  }
  const said = {
    form_key: form_key(), was, name, address: form.dataset.address ?? page.pathname + page.search,
    words: words_of(form), typed: JSON.stringify(typed_in(form)),
  };
  has_kept = true;
  const is_leaving = document.visibilityState === "hidden"; // then there is no time to ask
  if (is_leaving || (await is_here())) {
    const body = new URLSearchParams(said);
    const answer = await ask("/drafts", { method: "POST", body, keepalive: true });
    if (answer.ok) return has_draft(form, name);
  }
  form.dataset.unkept = "yes";
  tell(form);
}

function keep_now(form) {
  form.dataset.keeping = "yes";
  keeping = keeping.then(() => putting).then(() => {
    form.dataset.keeping = "yes";
    return keep(form);
  }).catch(() => {
    form.dataset.unkept = "yes";
    tell(form);
  }).finally(() => delete form.dataset.keeping);
}

function keep_soon(form) {
  form.dataset.unkept = "yes";
  clearTimeout(waiting.get(form));
  waiting.set(form, setTimeout(keep_now, PAUSE_MS, form));
}

document.addEventListener("input", (event) => {
  const form = event.target.closest?.("form[data-guard]");
  if (form) keep_soon(form);
});
// Somebody may type before this script runs; what was refused is typed too, and in no log.
function keep_typed() {
  for (const form of document.querySelectorAll("form[data-guard]")) {
    if (form.dataset.unkept || form.dataset.sure) continue;
    if (is_second_try(form) || fields_of(form).some(is_changed)) keep_soon(form);
  }
}
keep_typed();

document.addEventListener("visibilitychange", () => {
  for (const form of document.querySelectorAll("form[data-unkept]")) {
    if (document.visibilityState === "hidden") keep(form).catch(() => undefined);
  }
});

// The desk is gone and cannot keep it: only then is it lost with the page.
window.addEventListener("beforeunload", (event) => {
  if (document.querySelector("form[data-unkept] [data-gone]")) event.preventDefault();
});

// The form stands there with what was typed, since something in it was wrong.
function is_second_try(form) {
  return (form.parentElement ?? form).querySelector(".problems[tabindex]") !== null;
}

// The very same row is there already: put back later, it would be charted twice.
function is_in_log(form) {
  return form.querySelector("input[name=accepted][value=entry-again]") !== null;
}

// What nobody has seen in the form is not sent with it.
function is_being_sent(form) {
  return Boolean(form.dataset.sure || form.dataset.asking);
}

function put_back_now() {
  putting = putting.then(put_back).catch(() => undefined);
}

async function put_back() {
  if (!document.querySelector("[data-drafts]") && !has_kept) return;
  const drafts = await (await ask("/drafts")).json();
  for (const draft of drafts) {
    const plain = draft.name.replace(/( again)+$/, "");
    const form = [...document.querySelectorAll("form[data-guard]")].find(
      (each) => name_of(each) === plain && !each.dataset.draft &&
        (is_second_try(each) || !(is_being_sent(each) || fields_of(each).some(is_changed))));
    if (!form) {
      taken.add(draft.name);
      say_if_changed(draft, plain);
      continue;
    }
    has_draft(form, draft.name);
    form.dataset.address = draft.address;
    if (!is_second_try(form)) fill_in(form, JSON.parse(draft.typed));
    const said = document.querySelector(`[data-drafts] [data-name="${CSS.escape(draft.name)}"]`);
    if (is_second_try(form)) said?.remove();
    else said?.querySelector("a")?.replaceWith(WORDS["put-back"]);
  }
  const banner = document.querySelector("[data-drafts]");
  if (banner && !banner.querySelector("form")) banner.remove();
}

// The row that it was typed into has changed since: it fills no form, and stands there to be read.
function say_if_changed(draft, name) {
  const here = new URL(location);
  here.searchParams.delete("notice");
  const is_of_here = draft.address === here.pathname + here.search;
  if (!is_of_here || [...document.querySelectorAll("form[data-guard]")].some((each) => name_of(each) === name)) return;
  const typed = JSON.parse(draft.typed).filter(([field, value]) => value && !OF_ONE_PAGE.includes(field));
  const words = typed.map(([field, value]) => `${field.replace("cell-", "").replaceAll("_", " ")}: ${value}`);
  const link = document.querySelector(`[data-drafts] [data-name="${CSS.escape(draft.name)}"] a`);
  link?.replaceWith(`${WORDS["changed-since"]} ${words.join("; ")}`);
}

function fill_in(form, typed) {
  for (const each of fields_of(form)) {
    const at = typed.findIndex(([name, value]) =>
      name === each.name && (!is_box(each) || value === each.value));
    if (is_box(each)) each.checked = at >= 0;
    else if (at >= 0) each.value = typed.splice(at, 1)[0][1];
    const folded = is_changed(each) && each.closest("details");
    if (folded) folded.open = true;
  }
  const whose = (named) => named.split(" ")[0];
  for (const each of form.querySelectorAll("input:is([name=filled_in], [name=named])")) {
    const was = typed.find(([name, value]) => name === each.name && (name !== "named" || whose(value) === whose(each.value)));
    if (was) each.value = was[1];
  }
  touched = true;
}

// What is wrong comes first; then the keyboard stands where the next thing is typed. Who types there
// before this script runs goes on.
const starts_at = document.activeElement;
if (starts_at === document.body || (starts_at.autofocus && !is_changed(starts_at))) {
  document.querySelector(".problems[tabindex]")?.focus();
}

// A form that nobody has touched is made anew when somebody comes back to it: its time is then now.
const entry = document.querySelector("form.entry");
const opened = Date.now();
let touched = document.querySelector(".problems") !== null;
put_back_now();
// Forms are also opened in a list.
new MutationObserver((changes) => {
  const added = changes.flatMap((each) => [...each.addedNodes]);
  if (!added.some((each) => each.querySelector?.("form[data-guard]"))) return;
  put_back_now();
  keep_typed();
}).observe(document.getElementById("main") ?? document.body, { childList: true, subtree: true });
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

// Where there is a PDF for paper, it is offered before the page is printed.
const print_ask = document.querySelector("[data-print-ask]");
document.addEventListener("keydown", (event) => {
  const pdf = document.querySelector("[data-print]");
  const is_print = (event.ctrlKey || event.metaKey) && !event.shiftKey && event.key.toLowerCase() === "p";
  if (!is_print || !pdf || !print_ask) return;
  event.preventDefault();
  print_ask.querySelector("[data-print-pdf]").href = pdf.href;
  if (!print_ask.open) print_ask.showModal();
});
print_ask?.addEventListener("click", (event) => {
  if (!event.target.matches("[data-print-page], [data-print-not]")) return;
  print_ask.close();
  if (event.target.matches("[data-print-page]")) window.print();
});

// The sheets are ready: the next key opens them, or they open by themselves where that was asked for.
// They take the place of this page, so that the way back leads to where the button was pressed.
const ready = document.querySelector("[data-ready]");
ready?.focus();
if (ready?.dataset.ready === "all") {
  window.addEventListener("load", () => setTimeout(() => location.replace(ready.href), 0));
}
