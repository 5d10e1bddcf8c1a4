// Practice: the reflex drawn from the eye's own numbers, and the lines that the learner says by hand.

const $ = (selector) => document.querySelector(selector);
const $$ = (selector) => [...document.querySelectorAll(selector)];

const UNITS_PER_MM = 27.5; // the pupil's circle has a radius of 55 units and stands for `pupil_mm`
const SWEEP_MM = 3.5;
const PERIOD_MS = 3200;
const POLL_MS = 700;
const AT_ONCE = 1e4;

const still = matchMedia("(prefers-reduced-motion: reduce)");
let look = null;
let known = { lesson: null, number: 0 };
let moving = !still.matches;
let began = performance.now();

async function ask(path, data) {
  try {
    const answer = await fetch(path, data && { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(data) });
    const found = await answer.json().catch(() => ({}));
    return answer.ok ? { found } : { error: found.error || found.detail || `refused (${answer.status})` };
  } catch {
    return { error: "voicelog does not answer: it has ended, or the connection is lost" };
  }
}

// Drawing. Angles count counter-clockwise with y upwards, as the examiner sees them; the picture's y points down.

function place(id, angle, offset) {
  $(id).setAttribute("transform", `rotate(${-angle}) translate(0 ${offset})`);
}

function band(id, angle, offset, width, shown) {
  const group = $(id);
  group.setAttribute("opacity", shown);
  place(id, angle, offset);
  const rect = group.firstElementChild;
  const high = Math.min(Math.max(width, 2), 4000);
  rect.setAttribute("y", -high / 2);
  rect.setAttribute("height", high);
}

function draw(sweep) {
  $("#streak").setAttribute("visibility", look ? "visible" : "hidden");
  if (!look) return;
  const scale = (UNITS_PER_MM * 4) / look.pupil_mm;
  const beam = sweep * SWEEP_MM;
  place("#streak", look.streak, beam * scale);
  const direction = look.band ?? look.streak;
  const skew = Math.cos(((direction - look.streak) * Math.PI) / 180);
  const speed = look.speed ?? AT_ONCE;
  const sign = look.motion === "against" ? -1 : 1;
  const offset = sign * beam * speed * skew;
  const width = look.width_mm ?? AT_ONCE * look.pupil_mm;
  const shown = Math.max(0.08, look.brightness);
  band("#band", direction, Math.max(-4000, Math.min(4000, offset * scale)), width * scale, shown);
  const second = look.second_mm;
  if (second === null) $("#second").setAttribute("opacity", 0);
  else band("#second", direction, (second - offset) * scale, width * scale, shown * 0.8);
}

function frame(now) {
  if (moving) {
    const sweep = Math.sin(((now - began) / PERIOD_MS) * 2 * Math.PI);
    $("#sweep").value = sweep * 100;
    draw(sweep);
    requestAnimationFrame(frame);
  }
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
  if (!on) draw($("#sweep").value / 100);
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
  for (const text of [each.note, each.seen]) if (text) item.append(paragraph(text, "note"));
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
  if (!found.begun || found.lesson < known.lesson) return;
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
  look = found.look;
  if (look) {
    $("#seen").textContent = look.seen;
    $("#before").textContent = `streak ${String(Math.round(look.streak)).padStart(3, "0")} · lenses: ${lenses()} · lenses tried: ${found.lenses}`;
  } else $("#before").textContent = "";
  $("#comparison").replaceChildren(...found.comparison.map((text) => paragraph(text)));
  $("#comparison").classList.toggle("off", Boolean(found.result?.mistake));
  draw($("#sweep").value / 100);
}

async function say(line) {
  const { found, error } = await ask("/api/practice/lines", { line });
  $("#say-note").textContent = error || "";
  if (found) show(found);
}

$("#exercise").addEventListener("submit", async (event) => {
  event.preventDefault();
  const wanted = Object.fromEntries(new FormData(event.target));
  wanted.tremor_d = Number(wanted.tremor_d);
  wanted.refraction = wanted.refraction.trim() || null;
  const { found, error } = await ask("/api/practice", wanted);
  $("#exercise-note").textContent = error || "";
  if (!found) return;
  show(found);
  $("#practice-line").focus();
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
  draw($("#sweep").value / 100);
});
$("#motion").addEventListener("click", () => move(!moving));

// A lesson by voice goes on without this page: what is new is asked for.
async function poll() {
  const { found } = await ask(`/api/practice?after=${known.number}`);
  if (found?.begun && found.lesson !== known.lesson) show((await ask("/api/practice")).found ?? found);
  else if (found) show(found);
  setTimeout(poll, POLL_MS);
}

draw(0);
moving = false;
move(!still.matches);
poll();
