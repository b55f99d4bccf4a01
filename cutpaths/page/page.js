// The page: reads the card, sends it, shows what comes back. All geometry is the server's.
const $ = (id) => document.getElementById(id);
const form = $("card");
const TAB = (sessionStorage.tab ??= Math.random().toString(36).slice(2, 12));
const QUIET_MS = 300, SAVE = "card", ROW = "row";
const USUAL = { vinyl: [0.8, 0.5], mask: [0.6, 0.5], stencil: [0.8, 0.6], print: [0.15, 0.15], pen: [0.3, 0.3] };
const FIRST = read();
const narrow = matchMedia("(max-width: 40rem)");
narrow.addEventListener("change", () => look());
let past = [], ahead = [], last = "", changed = 0, shown = 0, flying = false, again = false, timer = 0, latest = null;
let row = JSON.parse(sessionStorage[ROW] ?? "[]");

function read() {
  const card = {};
  for (const [name, value] of new FormData(form)) if (typeof value === "string") card[name] = value;
  return card;
}

function fill(card) {
  for (const box of form.elements) {
    if (!box.name || box.type === "file") continue;
    const value = card[box.name] ?? "";
    if (box.type === "radio") box.checked = box.value === value;
    else if (box.type === "checkbox") box.checked = value === "true";
    else if (box.tagName === "SELECT") box.value = [...box.options].some((o) => o.value === value) ? value : box.options[0].value;
    else box.value = value;
  }
  const font = card.font ?? "";
  if (font && !form.querySelector('[name="font"]:checked')) ownFace(font);
  if (!form.querySelector('[name="font"]:checked')) form.querySelector('[name="font"]').checked = true;
  if (!form.querySelector('[name="method"]:checked')) form.querySelector('[name="method"]').checked = true;
}

// ---- what is kept: the card of this tab over a reload, dropped files in the browser's own store
function keep() {
  const card = JSON.stringify(read());
  sessionStorage[SAVE] = card;
  sessionStorage[ROW] = JSON.stringify(row);
  return card;
}
function store(mode) {
  return new Promise((good, bad) => {
    const asked = indexedDB.open("cutpaths", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("files");
    asked.onsuccess = () => good(asked.result.transaction("files", mode).objectStore("files"));
    asked.onerror = () => bad(asked.error);
  });
}
const done = (asked) => new Promise((good, bad) => { asked.onsuccess = () => good(asked.result); asked.onerror = () => bad(asked.error); });

// ---- the server
async function ask(task, body) {
  let answer;
  try {
    answer = await fetch(`/ask/${task}`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ tab: TAB, ...body }) });
  } catch { away("The program has stopped. Your work is kept on this page: start “cutpaths page” again, and it goes on."); throw new Error("away"); }
  if (answer.status === 403) { away("The program was started anew. Open the link that it shows in this browser; this page then goes on by itself."); throw new Error("away"); }
  if (answer.status === 409) {
    for (const key of (await answer.json()).missing) {
      const kept = await done((await store("readonly")).get(key));
      if (!kept) return { faults: { [key === read().font ? "font" : "outline"]: "drop the file again" } };
      const sent = await send(kept.kind, kept.name, kept.data);
      if (!sent.key) return sent;
    }
    return ask(task, body);
  }
  if (answer.headers.get("content-disposition")) return { file: await answer.blob(), name: answer.headers.get("content-disposition").match(/"(.+)"/)[1], told: JSON.parse(answer.headers.get("x-told") ?? "[]") };
  return answer.json().catch(() => ({ refused: "the program did not understand the page; load it again", faults: {} }));
}
async function send(kind, name, data) {
  const answer = await fetch(`/upload/${kind}`, { method: "POST", headers: { "x-name": encodeURIComponent(name), "x-tab": TAB, "content-type": "application/octet-stream" }, body: data }).catch(() => null);
  if (!answer) { away("The program has stopped. Start “cutpaths page” again; your work is kept."); return { faults: {} }; }
  const said = await answer.json().catch(() => ({ refused: "that file is too large" }));
  if (said.key) await done((await store("readwrite")).put({ kind, name, data }, said.key)).catch(() => 0);
  return said;
}
let waiting = 0;
function away(words) {
  $("gone").textContent = words; $("gone").hidden = false;
  clearTimeout(waiting);
  waiting = setTimeout(async () => {
    const answer = await fetch("/alive").catch(() => null);
    if (answer?.ok) { $("gone").hidden = true; look(); }
    else if (answer?.status === 403) away("The program was started anew. Open the link that it shows in this browser; this page then goes on by itself.");
    else away(words);
  }, 1500);
}

// ---- a change: kept, put in the past, looked at
function change({ remember = true } = {}) {
  const card = keep();
  if (card === last) return;
  if (remember && last) { past.push(last); past = past.slice(-300); ahead = []; }
  last = card;
  shape();
  look();
}
function look() {
  changed += 1;
  $("methods").replaceChildren();
  clearTimeout(timer);
  sketch();
}
async function sketch() {
  if (flying) { again = true; return; }
  flying = true;
  const number = changed, card = read(), began = performance.now();
  try {
    const answer = await ask("sketch", { card, narrow: narrow.matches });
    if (number > shown && !answer.stale) { shown = number; show(answer, number); if (answer.refused && number === changed) timer = setTimeout(truly, QUIET_MS); window.dispatchEvent(new CustomEvent("sketched", { detail: performance.now() - began })); }
  } catch { /* away says so */ } finally {
    flying = false;
    if (again) { again = false; sketch(); }
  }
}
async function truly() {
  const number = changed, card = read();
  $("state").textContent = "Inking the true picture …";
  try {
    const answer = await ask("make", { card, narrow: narrow.matches });
    if (number !== changed || answer.stale) return;
    shown = number; show(answer, number);
    if (answer.report && !answer.makeable) cures(number, card);
  } catch { /* away says so */ }
}
async function cures(number, card) {
  $("cures").replaceChildren(p("Trying what would do …"));
  const answer = await ask("cures", { card }).catch(() => ({}));
  if (number !== changed || answer.stale) return;
  offer(answer);
}
function offer(answer) {
  const found = answer.cures ?? [];
  $("cures").replaceChildren(p(found.length ? "Any one of these would do; each was tried:" : answer.refused ?? "No single change that was tried would do."));
  if (answer.beyond) $("cures").append(p(answer.beyond));
  for (const cure of found) {
    const button = document.createElement("button");
    button.type = "button"; button.textContent = cure.text; button.disabled = !Object.keys(cure.card).length;
    button.onclick = () => { fill(cure.card); change(); };
    $("cures").append(button);
  }
}
async function advise() {
  const number = changed;
  $("methods").replaceChildren(p("Trying each method …"));
  const answer = await ask("advice", { card: read() }).catch(() => ({}));
  if (number !== changed || answer.stale) { $("methods").replaceChildren(); return; }
  $("methods").replaceChildren(...(answer.methods ?? []).map((one) => {
    const item = document.createElement("li"), button = document.createElement("button"), words = document.createElement("span");
    button.type = "button"; button.textContent = one.method; words.textContent = one.words;
    button.onclick = () => { fill(one.card); change(); };
    item.append(button, words);
    return item;
  }));
  if (!answer.methods) $("methods").append(p(answer.refused ?? Object.values(answer.faults ?? {})[0] ?? ""));
}
$("advise").onclick = advise;
function p(words) { const found = document.createElement("p"); found.textContent = words; return found; }
function draw(place, svg) {
  if (!svg) { place.replaceChildren(); return; }
  place.replaceChildren(document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true));
}

// ---- showing
function show(answer, number) {
  const faults = answer.faults ?? {}, bad = Object.keys(faults).length > 0 || !!answer.refused;
  for (const old of document.querySelectorAll(".fault")) {
    const name = old.id.slice(6), words = faults[name] ?? "";
    if (old.textContent !== words) old.textContent = words;
    old.hidden = !words;
    old.closest(".field, .picks")?.classList.toggle("wrong", !!words);
    const box = $(name); if (box?.matches("input, select")) box.setAttribute("aria-invalid", words ? "true" : "false");
    if (words && name) for (let up = old.parentElement; up; up = up.parentElement) if (up.tagName === "DETAILS") up.open = true;
  }
  document.querySelector(".rod").classList.toggle("old", bad);
  document.querySelector(".held").classList.toggle("old", bad || !!answer.sketch);
  $("state").classList.toggle("fault-here", bad || answer.makeable === false);
  if (bad) {
    clearTimeout(timer);
    const lost = Object.entries(faults).filter(([name]) => !$(`fault-${name}`)).map(([, words]) => words);
    const words = answer.refused ?? lost[0] ?? Object.values(faults)[0];
    $("state").textContent = `Not yet: ${words}. The last good picture stays.`;
    takeable(null);
    if (answer.cures?.length) offer(answer); else $("cures").replaceChildren();
    return;
  }
  if (!answer.rod) return;
  const view = document.querySelector(".rod");
  view.classList.toggle("sketched", answer.sketch);
  draw($("rod"), answer.rod); draw($("disc"), answer.disc);
  if (answer.sketch) { $("state").textContent = "Pencil sketch; the true picture follows."; takeable(null); $("cures").replaceChildren(); clearTimeout(timer); if (number === changed) timer = setTimeout(truly, QUIET_MS); return; }
  latest = answer;
  const r = answer.report, s = r.size;
  $("state").textContent = answer.makeable
    ? `True picture: ${s.ink_width_mm.toFixed(1)} × ${s.ink_height_mm.toFixed(1)} mm, capitals ${s.cap_height_mm.toFixed(2)} mm${r.fit.limited_by ? `, as large as the ${r.fit.limited_by} allows` : ""}. Ready to take away.`
    : "As it stands it cannot be made: what fails is ringed below.";
  held(answer);
  takeable(answer);
}
function held(answer) {
  const r = answer.report, two = (v) => v.toFixed(2);
  draw($("held"), answer.held);
  const rows = [["Strokes", r.stroke], ["Gaps", r.gap]].map(([name, v]) => [name, `${two(v.before_mm)} mm as drawn → ${two(v.after_mm)} mm, limit ${v.limit_mm}`]);
  if (r.fit.diameter_mm != null) rows.push(["Round the rod", `${r.fit.span_deg.toFixed(0)}° of ${r.fit.span_limit_deg}°`]);
  if (r.islands) rows.push(["Islands", String(r.islands.length)]);
  if (r.bridges) rows.push(["Bridges", String(r.bridges.count)]);
  rows.push(["To cut", `${r.paths.cut_length_mm.toFixed(0)} mm, ${r.paths.nodes} nodes`], ["Face", answer.face]);
  $("figures").replaceChildren(...rows.flatMap(([a, b]) => { const t = document.createElement("dt"), d = document.createElement("dd"); t.textContent = a; d.textContent = b; return [t, d]; }));
  const li = (n) => { const found = document.createElement("li"); found.textContent = n.text; return found; };
  $("fails").replaceChildren(...r.notes.filter((n) => n.failing).slice(0, 12).map(li));
  $("notes").replaceChildren(...r.notes.filter((n) => !n.failing).map(li));
  if (answer.makeable) $("cures").replaceChildren();
}
function takeable(answer) {
  const card = read(), good = !!answer?.makeable;
  for (const button of document.querySelectorAll("[data-file]")) {
    const kind = button.dataset.file;
    const placed = !("placed" in button.dataset) || card.lay === "around" && kind === "picture" || card.reads && (kind !== "picture" || card.side_deg) && card.diameter_mm;
    button.disabled = !(answer && (good || ["report", "map", "trial"].includes(kind)) && placed && (kind !== "practice" || card.method === "pen") && (kind !== "colours" || card.method === "print" || card.outline_width_mm || card.shadow_mm || card.inner_line_mm));
  }
  $("needs").hidden = !good || !!(card.reads && card.side_deg);
  if (!good && $("took").textContent.startsWith("Took")) $("took").textContent = "";
}
function shape() {
  const card = read(), zone = parseFloat((card.zone_mm ?? "").replace(",", ".")) || 0;
  $("ring").hidden = card.lay !== "around"; $("spiral").hidden = card.lay !== "spiral";
  $("at-rule").max = zone || 100; $("at-rule").disabled = !zone;
  $("at-rule").value = parseFloat((card.at_mm ?? "").replace(",", ".")) || zone / 2;
  $("span-rule").value = parseFloat((card.span_deg ?? "").replace(",", ".")) || 90;
  const usual = USUAL[card.method] ?? USUAL.vinyl;
  $("usual-stroke").textContent = usual[0]; $("usual-gap").textContent = usual[1];
  const pick = form.querySelector('[name="font"]:checked');
  $("face-name").textContent = pick?.parentElement.querySelector("b").textContent ?? "";
  $("outline-off").hidden = !card.outline;
  $("outline-name").textContent = card.outline ? sessionStorage[card.outline] ?? "your drawing" : "";
  $("undo").disabled = !past.length; $("redo").disabled = !ahead.length;
}

// ---- hands: typing, rules, dragging, dropping, keys
form.addEventListener("input", () => change());
form.addEventListener("submit", (event) => event.preventDefault());
$("at-rule").addEventListener("input", () => { $("at_mm").value = $("at-rule").value; change(); });
$("span-rule").addEventListener("input", () => { $("span_deg").value = $("span-rule").value; change(); });
$("rod").addEventListener("pointerdown", (down) => {
  const svg = $("rod").querySelector("svg"), zone = Number($("at-rule").max);
  if (!svg || $("at-rule").disabled || down.button) return;
  const perMm = svg.getScreenCTM()?.a ?? 1, from = Number($("at-rule").value);
  $("rod").setPointerCapture(down.pointerId); $("rod").classList.add("held-on");
  const move = (e) => {
    const at = Math.round((from + (e.clientX - down.clientX) / perMm) * 2) / 2;
    if (Math.abs(e.clientX - down.clientX) > 2) { $("at_mm").value = String(Math.min(zone - 0.5, Math.max(0.5, at))); change(); }
  };
  const up = () => { $("rod").removeEventListener("pointermove", move); $("rod").classList.remove("held-on"); };
  $("rod").addEventListener("pointermove", move);
  $("rod").addEventListener("pointerup", up, { once: true }); $("rod").addEventListener("pointercancel", up, { once: true });
});
function step(from, to) {
  if (!from.length) return;
  to.push(last);
  fill(JSON.parse(from.pop()));
  change({ remember: false });
  shape();
}
$("undo").onclick = () => step(past, ahead);
$("redo").onclick = () => step(ahead, past);
addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  if (key === "z" || key === "y") { event.preventDefault(); if (key === "y" || event.shiftKey) step(ahead, past); else step(past, ahead); }
});
$("fresh").onclick = () => { fill({ ...FIRST, text: "", reads: "", outline: "" }); change(); $("text").focus(); };
$("outline-off").onclick = () => { $("outline").value = ""; change(); $("text").focus(); };

function ownFace(key) {
  const first = form.querySelector(".faces .pick"), name = sessionStorage[key];
  if (!name || form.querySelector(`[name="font"][value="${CSS.escape(key)}"]`)) return;
  const copy = first.cloneNode(true), box = copy.querySelector("input");
  box.value = key; box.checked = true;
  copy.querySelector("b").textContent = name; copy.querySelector("small").textContent = "your file"; copy.querySelector("svg")?.remove();
  first.before(copy);
}
async function take(file) {
  const kind = /\.toml$/i.test(file.name) ? "job" : /\.svg$/i.test(file.name) ? "outline" : "font";
  if (file.size > 10 * 2 ** 20) { show({ faults: { [kind === "job" ? "" : kind]: "that file is larger than 10 MB" } }); return; }
  $("state").textContent = `Looking at ${file.name} …`;
  const said = await send(kind, file.name, await file.arrayBuffer());
  if (said.cards) {
    if (said.cards.length > 1) { row = said.cards; rows(); }
    fill({ ...said.cards[0] }); change();
    if (said.left_out.length) $("took").textContent = `Left out, the card has no field for it: ${said.left_out.join(", ")}.`;
  } else if (said.key) {
    sessionStorage[said.key] = kind === "font" ? said.said : said.name;
    if (kind === "font") ownFace(said.key); else $("outline").value = said.key;
    change();
  } else show(said);
}
for (const id of ["load", "font-file", "outline-file"]) $(id).addEventListener("change", () => { if ($(id).files[0]) take($(id).files[0]); $(id).value = ""; });
addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("dropping"); });
addEventListener("dragleave", () => document.body.classList.remove("dropping"));
addEventListener("drop", (event) => { event.preventDefault(); document.body.classList.remove("dropping"); if (event.dataTransfer.files[0]) take(event.dataTransfer.files[0]); });

// ---- faces: one's own words in each
let facesOf = "";
async function faces() {
  const card = read(), words = card.text;
  if (!$("faces").open || !words || words === facesOf) return;
  facesOf = words;
  const answer = await ask("faces", { card }).catch(() => ({}));
  for (const face of answer.faces ?? []) {
    const pick = form.querySelector(`[name="font"][value="${CSS.escape(face.name)}"]`)?.parentElement;
    if (!pick) continue;
    pick.querySelector("svg")?.remove();
    pick.querySelector("small").textContent = face.why ?? face.kind;
    if (face.svg) pick.lastElementChild.append(document.importNode(new DOMParser().parseFromString(face.svg, "image/svg+xml").documentElement, true));
  }
}
$("faces").addEventListener("toggle", faces);
$("text").addEventListener("change", faces);

// ---- taking away
function saved(answer) {
  if (!answer.file) { $("took").textContent = answer.refused ?? Object.values(answer.faults ?? {})[0] ?? ""; return; }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(answer.file); link.download = answer.name; link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  $("took").textContent = `Took ${answer.name}.${answer.told.length ? ` Missing: ${answer.told.join("; ")}.` : ""}`;
}
async function fetched(task, body) {
  $("took").textContent = "Making it …";
  saved(await ask(task, body).catch(() => ({ refused: "The program has stopped." })));
}
for (const button of document.querySelectorAll("[data-file]")) button.onclick = () => fetched("file", { kind: button.dataset.file, card: read() });
$("save-job").onclick = () => fetched("job", { cards: [read()] });
$("save-row").onclick = () => fetched("job", { cards: row, sheet: $("sheet").value });
$("make-sheet").onclick = () => fetched("sheet", { cards: row, sheet: $("sheet").value });
$("add").onclick = () => { row.push(read()); rows(); };
function rows() {
  sessionStorage[ROW] = JSON.stringify(row);
  $("sheet-line").hidden = !row.length;
  $("row").replaceChildren(...row.map((card, k) => {
    const item = document.createElement("li"), words = document.createElement("span");
    words.textContent = `${card.text || "a drawing"}${card.copies > 1 ? ` × ${card.copies}` : ""}, ${card.method ?? "vinyl"}`;
    const open = document.createElement("button"), off = document.createElement("button");
    open.type = off.type = "button"; open.textContent = "Open"; off.textContent = "Take out";
    open.setAttribute("aria-label", `Open ${words.textContent}`); off.setAttribute("aria-label", `Take out ${words.textContent}`);
    open.onclick = () => { fill(row[k]); change(); };
    off.onclick = () => { row.splice(k, 1); rows(); };
    item.append(words, open, off);
    return item;
  }));
}

// ---- begin
if (sessionStorage[SAVE]) fill(JSON.parse(sessionStorage[SAVE]));
rows();
shape();
change({ remember: false });
