"use strict";
const D = JSON.parse(document.getElementById("data").textContent);
const T = D.texts;
const by = (id) => document.getElementById(id);
const say = (key, values = {}) => T[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
const close = (one, other, share) => Math.abs(one - other) <= share * Math.max(Math.abs(one), Math.abs(other));

/* ---- numbers as people read and write them ---- */

const decimal = (text) => text.replace(".", D.decimal);
function shown(value, kind) {
  const { factor, decimals, name } = D.shown[kind];
  const text = (value / factor).toFixed(decimals);
  return `${decimal(Number(text) === 0 ? (0).toFixed(decimals) : text)}\u00a0${name}`;
}
const volume = (value) => shown(value, "volume");
function length(value) {
  const { tape, factor, name } = D.shown.length;
  if (!tape) return shown(value, "length");
  const parts = Math.round((value / factor) * tape), whole = Math.floor(parts / tape);
  let above = parts % tape, below = tape;
  while (above && above % 2 === 0) { above /= 2; below /= 2; }
  const text = above ? `${whole ? `${whole}-` : ""}${above}/${below}` : `${whole}`;
  return `${text}\u00a0${name}`;
}
const percent = (share) => `${decimal((share * 100).toFixed(Math.abs(share) < 0.0995 ? 1 : 0))}\u00a0%`;

class Unread extends Error {}
const NUMBER = /^(\+?(?:\d+[ -]\d+\/\d+|\d+\/\d+|\d+(?:\.\d+)?|\.\d+))\s*([^\d\s].*)?$/;
function number(text) {
  const parts = text.replace(/[+-]/, " ").trim().split(/\s+/);
  return parts.reduce((sum, part) => {
    const [above, below] = part.split("/").map(Number);
    return sum + (below === undefined ? above : above / below);
  }, 0);
}
/* A comma is a decimal mark, unless three digits behind it could be thousands. */
function read(text, kind, needsUnit = false) {
  let plain = text.trim();
  if (plain === "") throw new Unread("");
  const comma = /^([+-]?\d+),(\d+)(.*)$/.exec(plain);
  if (comma) {
    if (comma[2].length === 3 && Number(comma[1]))
      throw new Unread(say("two_ways", { text, whole: comma[1] + comma[2], point: `${comma[1]}.${comma[2]}` }));
    plain = `${comma[1]}.${comma[2]}${comma[3]}`;
  }
  const found = NUMBER.exec(plain);
  const units = D.units[kind];
  const listed = Object.keys(units).join(", ");
  if (!found) throw new Unread(say("no_number", { text, example: D.example[kind] }));
  const unit = (found[2] || "").trim() || (needsUnit ? "" : D.shown[kind]?.name ?? "");
  if (unit === "" && listed !== "") throw new Unread(say("no_unit", { text, units: listed }));
  if (listed !== "" && !(unit in units)) throw new Unread(say("no_such_unit", { text, units: listed }));
  if (listed === "" && unit !== "") throw new Unread(say("no_number", { text, example: D.example[kind] }));
  const bare = number(found[1]);
  if (!(bare >= 0) || !Number.isFinite(bare)) throw new Unread(say("no_number", { text, example: D.example[kind] }));
  return { value: bare * (units[unit] ?? 1), bare, unit };
}
function share(text) {
  const { value, unit } = read(text, "share");
  if (unit === "" && value > 1) throw new Unread(say("no_percent", { text, example: D.example.share, share: decimal("0.1") }));
  return value;
}

/* ---- the hole that one fills ---- */

const SVG = "http://www.w3.org/2000/svg";
function draw(parent, kind, values, text) {
  const one = document.createElementNS(SVG, kind);
  for (const [key, value] of Object.entries(values)) one.setAttribute(key, value);
  if (text !== undefined) one.textContent = text;
  parent.append(one);
  return one;
}
const C = D.colour;
const LONG = 200, WIDE = 90;
const PLACES = { down: "translate(170 60)", wall: "translate(70 150) rotate(-90)", overhead: "translate(170 240) rotate(180)" };
const state = { pair: D.start, way: "down", pushed: 0, given: 1, width: 0.5 };

function holeNow() {
  const pair = D.pairs[state.pair];
  const d_0 = pair.narrow + (pair.wide - pair.narrow) * state.width;
  const size = { d_0, phi: pair.phi, l_v: pair.l_v };
  const need = required_volume(size);
  const V = need * state.given, x = pair.l_v * state.pushed;
  const now = { ...size, need, V, x };
  now.surface = surface_depth({ V, x, ...size });
  now.before = surface_depth({ V, x: 0, ...size });
  now.spilt = overflow({ V, x, ...size });
  now.gap = unfilled_length({ V, ...size });
  return now;
}
function drawHole(now) {
  const svg = by("hole");
  svg.replaceChildren();
  const along = LONG / now.l_v, across = WIDE / D.pairs[state.pair].wide;
  const d = now.d_0 * across, b = now.phi * across, bottom = now.l_v * along;
  const surface = now.surface * along, end = now.x * along;
  const g = draw(svg, "g", { transform: PLACES[state.way] });
  draw(g, "rect", { x: -170, y: 0, width: 340, height: bottom + 40, fill: C.concrete });
  draw(g, "rect", { x: -d / 2, y: 0, width: d, height: bottom, fill: C.paper, stroke: C.ink });
  if (now.V > 0)
    draw(g, "rect", { id: "mortar", class: "grip", x: -d / 2, y: surface, width: d, height: bottom - surface, fill: C.adhesive });
  if (now.spilt > 0 && state.pushed > 0)
    draw(g, "path", { d: `M ${-d / 2 - 16} 0 Q 0 -26 ${d / 2 + 16} 0 Z`, fill: C.adhesive });
  const bar = draw(g, "g", { id: "bar", class: "grip" });
  draw(bar, "rect", { x: -b / 2, y: end - LONG - 40, width: b, height: LONG + 40, fill: C.steel });
  for (let y = end - 8; y > end - LONG - 40; y -= 14)
    draw(bar, "line", { x1: -b / 2, y1: y, x2: b / 2, y2: y - 6, stroke: C.rib, "stroke-width": 1.5 });
  draw(g, "line", { x1: -d / 2 - 24, y1: surface, x2: -d / 2, y2: surface, stroke: C.adhesive_ink, "stroke-width": 2 });
  draw(g, "line", { x1: -170, y1: 0, x2: 170, y2: 0, stroke: C.ink, "stroke-width": 2 });
  const spot = new DOMPoint(-d / 2 - 28, surface).matrixTransform(g.transform.baseVal.consolidate().matrix);
  const words = now.surface > 0 ? length(now.surface) : T.at_mouth;
  const beside = state.way === "wall" ? { x: spot.x, y: spot.y + 14, "text-anchor": "middle" } : { x: spot.x, y: spot.y + 4, "text-anchor": state.way === "down" ? "end" : "start" };
  draw(svg, "text", beside, words);
}
function sentence(now) {
  if (state.pushed < 1) return say("seen_before", { surface: length(now.surface), x: length(now.x) });
  if (now.gap > D.least.length) return say("seen_short", { gap: length(now.gap) });
  if (now.spilt > D.least.volume) return say("seen_over", { spilt: volume(now.spilt) });
  return T.seen_full;
}
function fill() {
  const pair = D.pairs[state.pair];
  const now = holeNow();
  by("pushed").value = Math.round(state.pushed * 1000);
  by("given").value = Math.round(state.given * 1000);
  by("width").value = Math.round(state.width * 100);
  by("pushed-said").textContent = length(now.x);
  by("given-said").textContent = `${volume(now.V)}, ${percent(state.given)}`;
  by("width-said").textContent = shown(now.d_0, "width");
  for (const id of ["pushed", "given", "width"]) by(id).setAttribute("aria-valuetext", by(`${id}-said`).textContent);
  by("overhead-care").hidden = state.way !== "overhead";
  const rows = [
    [T.n_need, volume(now.need)], [T.n_share, percent(full_fraction({ d_0: now.d_0, phi: pair.phi }))],
    [T.n_before, length(now.before)], [T.n_spilt, volume(now.spilt)],
    [T.n_gap, state.pushed < 1 ? T.not_yet : length(now.gap)],
  ];
  by("numbers").replaceChildren(...rows.flatMap(([words, value]) => [made("dt", words), made("dd", value)]));
  by("seen").textContent = sentence(now);
  drawHole(now);
}
function made(kind, text, values = {}) {
  const one = document.createElement(kind);
  if (text !== undefined) one.textContent = text;
  for (const [key, value] of Object.entries(values)) one.setAttribute(key, value);
  return one;
}
/* The dose with which the surface stands where the finger is: looked for between none and the slider's most. */
function givenFor(depth, now) {
  let low = 0, high = 2;
  for (let i = 0; i < 40; i++) {
    const middle = (low + high) / 2;
    if (surface_depth({ V: now.need * middle, x: now.x, d_0: now.d_0, phi: now.phi, l_v: now.l_v }) > depth) low = middle;
    else high = middle;
  }
  return high;
}
function touch() {
  const svg = by("hole");
  let held = "", from = 0, was = 0;
  const depth = (event) => {
    const inside = svg.querySelector("g").getScreenCTM().inverse();
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(inside).y;
  };
  svg.addEventListener("pointerdown", (event) => {
    held = event.target.closest("#bar") ? "bar" : event.target.closest("#mortar") ? "mortar" : "";
    if (!held) return;
    [from, was] = [depth(event), held === "bar" ? state.pushed : holeNow().surface];
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => {
    if (!held) return;
    const moved = (depth(event) - from) / LONG, now = holeNow();
    if (held === "bar") state.pushed = Math.min(1, Math.max(0, was + moved));
    else state.given = givenFor(Math.min(now.l_v, Math.max(0, was + moved * now.l_v)), now);
    fill();
  });
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => { held = ""; });
}
function startFill() {
  D.pairs.forEach((pair, i) => by("pair").append(made("option", pair.name, { value: i })));
  by("pair").addEventListener("change", () => { state.pair = Number(by("pair").value); state.width = D.pairs[state.pair].usual; fill(); });
  by("pair").value = state.pair;
  state.width = D.pairs[state.pair].usual;
  document.querySelectorAll("input[name=way]").forEach((one) =>
    one.addEventListener("change", () => { state.way = one.value; fill(); }));
  for (const [id, most] of [["pushed", 1000], ["given", 1000], ["width", 100]])
    by(id).addEventListener("input", () => { state[id] = Number(by(id).value) / most; fill(); });
  touch();
  fill();
}

/* ---- fields that are checked as one types, and never keep an old number ---- */

function field(parent, id, label, value, changed) {
  const one = made("input", undefined, { type: "text", id, inputmode: "text", autocomplete: "off", value });
  parent.append(made("label", label, { for: id }), one);
  one.addEventListener("input", changed);
  return one;
}

/* ---- exercises ---- */

function mistake(task, typed) {
  const found = task.mistakes.find(([, value]) => task.unit === "pcs" ? typed.value === value : close(typed.value, value, D.close));
  if (found) return found[0];
  if (task.unit === "pcs" && !Number.isInteger(typed.bare)) return "whole_strokes";
  const other = task.others.find((one) => one.unit !== typed.unit && close(typed.bare, one.number, D.close));
  if (other) return D.inches.includes(other.unit) !== D.inches.includes(typed.unit) ? "mixed_inches" : "other_unit";
  return typed.value < task.answer ? "larger" : "smaller";
}
function startTasks() {
  D.tasks.forEach((task, i) => {
    const box = made("div", undefined, { class: "group" });
    const id = `task-${i}`;
    const said = made("p", "", { class: "said", role: "status" });
    let tries = 0, last = "";
    const asks = made("form");
    box.append(made("h3", say("number", { number: i + 1, count: D.tasks.length })), made("p", task.ask), asks, said);
    const entry = field(asks, id, T.answer, "", () => {});
    const check = made("button", T.check, { type: "submit" }), show = made("button", T.show, { type: "button", hidden: "" });
    asks.append(check, " ", show);
    asks.addEventListener("submit", (event) => {
      event.preventDefault();
      let typed;
      try {
        typed = task.unit === "%" ? { value: share(entry.value), bare: NaN, unit: "%" } : read(entry.value, task.kind, true);
      } catch (error) {
        if (!(error instanceof Unread)) throw error;
        said.textContent = error.message || T.empty;
        return;
      }
      const right = task.unit === "pcs" ? typed.value === task.answer : close(typed.value, task.answer, D.close);
      if (right) { said.textContent = say("right", { answer: task.answer_text }); show.hidden = true; return; }
      if (entry.value !== last) tries += 1;
      last = entry.value;
      said.textContent = `${T.wrong} ${D.hints[mistake(task, typed)]}`;
      show.hidden = tries < D.tries;
    });
    show.addEventListener("click", () => { said.textContent = say("shown", { answer: task.answer_text }); show.hidden = true; });
    by("questions").append(box);
  });
}

/* ---- the sheet, and one's own hole ---- */

function cells(kind, row, scope) {
  return row.map((text, i) => made(i === 0 ? "th" : kind, text, i === 0 || kind === "th" ? { scope } : {}));
}
function sheet() {
  let added = null, wrong = "";
  try { if (by("added").value.trim()) added = share(by("added").value); } catch (error) { wrong = error.message; }
  by("added-said").textContent = wrong;
  by("added-said").className = wrong ? "wrong said" : "said";
  const more = added === null || wrong ? [D.more] : [D.more, added];
  const head = [T.c_pair, T.c_share, T.c_least, ...more.map((one) => say("c_more", { more: percent(one) }))];
  const rows = D.pairs.map((pair) => {
    const size = { d_0: pair.d_0, phi: pair.phi, l_v: pair.l_v }, V_req = required_volume(size);
    const at = (overfill) => {
      const V = dose({ V_req, overfill });
      return say("at", { volume: volume(V), surface: length(surface_depth({ V, x: 0, ...size })) });
    };
    return [pair.name, percent(full_fraction(size)), at(0), ...more.map(at)];
  });
  const table = by("pairs"), top = made("thead"), body = made("tbody"), first = made("tr");
  first.append(...cells("th", head, "col"));
  top.append(first);
  for (const row of rows) { const line = made("tr"); line.append(...cells("td", row, "row")); body.append(line); }
  table.replaceChildren(top, body);
}
function told(parent, message) { parent.replaceChildren(made("p", message, { class: "wrong" })); }
function answer(parent, given, size) {
  const V_req = required_volume(size), V = dose({ V_req, overfill: given.overfill });
  const V_round = given.step ? rounded_dose({ V_dose: V, graduation: given.step }) : V;
  const lines = [
    made("p", volume(V_round), { class: "dose" }),
    ...(given.strokes ? [made("p", say("strokes", { count: strokes({ V_dose: V, stroke: given.step }), stroke: volume(given.step) }))] : []),
    made("p", say("least", { volume: volume(V_req) })),
    made("p", say("level", { surface: length(surface_depth({ V: V_round, x: 0, ...size })) })),
  ];
  parent.replaceChildren(...lines);
  return V_round;
}
function guarded(parent, work) {
  try { return work(); } catch (error) {
    if (error instanceof Unread) told(parent, error.message || T.empty);
    else if (error instanceof RangeError) told(parent, T.impossible);
    else throw error;
    return NaN;
  }
}
function startOwn() {
  const box = by("own-fields"), out = by("own-said");
  const names = ["phi", "d_0", "l_v", "overfill", "step"];
  const work = () => guarded(out, () => {
    const of = (name) => by(`own-${name}`).value;
    const size = { phi: read(of("phi"), "length").value, d_0: read(of("d_0"), "length").value, l_v: read(of("l_v"), "length").value };
    if (size.phi === 0 || size.l_v === 0 || size.phi >= size.d_0) { told(out, T.impossible); return NaN; }
    const step = of("step").trim() ? read(of("step"), "volume").value : 0;
    return answer(out, { overfill: share(of("overfill")), step, strokes: step > 0 }, size);
  });
  names.forEach((name) => field(box, `own-${name}`, T[`own_${name}`], D.own[name], work));
  work();
}
function startGroups() {
  D.groups.forEach((group, i) => {
    const box = made("article", undefined, { class: "group", "aria-labelledby": `group-${i}` });
    box.append(made("h3", group.title, { id: `group-${i}` }), made("p", group.where), made("p", group.dose, { class: "dose" }));
    for (const line of group.lines) box.append(made("p", line));
    for (const line of group.stop) box.append(made("p", line, { class: "wrong" }));
    by("groups").append(box);
    if (!group.straight) { box.append(made("p", T.measured, { class: "quiet" })); return; }
    const part = made("details"), out = made("div", undefined, { "aria-live": "polite" });
    part.append(made("summary", T.otherwise));
    const work = () => guarded(out, () => {
      const d_0 = read(by(`d-${i}`).value, "length").value, l_v = read(by(`l-${i}`).value, "length").value;
      if (group.phi >= d_0 || l_v === 0) { told(out, T.impossible); return; }
      answer(out, group, { d_0, phi: group.phi, l_v, overdrill: group.overdrill, theta: group.theta });
      if (l_v < group.l_v) out.append(made("p", T.shallower, { class: "wrong" }));
      if (group.rule) out.append(made("p", T.by_rule, { class: "quiet" }));
    });
    field(part, `d-${i}`, T.own_d_0, group.d_0_text, work);
    field(part, `l-${i}`, T.own_l_v, group.l_v_text, work);
    part.append(out);
    box.append(part);
    work();
  });
}

startFill();
startTasks();
by("added").addEventListener("input", sheet);
sheet();
startOwn();
if (D.groups.length) startGroups();
