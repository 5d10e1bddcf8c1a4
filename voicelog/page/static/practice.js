// Practice: the reflex drawn from the eye's own numbers, and the lines that the learner says by hand.

import { inOrder } from "./in-order.js";
import { Eye, beamAt, beamOf, nearShare } from "./practice-eye.js";
import { mapOf } from "./practice-map.js";
import { Watch } from "./practice-watch.js";

const $ = (selector) => document.querySelector(selector);
const $$ = (selector) => [...document.querySelectorAll(selector)];

const POLL_MS = 700;
const UNTOLD = "What do you see? Press “Tell me” for the words.";

const still = matchMedia("(prefers-reduced-motion: reduce)");
let look = null;
let known = { lesson: null, number: 0 };
let moving = !still.matches;
let began = performance.now();
let looked = began;
let watching = null;
let offered = false;

async function ask(path, data) {
  try {
    const answer = await fetch(document.documentElement.dataset.base + path, data && { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(data) });
    const found = await answer.json().catch(() => ({}));
    return answer.ok ? { found } : { error: found.error || found.detail || `refused (${answer.status})` };
  } catch {
    return { error: "voicelog does not answer: it has ended, or the connection is lost" };
  }
}

// Drawing

const drawn = new Eye($("#eye"));
const near = () => (look?.near && moving ? nearShare(look.near, performance.now() - looked) : 0);

function draw(beam) {
  drawn.draw(beam, near());
}

function frame(now) {
  if (!moving) return;
  const beam = beamAt(now - began);
  $("#sweep").value = (beam / beamOf(1)) * 100;
  draw(beam);
  requestAnimationFrame(frame);
}

function move(on) {
  const started = on && !moving;
  moving = on;
  $("#motion").setAttribute("aria-pressed", String(on));
  $("#motion").textContent = on ? "Hold still" : "Sweep";
  if (started) {
    began = performance.now();
    requestAnimationFrame(frame);
  }
  if (!on) draw(beamOf($("#sweep").value / 100));
}

// What comes from the lesson

const paragraph = (text, kind = "") => {
  const made = document.createElement("p");
  made.textContent = text;
  if (kind) made.className = kind;
  return made;
};

function turn(each) {
  const item = document.createElement("li");
  item.append(paragraph(each.text, "said"));
  if (each.reply || each.outcome === "ignored") {
    const kind = each.outcome === "accepted" ? "entered" : each.outcome;
    item.append(paragraph(`log: ${kind}: ${each.reply}`, each.outcome === "accepted" ? "note" : "note asked"));
  }
  if (each.note) item.append(paragraph(each.note, "note"));
  return item;
}

const signed = (power) => (power < 0 ? "−" : "+") + Math.abs(power).toFixed(2);

function lenses() {
  const { sphere, cylinder, axis } = look.lenses;
  const extra = cylinder ? ` ${signed(cylinder)} axis ${axis}` : "";
  return sphere || cylinder ? signed(sphere) + extra : "none";
}

// Answers to lines and to polls may cross: what is older than what is shown is passed over.
function show(found) {
  if (watching || !found.begun || found.lesson < known.lesson) return;
  if (found.lesson !== known.lesson) {
    known = { lesson: found.lesson, number: 0 };
    $("#turns").replaceChildren();
    $("#setting").replaceChildren(...found.setting.map((text) => paragraph(text)));
    $("#steps").replaceChildren(...found.steps.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    $("#choice").open = false;
    $("#todo").hidden = false;
    $("#seen").textContent = "Lay the streak: streak vertical, or one of the buttons.";
  }
  if (found.number < known.number || found.from > known.number) return;
  const fresh = found.turns.slice(known.number - found.from);
  known.number = found.number;
  for (const each of fresh) $("#turns").append(turn(each));
  if (fresh.length) $("#turns").lastElementChild?.scrollIntoView({ block: "nearest" });
  if (fresh.some((each) => each.seen) || !found.look) {
    look = found.look;
    looked = performance.now();
    drawn.look(look ? look.light : []);
  }
  if (look) {
    if (fresh.length) $("#seen").textContent = $("#always").checked ? look.seen : fresh.at(-1).told ? fresh.at(-1).note : UNTOLD;
    $("#before").textContent = `streak ${String(Math.round(look.streak)).padStart(3, "0")} · lenses: ${lenses()} · lenses tried: ${found.lenses}`;
  } else $("#before").textContent = "";
  $("#comparison").replaceChildren(...found.comparison.map((text) => paragraph(text)));
  if (found.replay) {
    const again = Object.assign(document.createElement("button"), { type: "button", textContent: "Show the first mistake" });
    again.addEventListener("click", () => replay(found.replay));
    $("#comparison").append(again);
  }
  $("#comparison").classList.toggle("off", Boolean(found.result?.mistake));
  $("#ruled-out").hidden = !found.map;
  if (found.map) $("#ruled-out > div").replaceChildren(...mapOf(found.map));
  if (!moving) draw(beamOf($("#sweep").value / 100));
}

function replay(past) {
  look = past;
  looked = performance.now();
  drawn.look(past.light);
  $("#seen").textContent = past.seen;
  $("#before").textContent = `streak ${String(Math.round(past.streak)).padStart(3, "0")} · lenses: ${lenses()}`;
  if (moving) began = looked;
  else draw(beamOf($("#sweep").value / 100));
}

// Watching the examiner: its looks and lines in the place of the learner's own

function lookAt(scene) {
  if (scene.look) {
    replay(scene.look);
    return;
  }
  const said = paragraph(`says: ${scene.text}`, "said");
  const item = document.createElement("li");
  item.append(said, paragraph(`log: ${scene.outcome === "accepted" ? "entered" : scene.outcome}: ${scene.reply}`, "note"));
  $("#turns").append(item);
  item.scrollIntoView({ block: "nearest" });
}

function player() {
  $("#player").hidden = !watching;
  $("#watch-play").textContent = watching?.playing ? "Pause" : "Play";
  $("#watch-play").disabled = $("#watch-next").disabled = Boolean(watching?.over);
}

function watch(found) {
  watching?.pause();
  watching = new Watch(found.scenes, document.documentElement.dataset.base, {
    shows: lookAt,
    speaks: () => $("#watch-voice").checked,
    ends: () => {
      $("#comparison").replaceChildren(...found.comparison.map((text) => paragraph(text)));
      $("#seen").textContent = "The examiner is done.";
      player();
    },
  });
  empty();
  $("#setting").replaceChildren(...found.setting.map((text) => paragraph(text)));
  $("#choice").open = false;
  $("#seen").textContent = "The examiner is ready: press Play.";
  player();
  $("#watch-play").focus();
}

function empty() {
  known = { lesson: null, number: 0 };
  look = null;
  drawn.look([]);
  for (const place of ["#turns", "#comparison", "#setting", "#steps"]) $(place).replaceChildren();
  $("#comparison").classList.remove("off");
  $("#ruled-out").hidden = $("#todo").hidden = true;
  $("#before").textContent = "";
}

async function stopWatching() {
  watching?.pause();
  watching = null;
  empty();
  player();
  $("#choice").open = true;
  $("#seen").textContent = "Choose an exercise, then press New eye.";
  draw(beamOf($("#sweep").value / 100));
  const { found } = await ask("/api/practice");
  if (found) show(found);
}

$("#watch").addEventListener("click", async () => {
  const { found, error } = await ask("/api/practice/watch", wanted());
  $("#exercise-note").textContent = error || "";
  if (found) watch(found);
});
$("#watch-play").addEventListener("click", () => {
  if (watching?.playing) watching.pause();
  else watching?.play();
  player();
});
$("#watch-next").addEventListener("click", () => {
  watching?.next();
  player();
});
$("#watch-stop").addEventListener("click", stopWatching);

const say = (line) =>
  inOrder(async () => {
    if (watching) await stopWatching();
    const { found, error } = await ask("/api/practice/lines", { line });
    $("#say-note").textContent = error || "";
    if (found) show(found);
  });

// What the form asks for.
function wanted() {
  const wanted = Object.fromEntries(new FormData($("#exercise")));
  wanted.tremor_d = Number(wanted.tremor_d);
  wanted.off_axis_deg = Number(wanted.off_axis_deg);
  wanted.kind ||= null;
  if (!wanted.kind) {
    wanted.age_years = Number(wanted.patient);
    wanted.child = wanted.age_years < 12;
  }
  delete wanted.patient;
  wanted.refraction = wanted.refraction?.trim() || null;
  return wanted;
}

$("#exercise").addEventListener("submit", async (event) => {
  event.preventDefault();
  if (watching) await stopWatching();
  const { found, error } = await ask("/api/practice", wanted());
  $("#exercise-note").textContent = error || "";
  if (!found) return;
  show(found);
  $("#practice-line").focus();
});
// A kind says what eye it is: what else would say so is not asked for.
$("#kind").addEventListener("change", () => {
  for (const name of ["reflex", "patient", "refraction"]) $(`#${name}`).disabled = Boolean($("#kind").value);
});
$("#practice-say").addEventListener("submit", async (event) => {
  event.preventDefault();
  const line = $("#practice-line").value.trim();
  if (!line) return;
  $("#practice-line").value = "";
  await say(line);
});
for (const button of $$("[data-line]")) button.addEventListener("click", () => say(button.dataset.line));
for (const button of $$("[data-turn]")) {
  button.addEventListener("click", () => {
    const turned = (Math.round(look?.streak ?? 90) + Number(button.dataset.turn) + 180) % 180 || 180;
    say(`streak ${turned}`);
  });
}
for (const button of $$("[data-sphere]")) {
  button.addEventListener("click", () => {
    const power = (look?.lenses.sphere ?? 0) + Number(button.dataset.sphere);
    say(power ? `sphere ${signed(power).replace("−", "-")}` : "sphere plano");
  });
}
$("#sweep").addEventListener("input", () => {
  if (moving) move(false);
  draw(beamOf($("#sweep").value / 100));
});
$("#always").addEventListener("change", () => {
  if (look) $("#seen").textContent = $("#always").checked ? look.seen : UNTOLD;
});
$("#motion").addEventListener("click", () => move(!moving));

// A lesson by voice goes on without this page: what is new is asked for.
async function poll() {
  const { found } = await ask(`/api/practice?after=${known.number}`);
  if (found?.begun && found.lesson !== known.lesson) show((await ask("/api/practice")).found ?? found);
  else if (found) show(found);
  if (found?.watch && !offered && !found.begun) {
    const ready = await ask("/api/practice/watch");
    if (ready.found) watch(ready.found);
  }
  offered ||= Boolean(found);
  setTimeout(poll, POLL_MS);
}

draw(0);
moving = false;
move(!still.matches);
poll();
