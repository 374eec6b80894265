// What the drawn components share: shapes from path data of our own, words set as text, taps that still wait.
const SVG = "http://www.w3.org/2000/svg";
const OUTBOX = "course.out.";

function shape(paths) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 100 100");
  svg.setAttribute("width", "26");
  svg.setAttribute("height", "26");
  svg.setAttribute("aria-hidden", "true");
  for (const path of paths) {
    const line = document.createElementNS(SVG, "path");
    line.setAttribute("d", path.d);
    line.setAttribute("fill", path.fill);
    line.setAttribute("stroke", path.stroke);
    line.setAttribute("stroke-width", path.width);
    svg.append(line);
  }
  return svg;
}

function make(tag, text, className) {
  const element = document.createElement(tag);
  if (text) element.textContent = text;
  if (className) element.className = className;
  return element;
}

// Taps that still wait on this device: the pad keeps one entry a tap under this prefix (pad_outbox.js).
function waiting() {
  return Object.keys(localStorage).filter((key) => key.startsWith(OUTBOX)).length;
}
