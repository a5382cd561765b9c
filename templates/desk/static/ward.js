// The ward page where a browser runs scripts: kept up to date, searched, walked through by keys, and
// charted in place. Without scripts its links lead to pages of their own.

const WORDS = JSON.parse(document.body.dataset.words);
const live = document.getElementById("live");
const LOOK_EVERY_MS = 700; // a colleague's window sees an entry within two seconds
const KEYS = { Enter: "entry", e: "entry", d: "declined", a: "asleep", w: "away", t: "told", h: "hold" };

const rows = () => [...live.querySelectorAll("tbody.one")];
const shown = () => rows().filter((row) => !row.hidden);
const OPEN = ".place:not([hidden])"; // a form that was closed before it was kept is hidden
const row_of = (element) => element?.closest?.("tbody.one") ?? null;
const parsed = (text) => new DOMParser().parseFromString(text, "text/html");

/* Kept up to date */

let looking = null;
function look() {
  looking ??= look_once().finally(() => (looking = null));
  return looking;
}

async function look_once() {
  try {
    const edition = live.querySelector("#edition").dataset.edition;
    const address = new URL(live.dataset.address, location.href);
    address.searchParams.set("edition", edition);
    const answer = await ask(address);
    stale(answer.ok ? "" : WORDS["not-kept-up"]);
    if (answer.status !== 200) return;
    const page = parsed(await answer.text());
    await pressed;
    renew(page);
  } catch {
    stale(WORDS["no-answer"]);
  }
}

// A click is lost where its row is put in anew between the pressing and the letting go.
const LONGEST_PRESS_MS = 3000;
let pressed = Promise.resolve();
document.addEventListener("pointerdown", () => {
  pressed = new Promise((go) => {
    setTimeout(go, LONGEST_PRESS_MS);
    addEventListener("pointerup", () => setTimeout(go), { once: true });
  });
}, { capture: true });

function stale(words) {
  let said = document.getElementById("stale");
  if (!words) return said?.remove();
  if (said) return;
  said = document.createElement("p");
  said.id = "stale";
  said.className = "problems";
  said.setAttribute("role", "alert");
  said.textContent = words;
  live.before(said);
}

function renew(page) {
  const was = live.querySelector("#edition");
  const now = page.getElementById("edition");
  // Other logs, or one that cannot be read any more: the whole page is of something else.
  if (now.dataset.logs !== was.dataset.logs) {
    if (!live.querySelector(".place[data-touched]")) return location.reload();
    return stale(WORDS["other-logs"]);
  }
  const at = document.activeElement;
  const [key, does] = [row_of(at)?.dataset.key, at?.dataset?.does];
  const part_of = at?.closest?.("[data-part]")?.dataset.part;
  const same = at?.matches?.("[href]") ? `[href="${CSS.escape(at.getAttribute("href"))}"]` : null;
  for (const part of page.querySelectorAll("[data-part]")) {
    const old = live.querySelector(`[data-part="${part.dataset.part}"]`);
    if (old && old.innerHTML !== part.innerHTML) {
      old.innerHTML = part.innerHTML;
      old.className = part.className;
    }
  }
  const tables = [...live.querySelectorAll("table.ward")];
  [...page.querySelectorAll("table.ward")].forEach((table, number) => renew_rows(tables[number], table));
  if (Number(now.dataset.attention) > Number(was.dataset.attention)) sound();
  was.replaceWith(now);
  const count = Number(now.dataset.attention);
  document.title = (count ? `(${count}) ` : "") + document.title.replace(/^\(\d+\) /, "");
  narrow();
  if (!at || at === document.activeElement) return;
  const row = rows().find((each) => each.dataset.key === key);
  const again = at.isConnected ? at
    : part_of && same ? live.querySelector(`[data-part="${part_of}"] ${same}`)
    : same && !does ? row?.querySelector(same) // as the patient's name
    : link_in(row, does);
  if (held?.from === at) held.from = again;
  again?.focus();
}

// A row with an open form stays where it is, and so do all others while one is open: nothing moves
// away from under a hand.
function renew_rows(old_table, table) {
  if (!old_table) return location.reload();
  const known = new Map([...old_table.tBodies].map((row) => [row.dataset.key, row]));
  const is_open = old_table.querySelector(OPEN) !== null;
  for (const row of [...table.tBodies]) {
    const old = known.get(row.dataset.key);
    known.delete(row.dataset.key);
    if (!old) {
      old_table.append(document.adoptNode(row));
      continue;
    }
    if (old.rows[0].outerHTML !== row.rows[0].outerHTML) old.rows[0].replaceWith(document.adoptNode(row.rows[0]));
    old.className = row.className;
    for (const name of ["data-next", "data-untold"]) old.toggleAttribute(name, row.hasAttribute(name));
    if (!is_open) old_table.append(old);
  }
  for (const gone of known.values()) if (!gone.querySelector(".place")) gone.remove();
}

setInterval(() => {
  if (!document.hidden || Date.now() % 5 === 0) look();
}, LOOK_EVERY_MS);
document.addEventListener("visibilitychange", () => document.hidden || look());

/* A sound, only where it is switched on */

const sound_box = document.getElementById("sound");
if (sound_box) {
  sound_box.closest("p").hidden = false;
  sound_box.checked = localStorage.getItem("sound") === "on";
  sound_box.addEventListener("change", () => {
    localStorage.setItem("sound", sound_box.checked ? "on" : "off");
    sound();
  });
}

function sound() {
  if (!sound_box?.checked) return;
  const audio = new AudioContext();
  const [tone, gain] = [audio.createOscillator(), audio.createGain()];
  gain.gain.setValueAtTime(0.05, audio.currentTime);
  gain.gain.exponentialRampToValueAtTime(0.0001, audio.currentTime + 0.6);
  tone.frequency.value = 523;
  tone.connect(gain).connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + 0.6);
  tone.onended = () => audio.close();
}

/* Found while typing */

const find = document.getElementById("find");
function narrow() {
  const wanted = (find?.value ?? "").trim().toLowerCase();
  for (const row of rows()) row.hidden = !row.dataset.find.includes(wanted) && !row.querySelector(OPEN);
}
if (find) {
  find.closest("p").hidden = false;
  find.addEventListener("input", narrow);
  find.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      find.value = "";
      narrow();
    } else if (event.key === "Enter" && shown().length) {
      event.preventDefault();
      open_in(shown()[0], "entry");
    } else if (event.key === "ArrowDown") {
      event.preventDefault();
      focus_row(shown()[0]);
    }
  });
}

/* Walked through by keys: they count only while the keyboard is in the list */

function link_in(row, does) {
  return row?.querySelector(`[data-does="${does}"]`) ?? row?.querySelector("[data-does]");
}

function focus_row(row, does = "entry") {
  link_in(row, does)?.focus();
}

live.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const place = event.target.closest(".place");
  if (place) {
    if (event.key === "Escape") close(place);
    return;
  }
  const row = row_of(event.target);
  const is_list = event.target.matches(".wide");
  if (!row && !is_list) return;
  const all = shown();
  const at = all.indexOf(row);
  if (event.key === "ArrowDown" || event.key === "ArrowUp") {
    event.preventDefault();
    focus_row(all[Math.min(Math.max(at + (event.key === "ArrowDown" ? 1 : -1), 0), all.length - 1)]);
  } else if (event.key === "/" && find) {
    event.preventDefault();
    find.focus();
  } else if (row && KEYS[event.key] && event.key !== "Enter") {
    event.preventDefault();
    open_in(row, KEYS[event.key]);
  }
});

/* Charted in place */

live.addEventListener("click", (event) => {
  if (event.ctrlKey || event.metaKey || event.shiftKey) return;
  const link = event.target.closest("[data-does], [data-instead]");
  if (link) {
    event.preventDefault();
    open_at(row_of(link), link.href);
  } else if (event.target.closest("[data-close]")) {
    close(event.target.closest(".place"));
  }
});

function open_in(row, does, typed) {
  const told = row.querySelector('[data-does="told"]').href;
  const entry = row.querySelector('[data-does="entry"]').href;
  return open_at(row, does === "entry" ? entry : told.replace(/told$/, does), typed);
}

let opened_last = null;

const is_sending = (within) => within.querySelector("form[data-sending]") !== null;
const is_unkept = (within) => within.querySelector("form:is([data-sending], [data-unkept], [data-keeping])") !== null;

async function open_at(row, href, typed = []) {
  const closed = row.querySelector(".place[hidden]");
  if (closed && is_unkept(closed)) return show_again(closed);
  if (is_sending(row)) return;
  const mine = hold_keys(row, typed);
  const address = new URL(href);
  opened_last = address;
  address.searchParams.set("in_place", "yes");
  for (const other of live.querySelectorAll(".place")) {
    if (row_of(other) !== row && !other.dataset.touched) other.remove();
  }
  const is_typed = () => row.querySelector(".place[data-touched]") !== null;
  const was_typed = is_typed();
  try {
    const answer = await ask(address);
    const page = parsed(await answer.text());
    const is_form = answer.ok && !answer.redirected && page.querySelector(".in-place");
    if (!is_form) return location.assign(href); // that page says what is wrong
    let_go(mine);
    // Somebody may type, or open another form, before a second answer comes.
    if (opened_last === address && (was_typed || !is_typed()) && fill(row, page, mine.from)) type_held(row, mine.keys);
  } catch {
    let_go(mine);
    stale(WORDS["no-answer"]);
  }
}

/* What is typed before a form is there: half a number would be another number */

// The keys are held until the form is there in which they are meant, and then typed into it.
let held = null;
function hold_keys(row, keys = []) {
  return (held = { row, from: document.activeElement, keys });
}

function let_go(mine) {
  if (held === mine) held = null;
}

// Who goes elsewhere meanwhile does not mean it any more.
document.addEventListener("focusin", ({ target }) => {
  if (!held || target === held.from) return;
  held.keys.length = 0;
  held = null;
});

const FIELDS = "input, select, textarea";
document.addEventListener("keydown", (event) => {
  const { key } = event;
  if (!held || event.ctrlKey || event.altKey || event.metaKey || (key === "Tab" && event.shiftKey)) return;
  if (key.length > 1 && !["Tab", "Backspace", "Enter", "Escape"].includes(key)) return;
  if (key === "Escape" && is_sending(held.row)) return;
  event.preventDefault();
  event.stopPropagation();
  if (key === "Escape") held = opened_last = null; // not opened after all
  else if (key !== "Enter" || held.keys.length) held.keys.push(key); // pressed twice, it is the same Enter
}, { capture: true });

// As the keyboard would: Tab selects what stands in a field, and what is typed takes its place. Enter
// is left to who sees the form: the keyboard then stands on its button.
function type_held(row, keys) {
  const stops = [...row.querySelectorAll(`form :is(${FIELDS}, button, summary, a[href])`)].filter(
    (each, _, all) => each.getClientRects().length && (each.type !== "radio" || each === all.find((one) => one.name === each.name)));
  let at = stops.indexOf(document.activeElement);
  if (at < 0) return;
  let is_selected = true;
  for (const key of keys) {
    const field = stops[at];
    if (key === "Enter") return field.form?.querySelector("button")?.focus();
    if (key === "Tab") {
      [at, is_selected] = [Math.min(at + 1, stops.length - 1), true];
      stops[at].focus();
      stops[at].select?.();
    } else if (["checkbox", "radio"].includes(field.type)) {
      if (key === " ") field.click();
    } else if (field.matches("input, textarea")) {
      const stands = is_selected ? "" : field.value;
      field.value = key === "Backspace" ? stands.slice(0, -1) : stands + key;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      is_selected = false;
    }
  }
}

// Who has gone on elsewhere since the desk was asked, `from` another place, keeps the keyboard there:
// then it is false.
function fill(row, page, from) {
  const at = document.activeElement;
  const is_elsewhere = at !== document.body && at !== from && !row.contains(at);
  let place = row.querySelector(".place");
  if (!place) {
    place = document.createElement("tr");
    place.className = "place";
    place.append(document.createElement("td"));
    place.firstChild.colSpan = row.rows[0].cells.length;
    row.append(place);
  }
  place.hidden = false;
  delete place.dataset.touched;
  const parts = page.querySelector(".in-place");
  own_ids(parts, row.dataset.key);
  place.firstChild.replaceChildren(document.adoptNode(parts));
  const refused = place.querySelector(".problems[tabindex]");
  if (refused) place.dataset.touched = "yes"; // nothing of it is in a log
  if (is_elsewhere) return false;
  (refused ?? place.querySelector("[autofocus]") ?? place.querySelector("input:not([type=hidden])"))?.focus();
  row.scrollIntoView({ block: "nearest" });
  return true;
}

// Two forms may be open: without ids of its own, a label would lead into the form of another patient.
function own_ids(parts, key) {
  for (const name of ["id", "for", "list", "aria-describedby", "aria-labelledby"]) {
    for (const each of parts.querySelectorAll(`[${name}]`)) {
      const ids = each.getAttribute(name).split(" ");
      each.setAttribute(name, ids.map((id) => `${id}-${key}`).join(" "));
    }
  }
  for (const link of parts.querySelectorAll('a[href^="#"]')) link.setAttribute("href", `${link.getAttribute("href")}-${key}`);
}

live.addEventListener("input", (event) => {
  const place = event.target.closest(".place");
  if (place) place.dataset.touched = "yes";
});
window.addEventListener("beforeunload", (event) => {
  if (live.querySelector(".place[data-touched]")) event.preventDefault();
});

// What is typed is there again until the desk has kept it, and what comes of a form that is being
// sent is told there: until then it is only hidden.
async function close(place) {
  const row = row_of(place);
  held = null;
  place.hidden = true;
  focus_row(row);
  look();
  const form = place.querySelector("form[data-unkept]");
  if (form && !is_sending(place)) keep_now(form);
  await keeping;
  if (place.hidden && !is_unkept(place)) place.remove();
}

function show_again(place) {
  place.hidden = false;
  (place.querySelector(".problems[tabindex]") ?? place.querySelector("input:not([type=hidden])"))?.focus();
}

live.addEventListener("submit", async (event) => {
  const form = event.target;
  const place = form.closest(".place");
  if (!place) return;
  event.preventDefault();
  if (form.dataset.sending) return;
  form.dataset.sending = form.dataset.sure = "yes"; // from now on no more of it is kept
  place.dataset.touched = "yes"; // another form that is opened meanwhile leaves it there
  const row = row_of(place);
  const mine = hold_keys(row);
  const [status, text] = await sent(form, event.submitter);
  delete form.dataset.sending;
  const page = parsed(text);
  if (status === 201) return added(row, place, page, event.submitter?.value === "next", mine);
  let_go(mine);
  if (page.querySelector(".in-place")) {
    unsay(); // "Added" would be of an earlier row
    // The rest of what is being typed for another patient is not typed here.
    if (fill(row, page) && mine.keys.length) row.querySelector(".in-place > :is(.problems, .notice)")?.focus();
  } else said(form, status ? page.querySelector("main p:not(.actions)")?.textContent || WORDS["nothing-written"] : WORDS["not-sent"]);
});

// The status and the text of the desk's answer to a form; 0 without one.
async function sent(form, submitter) {
  try {
    await putting; // what was kept goes with it
    await keeping;
    const body = new URLSearchParams(new FormData(form, submitter));
    const answer = await ask(form.action, { method: "POST", body });
    return [answer.status, await answer.text()];
  } catch {
    return [0, ""];
  }
}

// Whoever was charted a moment ago is not next, also where breaths or a danger keep them above others.
const ROUND_MS = 20 * 60_000;
const charted = new Map();

async function added(row, place, page, goes_on, mine) {
  const was_untold = row.hasAttribute("data-untold");
  place.remove();
  say(page);
  await looking; // it may have been asked before this was written
  await look();
  const is_new_danger = !was_untold && row.hasAttribute("data-untold");
  if (!is_new_danger) charted.set(row.dataset.key, Date.now());
  const is_stopped = held !== mine;
  let_go(mine);
  if (document.activeElement !== document.body) return; // somebody went on meanwhile, and types there
  // A danger that was just charted comes before the next patient.
  if (is_new_danger) {
    focus_row(row, "told");
    return row.scrollIntoView({ block: "center" });
  }
  const is_charted = (each) => Date.now() - (charted.get(each.dataset.key) ?? 0) < ROUND_MS;
  const next = shown().find((each) => each.hasAttribute("data-next") && !is_charted(each));
  if (goes_on && next && !is_stopped) await open_in(next, "entry", mine.keys);
  else focus_row(goes_on ? shown()[0] : row);
}

function said(form, words) {
  delete form.dataset.sure;
  keep_soon(form);
  const told = form.querySelector("[data-gone]") ?? document.createElement("p");
  told.className = "problems";
  told.dataset.gone = "";
  told.setAttribute("role", "alert");
  told.tabIndex = -1;
  told.textContent = words;
  form.prepend(told);
  form.closest(".place").hidden = false;
  const at = document.activeElement;
  if (at === document.body || form.contains(at)) told.focus(); // what is typed on changes nothing sent
}

function unsay() {
  for (const part of document.querySelectorAll("main > .notice, main > .undo")) part.remove();
}

// What was added, and the way to undo it, in the place of what was added before. A line that is
// there already is filled anew, so that a screen reader says it.
function say(page) {
  const notice = document.querySelector("main > .notice");
  const [now, undo] = [".notice", ".undo"].map((part) => page.querySelector(part));
  document.querySelector("main > .undo")?.remove();
  if (notice) notice.replaceChildren(...now.childNodes);
  else live.before(now);
  (notice ?? now).after(undo);
}

for (const each of live.querySelectorAll("[data-keys]")) each.hidden = false;

// The keyboard starts at whoever is next.
if (document.activeElement === document.body && !location.hash) {
  const next = live.querySelector("tbody[data-next]") ?? live.querySelector("tbody.one");
  next?.querySelector("[data-does]").focus({ preventScroll: true });
}
