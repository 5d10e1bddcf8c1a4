// What each look of a lesson ruled out: a row a look, in it a bar of the powers that are left along each principal meridian.

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 200;
const HEIGHT = 16;

const three = (degrees) => String(Math.round(degrees)).padStart(3, "0");
const signed = (power) => (power < 0 ? "−" : "+") + Math.abs(power).toFixed(2);

function put(name, text) {
  return Object.assign(document.createElement(name), { textContent: text });
}

function shape(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

// The picture of a meridian reaches over all that was left after the first look.
function reach(map, which) {
  const edges = map.looks.flatMap((look) => look.left_d[which]).concat(map.truth_d[which]);
  return [Math.min(...edges) - 0.25, Math.max(...edges) + 0.25];
}

function bar(look, map, which, [low, high]) {
  const at = (power) => ((power - low) / (high - low)) * WIDTH;
  const [least, most] = look.left_d[which];
  const says = `${signed(least)} to ${signed(most)} left along ${three(map.meridians[which])}`;
  const drawn = shape("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: "none", role: "img", "aria-label": says });
  const title = document.createElementNS(SVG, "title");
  title.textContent = says;
  drawn.append(
    title,
    shape("rect", { class: "gone", x: 0, y: 5, width: WIDTH, height: 6 }),
    shape("rect", { class: "left", x: at(least), y: 2, width: Math.max(at(most) - at(least), 1.5), height: 12 }),
    shape("line", { class: "truth", x1: at(map.truth_d[which]), x2: at(map.truth_d[which]), y1: 0, y2: HEIGHT }),
  );
  const cell = document.createElement("td");
  cell.append(drawn);
  return cell;
}

export function mapOf(map) {
  const table = document.createElement("table");
  const head = document.createElement("tr");
  for (const name of ["look", "streak", "seen", ...map.meridians.map((each) => `left along ${three(each)}`), "bits (best)"]) head.append(put("th", name));
  const reaches = [reach(map, 0), reach(map, 1)];
  const rows = map.looks.map((look, index) => {
    const row = document.createElement("tr");
    row.append(put("td", index + 1), put("td", three(look.streak_deg)), put("td", look.motion));
    row.append(bar(look, map, 0, reaches[0]), bar(look, map, 1, reaches[1]));
    row.append(put("td", `${look.bits.toFixed(1)} (${look.best_bits.toFixed(1)})`));
    return row;
  });
  table.append(head, ...rows);
  return [table, ...map.words.map((text) => put("p", text))];
}
