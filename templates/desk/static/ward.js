// The ward page where a browser runs scripts: kept up to date, searched, walked through by keys, and
// charted in place. Without scripts its links lead to pages of their own.

const WORDS = JSON.parse(document.body.dataset.words);
const live = document.getElementById("live");
const LOOK_EVERY_MS = 700; // a colleague's window sees an entry within two seconds
const KEYS = { Enter: "entry", e: "entry", d: "declined", a: "asleep", w: "away", t: "told", h: "hold" };

const rows = () => [...live.querySelectorAll("tbody.one")];
const shown = () => rows().filter((row) => !row.hidden);
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
    const answer = await fetch(address, { cache: "no-store" });
    stale(answer.ok ? "" : WORDS["not-kept-up"]);
    if (answer.status === 200) renew(parsed(await answer.text()));
  } catch {
    stale(WORDS["no-answer"]);
  }
}

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
  const link = at?.closest?.("[data-part]") && at.matches("[href]") && `[data-part="${at.closest("[data-part]").dataset.part}"] [href="${CSS.escape(at.getAttribute("href"))}"]`;
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
  if (at.isConnected) at.focus();
  else if (link) live.querySelector(link)?.focus();
  else focus_row(rows().find((row) => row.dataset.key === key), does);
}

// A row with an open form stays where it is, and so do all others while one is open: nothing moves
// away from under a hand.
function renew_rows(old_table, table) {
  if (!old_table) return location.reload();
  const known = new Map([...old_table.tBodies].map((row) => [row.dataset.key, row]));
  const is_open = old_table.querySelector(".place") !== null;
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
  for (const row of rows()) row.hidden = !row.dataset.find.includes(wanted) && !row.querySelector(".place");
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

function focus_row(row, does = "entry") {
  const link = row?.querySelector(`[data-does="${does}"]`) ?? row?.querySelector("[data-does]");
  link?.focus();
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

function open_in(row, does) {
  const told = row.querySelector('[data-does="told"]').href;
  const entry = row.querySelector('[data-does="entry"]').href;
  return open_at(row, does === "entry" ? entry : told.replace(/told$/, does));
}

let opened_last = null;

const is_sending = (within) => within.querySelector("form[data-sending]") !== null;

async function open_at(row, href) {
  if (is_sending(row)) return;
  const from = document.activeElement;
  ahead = { from, typed: "" };
  const address = new URL(href);
  opened_last = address;
  address.searchParams.set("in_place", "yes");
  for (const other of live.querySelectorAll(".place")) {
    if (row_of(other) !== row && !other.dataset.touched) other.remove();
  }
  const is_typed = () => row.querySelector(".place[data-touched]") !== null;
  const was_typed = is_typed();
  try {
    const answer = await fetch(address, { cache: "no-store" });
    if (!answer.ok || answer.redirected) throw new Error();
    const text = await answer.text();
    // Somebody may type, or open another form, before a second answer comes.
    if (opened_last === address && (was_typed || !is_typed())) fill(row, text, from);
  } catch {
    location.assign(href); // the page of its own says what is wrong
  } finally {
    if (opened_last === address) ahead = null;
  }
}

// What is typed before the form is there is typed into it: half a number would be another number.
let ahead = null;
document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  if (!ahead || event.ctrlKey || event.altKey || event.metaKey || (key === "Tab" && event.shiftKey)) return;
  if ((key.length > 1 && key !== "Tab") || (target !== ahead.from && target.matches("input, select, textarea"))) return;
  event.preventDefault();
  event.stopPropagation();
  ahead.typed += key === "Tab" ? "\t" : key;
}, { capture: true });

function type_ahead(place) {
  const fields = [...place.querySelectorAll("form :is(input:not([type=hidden]), select, button)")];
  const first = fields.indexOf(document.activeElement);
  if (!ahead?.typed || first < 0) return;
  for (const [number, typed] of ahead.typed.split("\t").entries()) {
    const field = fields[first + number];
    field?.focus();
    if (!typed || !field?.matches("input:not([type=checkbox], [type=radio])")) continue;
    field.value += typed;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

// Who has gone on elsewhere since the desk was asked, `from` another place, keeps the keyboard there.
function fill(row, text, from) {
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
  delete place.dataset.touched;
  const parts = parsed(text).querySelector(".in-place");
  own_ids(parts, row.dataset.key);
  place.firstChild.replaceChildren(document.adoptNode(parts));
  const refused = place.querySelector(".problems[tabindex]");
  if (refused) place.dataset.touched = "yes"; // nothing of it is in a log
  if (is_elsewhere) return;
  (refused ?? place.querySelector("[autofocus]") ?? place.querySelector("input:not([type=hidden])"))?.focus();
  type_ahead(place);
  row.scrollIntoView({ block: "nearest" });
}

// Two forms may be open: without ids of its own, a label would lead into the form of another patient.
function own_ids(parts, key) {
  for (const name of ["id", "for", "list", "aria-describedby"]) {
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

function close(place) {
  if (is_sending(place)) return; // what comes of it is told there
  const row = row_of(place);
  place.remove();
  focus_row(row);
  look();
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
  try {
    await putting; // what was kept goes with it
    await keeping;
    const body = new URLSearchParams(new FormData(form, event.submitter));
    const answer = await fetch(form.action, { method: "POST", body });
    const text = await answer.text();
    if (answer.status === 201) return added(row, place, text, event.submitter?.value === "next");
    const page = parsed(text);
    if (page.querySelector(".in-place")) {
      unsay(); // "Added" would be of an earlier row
      return fill(row, text);
    }
    said(form, page.querySelector("main p:not(.actions)")?.textContent || WORDS["nothing-written"]);
  } catch {
    said(form, WORDS["not-sent"]);
  } finally {
    delete form.dataset.sending;
  }
});

// Whoever was charted a moment ago is not next, also where breaths or a danger keep them above others.
const ROUND_MS = 20 * 60_000;
const charted = new Map();

async function added(row, place, text, goes_on) {
  const was_untold = row.hasAttribute("data-untold");
  place.remove();
  say(text);
  await looking; // it may have been asked before this was written
  await look();
  const is_new_danger = !was_untold && row.hasAttribute("data-untold");
  if (!is_new_danger) charted.set(row.dataset.key, Date.now());
  if (document.activeElement !== document.body) return; // somebody went on meanwhile, and types there
  // A danger that was just charted comes before the next patient.
  if (is_new_danger) {
    focus_row(row, "told");
    return row.scrollIntoView({ block: "center" });
  }
  const is_charted = (each) => Date.now() - (charted.get(each.dataset.key) ?? 0) < ROUND_MS;
  const next = shown().find((each) => each.hasAttribute("data-next") && !is_charted(each));
  if (goes_on && next) await open_in(next, "entry");
  else focus_row(goes_on ? shown()[0] : row);
}

function said(form, words) {
  delete form.dataset.sure;
  keep_soon(form);
  const told = form.querySelector("[data-gone]") ?? document.createElement("p");
  told.className = "problems";
  told.dataset.gone = "";
  told.setAttribute("role", "alert");
  told.textContent = words;
  form.prepend(told);
}

function unsay() {
  for (const part of document.querySelectorAll("main > .notice, main > .undo")) part.remove();
}

// What was added, and the way to undo it, in the place of what was added before. A line that is
// there already is filled anew, so that a screen reader says it.
function say(text) {
  const notice = document.querySelector("main > .notice");
  const [now, undo] = [".notice", ".undo"].map((part) => parsed(text).querySelector(part));
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
