// Draws a skill's attempts from left to right.

export default function ({ parentElement, data }) {
  const strip = make("ol", "", "history");
  for (const attempt of data.attempts) {
    const item = make("li");
    item.append(shape(attempt.shape), make("span", attempt.word), make("small", attempt.streak));
    strip.append(item);
  }
  const old = parentElement.querySelector(".history");
  if (old) old.replaceWith(strip);
  else parentElement.append(strip);
}
