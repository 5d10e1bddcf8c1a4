// The far view: its turn, letters as large as there is room for, and the way to everything and back.

const STEPS = 9; // sizes of far.css; the last has the value beside the word
const SAID_ALOUD = ["paused", "muted", "microphone lost", "ended", "not connected"];
const panel = () => document.getElementById("far-last");

export const isFar = () => document.body.dataset.view === "far";

export function show(view) {
  document.body.dataset.view = view;
  document.cookie = `voicelog-view=${view}; path=/; samesite=strict`;
  for (const button of document.querySelectorAll("[data-view-to]")) button.hidden = button.dataset.viewTo === view;
  fit();
}

// The largest letters at which nothing is cut. Where even the least are too large, whole clauses are left out, the last
// first, and how many there are is said.
export function fit() {
  const place = panel();
  if (!isFar() || !place) return;
  const clauses = [...place.querySelectorAll(".clause")];
  for (const clause of clauses) clause.hidden = false;
  more(place, 0);
  for (let size = 1; size <= STEPS; size += 1) {
    place.dataset.size = size;
    if (fits(place)) return;
  }
  let left = 0;
  for (const clause of clauses.filter((one) => one.closest(".far-question")).concat(clauses.filter((one) => one.closest(".far-told")).reverse())) {
    clause.hidden = true;
    if (clause.closest(".far-told")) left += 1;
    more(place, left);
    if (fits(place)) return;
  }
}

function more(place, count) {
  const note = place.querySelector(".far-more");
  if (!note) return;
  note.hidden = count === 0;
  note.textContent = count ? ` and ${count} more` : "";
}

function fits(place) {
  const room = place.getBoundingClientRect();
  const parts = [...place.querySelectorAll(".far-word, .far-place, .far-value, .far-told, .far-question")];
  return parts.every((part) => {
    const box = part.getBoundingClientRect();
    return (
      part.scrollWidth <= part.clientWidth + 1 &&
      box.top >= room.top - 0.5 &&
      box.bottom <= room.bottom + 0.5 &&
      box.right <= room.right + 0.5
    );
  });
}

export function turn(name) {
  const place = document.getElementById("far-turn");
  if (!place || place.dataset.turn === name) return;
  place.dataset.turn = name;
  place.classList.toggle("deaf", SAID_ALOUD.includes(name));
  document.getElementById("far-turn-text").textContent = name;
  document.getElementById("turn-said").textContent = SAID_ALOUD.includes(name) ? name : "";
}

// What to do where nothing is heard, and what was missed; what stays to be known for the whole exam.
export function notes({ turn: name, hint, missed, banner }) {
  const deaf = SAID_ALOUD.includes(name);
  write("far-notes", deaf ? [hint, missed].filter(Boolean).join("; ") : "");
  write("missed", missed || "");
  write("stays", banner || "");
}

function write(id, text) {
  const place = document.getElementById(id);
  if (!place || place.textContent === text) return;
  place.textContent = text;
  place.hidden = !text;
  fit();
}

export function farView() {
  for (const button of document.querySelectorAll("[data-view-to]")) {
    button.addEventListener("click", () => {
      show(button.dataset.viewTo);
      document.querySelector(`[data-view-to]:not([hidden])`)?.focus();
    });
  }
  window.addEventListener("resize", fit);
  document.fonts?.ready.then(fit);
  show(document.body.dataset.view);
}
