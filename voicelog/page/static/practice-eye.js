// The eye in the dark room, drawn on a canvas from the numbers of voicelog/practice/light.py, as frames.py draws it.
// A pupil point looks at one place of the retina, u; there the lit line is as bright as its profile says.

const SIZE = 480;
const VIEW_MM = 7;
const SWEEP_MM = 12;
const IRIS_MM = 5.9;
const STREAK_SD_MM = 0.7;
const HALF_SEEN = 0.5;
const IRIS_SHARE = 0.45;
const PER_MM = SIZE / (2 * VIEW_MM);
const PERIOD_MS = 3200;

const COLOURS = {
  plain: { glow: [255, 122, 51], streak: [255, 226, 176], iris: "rgb(26,20,17)", room: "rgb(5,6,7)", scale: "#9a8f86" },
  red: { glow: [255, 90, 74], streak: [255, 157, 146], iris: "rgb(24,10,9)", room: "rgb(5,3,3)", scale: "#a5665f" },
};

export const beamAt = (ms) => SWEEP_MM * Math.sin((ms / PERIOD_MS) * 2 * Math.PI);
export const beamOf = (share) => SWEEP_MM * share;

export function looks(light) {
  return Math.min(1, (light / (light + HALF_SEEN)) * (1 + HALF_SEEN));
}

// Places of the pupil's pixels, and where on the retina each looks.
function pupilOf(light) {
  const radius = (light.pupil_mm / 2) * PER_MM;
  const side = 2 * Math.ceil(radius) + 2;
  const angle = ((light.streak - 90) * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const field = new Float32Array(side * side);
  const shown = new Uint8ClampedArray(side * side);
  for (let row = 0, at = 0; row < side; row++) {
    for (let column = 0; column < side; column++, at++) {
      const x = (column + 0.5 - side / 2) / PER_MM;
      const y = (side / 2 - row - 0.5) / PER_MM;
      const along = x * cos + y * sin;
      const beside = y * cos - x * sin;
      const square = along * along + beside * beside;
      field[at] =
        light.along * along + light.torsion * beside + light.spherical * (square - light.centre_mm2) * along + (light.coma / 6) * (3 * along * along + beside * beside);
      shown[at] = 255 * Math.min(1, Math.max(0, radius - Math.sqrt(square) * PER_MM + 0.5));
    }
  }
  const bitmap = new OffscreenCanvas(side, side);
  const context = bitmap.getContext("2d");
  return { side, field, shown, bitmap, context, image: context.createImageData(side, side) };
}

function paint(pupil, light, beam, glow) {
  const { profile, start, step, veil } = light;
  const [red, green, blue] = glow;
  const data = pupil.image.data;
  const shift = beam * light.travel + start;
  for (let at = 0; at < pupil.field.length; at++) {
    const place = (pupil.field[at] - shift) / step;
    const left = Math.floor(place);
    const inside = left >= 0 && left < profile.length - 1;
    const bright = looks(veil + (inside ? profile[left] + (profile[left + 1] - profile[left]) * (place - left) : 0));
    data[4 * at] = red * bright;
    data[4 * at + 1] = green * bright;
    data[4 * at + 2] = blue * bright;
    data[4 * at + 3] = pupil.shown[at];
  }
  pupil.context.putImageData(pupil.image, 0, 0);
  return pupil.bitmap;
}

// A child's eyes go to the light and come back: how much of the way, 0 to 1 (`near` has seconds).
export function nearShare(near, ms) {
  const at = (ms / 1000) % near.period;
  const since = at < near.relaxed ? at : at - near.relaxed;
  const faded = Math.exp(-since / near.response);
  return at < near.relaxed ? (ms / 1000 < near.period ? 0 : faded) : 1 - faded;
}

export class Eye {
  constructor(canvas) {
    this.canvas = canvas;
    canvas.width = canvas.height = SIZE;
    this.context = canvas.getContext("2d");
    this.levels = [];
    this.pupils = [];
  }

  // `levels`: the light of the relaxed eye first, and of ever nearer ones; [] before anything was looked at.
  look(levels) {
    this.levels = levels;
    this.pupils = levels.map(() => null);
  }

  draw(beam, share = 0) {
    const { context } = this;
    const colours = COLOURS[document.documentElement.dataset.theme === "red" ? "red" : "plain"];
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, SIZE, SIZE);
    context.translate(SIZE / 2, SIZE / 2);
    context.save();
    this.disc(VIEW_MM);
    context.clip();
    context.fillStyle = colours.room;
    context.fillRect(-SIZE / 2, -SIZE / 2, SIZE, SIZE);
    const light = this.levels[Math.round(share * (this.levels.length - 1))];
    if (light) this.streak(light.streak, beam, colours.streak, 1);
    context.save();
    this.disc(IRIS_MM);
    context.clip();
    context.fillStyle = colours.iris;
    context.fillRect(-SIZE / 2, -SIZE / 2, SIZE, SIZE);
    if (light) this.streak(light.streak, beam, colours.streak, IRIS_SHARE);
    context.restore();
    context.restore();
    if (light) this.pupil(light, beam, colours.glow);
    this.scale(colours.scale);
    this.canvas.dataset.beam = beam;
    this.canvas.dataset.streak = light ? light.streak : "";
    this.canvas.dataset.near = share;
  }

  pupil(light, beam, glow) {
    const level = this.levels.indexOf(light);
    const pupil = (this.pupils[level] ??= pupilOf(light));
    this.context.drawImage(paint(pupil, light, beam, glow), -pupil.side / 2, -pupil.side / 2);
  }

  disc(radius) {
    this.context.beginPath();
    this.context.arc(0, 0, radius * PER_MM, 0, 2 * Math.PI);
  }

  streak(angle, beam, colour, strength) {
    const { context } = this;
    context.save();
    context.rotate(((90 - angle) * Math.PI) / 180);
    const reach = 3 * STREAK_SD_MM * PER_MM;
    const middle = beam * PER_MM;
    const across = context.createLinearGradient(middle - reach, 0, middle + reach, 0);
    for (let stop = 0; stop <= 24; stop++) {
      const from = (stop / 12 - 1) * 3;
      across.addColorStop(stop / 24, `rgba(${colour.join()},${strength * Math.exp(-0.5 * from * from)})`);
    }
    context.fillStyle = across;
    context.fillRect(middle - reach, -SIZE, 2 * reach, 2 * SIZE);
    context.restore();
  }

  scale(colour) {
    const { context } = this;
    context.strokeStyle = context.fillStyle = colour;
    context.lineWidth = 1.5;
    context.font = "16px sans-serif";
    context.textAlign = "center";
    context.textBaseline = "middle";
    const edge = SIZE / 2 - 2;
    for (let angle = 0; angle < 360; angle += 15) {
      const [x, y] = [Math.cos((angle * Math.PI) / 180), -Math.sin((angle * Math.PI) / 180)];
      context.beginPath();
      context.moveTo(x * edge, y * edge);
      context.lineTo(x * (edge - 10), y * (edge - 10));
      context.stroke();
    }
    for (const [text, x, y] of [["0", edge - 22, 0], ["90", 0, 24 - edge], ["180", 28 - edge, 0]]) context.fillText(text, x, y);
  }
}
