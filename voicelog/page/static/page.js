// The page's one module: looks, forms that are sent as JSON, playing sounds, and the live feed.

import { farView, fit, isFar, notes, show, turn } from "./far.js";
import { inOrder } from "./in-order.js";

const $ = (selector, root = document) => root.querySelector(selector);
const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];

const BASE = document.documentElement.dataset.base; // what every path of the page begins with

async function send(path, method, data) {
  try {
    const answer = await fetch(BASE + path, {
      method,
      headers: { "content-type": "application/json" },
      body: data === undefined ? undefined : JSON.stringify(data),
    });
    const found = await answer.json().catch(() => ({}));
    return answer.ok ? { found } : { error: found.error || found.detail || `refused (${answer.status})` };
  } catch {
    return { error: "voicelog does not answer: it has ended, or the connection is lost" };
  }
}

// Looks: each kind of page remembers its own colours, so that a review in daylight does not light up the dark room.

function looks() {
  const root = document.documentElement;
  const themes = ["dark", "red", "light"];
  const scales = [75, 100, 125, 150, 175, 200];
  const keep = (name, value) => {
    document.cookie = `${name}=${value}; path=/; max-age=31536000; samesite=strict`;
  };
  $("[data-theme-next]")?.addEventListener("click", () => {
    const next = themes[(themes.indexOf(root.dataset.theme) + 1) % themes.length];
    root.dataset.theme = next;
    $("[data-theme-name]").textContent = next;
    keep(`voicelog-theme-${root.dataset.kind}`, next);
  });
  for (const button of $$("[data-scale-step]")) {
    button.addEventListener("click", () => {
      const at = scales.indexOf(Number(root.dataset.scale)) + Number(button.dataset.scaleStep);
      root.dataset.scale = scales[Math.min(scales.length - 1, Math.max(0, at))];
      keep("voicelog-scale", root.dataset.scale);
    });
  }
}

// Forms

function values(form) {
  const data = {};
  for (const field of form.elements) {
    if (!field.name || field.disabled) continue;
    if (field.type === "radio") {
      if (field.checked) data[field.name] = field.value || null;
    } else if (field.type === "checkbox") data[field.name] = field.checked;
    else if (field.type === "number") data[field.name] = Number(field.value);
    else data[field.name] = field.value.trim() || null;
  }
  return data;
}

function forms() {
  for (const form of $$("form[data-send]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const prepared = form.id === "settings" ? settingsOf(form) : { data: values(form) };
      if (prepared.error) $(".form-note", form).textContent = prepared.error;
      else if (!form.dataset.asks || (await ask(form.dataset))) await submit(form, prepared.data);
    });
  }
}

async function submit(form, data) {
  const note = $(".form-note", form);
  note.textContent = "…";
  const { found, error } = await send(form.dataset.send, form.dataset.method, data);
  note.textContent = error || "saved";
  note.classList.toggle("wrong", Boolean(error));
  if (error) return;
  if (found.then) location.assign(BASE + found.then);
  else if (form.dataset.then) await goOn(form.dataset.then);
  else if (form.id !== "settings") location.reload();
}

// After the first start the exam begins, and the page with it.
async function goOn(path) {
  if (path === "/" && document.body.classList.contains("settings")) await new Promise((done) => setTimeout(done, 600));
  location.assign(BASE + path);
}

// Asks before what cannot be undone, with a list of what it is about; whether the answer was yes.
function ask({ asks, asksYes, asksList }) {
  const dialog = document.createElement("dialog");
  const text = document.createElement("p");
  text.id = "asks";
  text.textContent = asks;
  dialog.setAttribute("aria-labelledby", "asks");
  const answers = document.createElement("p");
  answers.className = "answers";
  for (const [value, name] of [["no", "No"], ["yes", asksYes || "Yes"]]) {
    const button = document.createElement("button");
    button.textContent = name;
    button.addEventListener("click", () => dialog.close(value));
    answers.append(button);
  }
  dialog.append(text, ...(asksList ? [withoutId(document.getElementById(asksList))] : []), answers);
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((done) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      done(dialog.returnValue === "yes");
    });
  });
}

function withoutId(part) {
  const copy = part.cloneNode(true);
  copy.removeAttribute("id");
  return copy;
}

function amending() {
  for (const details of $$("details[data-phrase]")) {
    details.addEventListener("toggle", async () => {
      const field = $("[name=phrase]", details);
      if (!details.open || field.value) return;
      const found = await fetch(BASE + details.dataset.phrase).then((answer) => answer.json()).catch(() => ({}));
      if (field.value) return;
      field.value = found.phrase || "";
      // Whoever is in the field already is about to type: what is typed takes the place of the phrase, never joins it.
      if (document.activeElement === field) field.select();
    });
  }
  for (const button of $$("[data-take-out]")) {
    button.addEventListener("click", async () => {
      const { form } = button;
      const field = form.elements.phrase;
      field.disabled = true;
      const fits = form.reportValidity();
      const data = { ...values(form), take_out: true };
      field.disabled = false;
      if (fits && (await ask({ ...button.dataset, asksYes: "Take it out" }))) await submit(form, data);
    });
  }
}

function play() {
  for (const button of $$("[data-play]")) {
    const sound = document.getElementById(button.dataset.play);
    sound.addEventListener("ended", () => button.classList.remove("playing"));
    button.addEventListener("click", () => {
      for (const other of $$("audio")) if (other !== sound) other.pause();
      sound.currentTime = 0;
      button.classList.add("playing");
      sound.play().catch(() => button.classList.remove("playing"));
    });
  }
}

// Settings

const number = (text) => (/^\d+([.,]\d+)?$/.test(text.trim()) ? Number(text.trim().replace(",", ".")) : NaN);

function distance(form) {
  const way = $("input[name=distance_way]:checked", form)?.value;
  if (way === "said") return { value: null };
  if (way === "known") {
    const cm = number($("#known").value);
    if (!(cm >= 10 && cm <= 100)) return { error: "Type the distance in centimetres, 10 to 100." };
    return { value: cm, text: `${cm} cm: ${(100 / cm).toFixed(2)} D are taken off.` };
  }
  const measured = $$(".measured", form).map((field) => number(field.value));
  if (measured.some((cm) => !(cm >= 10 && cm <= 100))) return { error: "Type all three measurements in centimetres, 10 to 100." };
  const spread = Math.max(...measured) - Math.min(...measured);
  if (spread > 5) return { error: `The measurements are ${spread.toFixed(1)} cm apart: measure again.` };
  const mean = Math.round((measured.reduce((sum, cm) => sum + cm, 0) / 3) * 10) / 10;
  return { value: mean, text: `mean ${mean} cm: ${(100 / mean).toFixed(2)} D are taken off; ${spread.toFixed(1)} cm apart.` };
}

function settingsOf(form) {
  const { distance_way: way, ...data } = values(form);
  const { value, error } = distance(form);
  return error ? { error } : { data: { ...data, working_distance_cm: way === "said" ? null : value } };
}

function settings() {
  const form = $("#settings");
  if (!form) return;
  const show = () => {
    const way = $("input[name=distance_way]:checked", form)?.value;
    for (const part of $$("[data-way]", form)) part.hidden = part.dataset.way !== way;
    const typed = $$(`[data-way="${way}"] input`, form);
    const ready = typed.length && typed.every((field) => field.value.trim());
    const { text, error } = ready ? distance(form) : {};
    $("#distance-note").textContent = text || error || "";
  };
  form.addEventListener("input", show);
  show();
  $("#check").addEventListener("click", check);
  microphones();
}

// The microphones, each with its level while somebody looks.

async function microphones() {
  const place = $("#microphones");
  const note = $("#levels-note");
  const { found, error } = await got("/api/microphones");
  if (error) {
    note.textContent = error;
    return;
  }
  for (const [at, each] of found.entries()) place.append(microphone(at, each, place.dataset.set));
  if (!found.length) note.textContent = "no microphone is connected";
  $("#levels").addEventListener("click", () => levels(note));
  if ("listen" in place.dataset) levels(note);
}

function microphone(at, { name, is_default: own }, set) {
  const line = document.createElement("p");
  line.className = "microphone";
  line.innerHTML =
    '<input type="radio" name="microphone"><label></label><svg class="meter" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true"><rect class="trough" width="100" height="10"/><rect class="level" width="0" height="10"/></svg><span class="decibels"></span>';
  const choice = $("input", line);
  choice.id = `mic-${at}`;
  choice.value = name;
  if (name === set) {
    $("#mic-set").closest("p").remove();
    choice.checked = true;
  }
  $("label", line).htmlFor = choice.id;
  $("label", line).textContent = own ? `${name} (the system’s own now)` : name;
  return line;
}

let looking = false;

async function levels(note) {
  if (looking) return;
  looking = true;
  note.textContent = "listening to all of them: speak, and see which hears you";
  for (; looking && document.visibilityState === "visible"; await new Promise((done) => setTimeout(done, 200))) {
    const { found, error } = await got("/api/microphones?listen=true");
    if (error) note.textContent = error;
    if (error) break;
    for (const { name, level_dbfs: dbfs, problem } of found) {
      const line = $$(".microphone").find((one) => $("input", one).value === name);
      if (!line) continue;
      $(".level", line).setAttribute("width", dbfs === null ? "0" : shown(dbfs));
      $(".decibels", line).textContent = dbfs === null ? problem || "no sound yet" : `${dbfs.toFixed(0)} dB`;
    }
  }
  looking = false;
}

async function got(path) {
  try {
    const answer = await fetch(BASE + path);
    const found = await answer.json();
    return answer.ok ? { found } : { error: found.error };
  } catch {
    return { error: "voicelog does not answer: it has ended, or the connection is lost" };
  }
}

async function check() {
  const note = $("#check-note");
  looking = false;
  $("#levels-note").textContent = "";
  const device = $("[name=microphone]:checked")?.value || null;
  const { error } = await send("/api/microphone", "POST", { device });
  note.textContent = error || "listening: speak now";
  for (let running = !error; running; ) {
    await new Promise((done) => setTimeout(done, 120));
    const found = await fetch(`${BASE}/api/microphone`).then((answer) => answer.json()).catch(() => null);
    running = found !== null && found.running && !found.exam;
    if (found) level(found.level_dbfs);
    if (!running) note.textContent = found ? [found.verdict || "the exam listens: see its page", found.heard].filter(Boolean).join("; ") : "voicelog does not answer";
  }
  level(-120);
}

function level(dbfs) {
  $("#level").setAttribute("width", shown(dbfs));
}

// From 60 dB below full scale up, in per cent of the meter.
const shown = (dbfs) => Math.max(0, Math.min(100, (dbfs + 60) / 0.6)).toFixed(0);

// The live feed

const QUIET_MS = 2500; // the log gives a sign of life every second
const ANOTHER_EXAM = 4001; // why the log closes the feed: the next exam is there, also behind one that has ended

class Feed {
  constructor(board) {
    this.board = board;
    this.heard = 0;
    this.lost = performance.now();
    this.pause = 250;
    this.ended = false;
    this.byExam = $("#far-turn").dataset.turn;
    this.connect();
    setInterval(() => this.age(), 200);
  }

  connect() {
    const { exam, number } = this.board.dataset;
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}${BASE}/feed?after=${number}&exam=${encodeURIComponent(exam)}`);
    this.socket = socket;
    socket.onmessage = (event) => {
      this.heard = performance.now();
      this.pause = 250;
      this.take(JSON.parse(event.data));
    };
    socket.onclose = ({ code }) => {
      if (this.heard) this.lost = this.heard;
      this.heard = 0;
      if (!this.ended || code === ANOTHER_EXAM) setTimeout(() => this.connect(), this.pause);
      this.pause = Math.min(4000, this.pause * 2);
    };
  }

  take(message) {
    if (message.kind === "sound") this.sound(message);
    else if (message.exam !== this.board.dataset.exam) location.reload();
    else this.state(message);
  }

  state({ number, parts, rows, changed, turn: byExam }) {
    this.byExam = byExam;
    for (const [id, html] of Object.entries(parts)) {
      const part = document.getElementById(id);
      if (part.dataset.drawn !== html) part.innerHTML = html;
      part.dataset.drawn = html;
    }
    fit();
    const list = $("#rows");
    const there = Number(list.lastElementChild?.dataset.number ?? 0);
    for (const row of rows) if (row.number > there) list.insertAdjacentHTML("beforeend", row.html);
    for (const row of list.children) {
      const state = changed[row.dataset.id] || "live";
      row.classList.remove("live", "corrected", "withdrawn", "superseded");
      row.classList.add(state);
      $(".fate", row).textContent = state === "live" ? "" : state;
    }
    if (rows.length) list.scrollTop = list.scrollHeight;
    this.board.dataset.number = number;
    const paused = $(".waits.paused") !== null;
    const pause = $("[data-pause]");
    pause.dataset.say = pause.textContent = paused ? "start listening" : "stop listening";
  }

  sound(message) {
    level(message.level_dbfs);
    $("#decibels").textContent = `${message.level_dbfs.toFixed(0)} dB`;
    const open = message.switch_open === false ? "key: not listening" : "microphone";
    $("#mic-words").textContent = message.in_speech ? "hears speech" : open;
    document.body.classList.toggle("in-speech", message.in_speech);
    trouble(message.notice);
    this.bySound = message.turn || (message.in_speech ? "hears you" : "");
    notes(message);
    const readBack = $("[data-read-back]");
    readBack.dataset.say = $("span", readBack).textContent = message.silent ? "read back on" : "read back off";
    if (message.view && message.view !== this.ordered) show(message.view);
    this.ordered = message.view;
    this.ended = message.ended;
    this.age();
  }

  age() {
    const age = performance.now() - (this.heard || this.lost);
    const quiet = !this.heard || age > QUIET_MS;
    const link = $("#link");
    link.classList.toggle("down", quiet && !this.ended);
    document.body.classList.toggle("stale", quiet || this.ended);
    turn(this.ended ? "ended" : quiet ? "not connected" : this.bySound || this.byExam);
    const seconds = (age / 1000).toFixed(0);
    const text = this.ended
      ? "the exam has ended"
      : quiet
        ? `NOT CONNECTED for ${seconds} s: what is shown may be old`
        : "connected";
    if ($("#link-text").textContent !== text) $("#link-text").textContent = text;
  }
}

function trouble(text) {
  const banner = $("#trouble");
  if (banner.textContent === text) return;
  banner.textContent = text;
  banner.hidden = !text;
  fit();
}

// Saying by hand: typed, or clicked word by word.

const sayByHand = (phrase) =>
  inOrder(async () => {
    const { error } = await send("/api/lines", "POST", { line: phrase });
    $("#say-note").textContent = error || "";
    return !error;
  });

function sayForm() {
  const line = $("#line");
  $("#say").addEventListener("submit", async (event) => {
    event.preventDefault();
    const phrase = line.value.trim();
    if (!phrase || !(await sayByHand(phrase))) return;
    line.value = "";
    if (!$("#words").hidden) offer();
  });
  for (const button of $$("[data-say]")) button.addEventListener("click", () => sayByHand(button.dataset.say));
  $("#words-toggle").addEventListener("click", () => {
    unfold("orders", false);
    if (unfold("words", $("#words").hidden)) offer();
  });
  $("#orders-toggle").addEventListener("click", () => {
    unfold("words", false);
    unfold("orders", $("#orders").hidden);
  });
  $("#word-back").addEventListener("click", () => {
    line.value = line.value.trim().split(/\s+/).slice(0, -1).join(" ");
    offer();
  });
  let waiting;
  line.addEventListener("input", () => {
    clearTimeout(waiting);
    if (!$("#words").hidden) waiting = setTimeout(offer, 120);
  });
  document.addEventListener("keydown", (event) => {
    const typing = event.target.matches("input, textarea, select");
    if (event.key === "/" && !typing) {
      event.preventDefault();
      show("everything");
      line.focus();
    } else if (ordered(event)) {
      event.preventDefault();
    } else if (event.key === "Escape") {
      if (!$("#words").hidden && !isFar()) $("#words-toggle").click();
      else if (!$("#orders").hidden && !isFar()) $("#orders-toggle").click();
      else show(isFar() ? "everything" : "far");
    }
  });
}

function unfold(name, open) {
  document.getElementById(name).hidden = !open;
  document.getElementById(`${name}-toggle`).setAttribute("aria-expanded", String(open));
  return open;
}

// A key or pedal presses its button, once however long it is held.
function ordered(event) {
  if (!/^F\d+$/.test(event.key) || event.altKey || event.ctrlKey || event.metaKey) return false;
  const key = `${event.shiftKey ? "Shift+" : ""}${event.key}`;
  const buttons = $$("[aria-keyshortcuts]").filter((one) => one.getAttribute("aria-keyshortcuts").split(" ").includes(key));
  if (!event.repeat) (buttons.find((one) => !one.hidden) || buttons[0])?.click();
  return buttons.length > 0;
}

async function offer() {
  const line = $("#line");
  const asked = line.value;
  const answer = await fetch(`${BASE}/api/words?said=${encodeURIComponent(asked)}`).catch(() => null);
  if (!answer?.ok || asked !== line.value) return;
  const { words, complete } = await answer.json();
  const list = $("#word-list");
  list.replaceChildren(
    ...words.map((word) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = word;
      button.addEventListener("click", async () => {
        line.value = `${line.value.trim()} ${word}`.trim();
        await offer();
        ($("button", list) || $("#say button")).focus();
      });
      return button;
    }),
  );
  $("#words-note").textContent = complete ? "a whole phrase: press Enter" : words.length ? "" : "no phrase begins so";
}

looks();
forms();
amending();
play();
settings();
const board = $("#board");
if (board) {
  farView();
  $("#rows").scrollTop = $("#rows").scrollHeight;
  sayForm();
  new Feed(board);
}
