// Draws the units of a centre, one button each: shape, label, word. All words come as data and are set as text.

function unitButton(row, open) {
  const element = make("button");
  element.type = "button";
  element.dataset.unit = row.unit;
  element.setAttribute("aria-label", [row.label, row.state, row.line, row.who].filter(Boolean).join(", "));
  const words = make("span", "", "words");
  const head = make("span", "", "head");
  head.append(make("b", row.label), make("span", row.type, "type"));
  const state = make("span", row.state, row.held ? "held" : "");
  words.append(head, state);
  if (row.line) words.append(make("small", row.line));
  if (row.who) words.append(make("small", row.who));
  element.append(shape(row.shape), words);
  element.onclick = () => open(row.unit);
  return element;
}

export default function ({ parentElement, data, setTriggerValue }) {
  const list = make("ul", "", "units");
  for (const row of data.rows) {
    const item = make("li");
    item.append(unitButton(row, (unit) => setTriggerValue("unit", unit)));
    list.append(item);
  }
  const old = parentElement.querySelector(".units");
  if (old) old.replaceWith(list);
  else parentElement.append(list);
}
