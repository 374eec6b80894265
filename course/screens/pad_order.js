// The order of the steps as the ledger tells it: one sentence and one small picture, worked out and drawn by Python alone.
// Taps that the ledger has not told of yet are not in it, and it says so.

function drawOrder() {
  const box = el("div", "order-seen");
  const picture = el("img", "", null, { alt: "" });
  const frame = el("div", "order-picture");
  frame.append(picture);
  box.append(el("p", "order-sentence"), frame, el("p", "order-signs"), el("p", "order-waits"));
  return box;
}

/** The sentence is read once, not twice: it stands as text, and with the picture only where somebody asks for that. */
function paintOrder(box, data, outbox) {
  const order = data.order;
  const [sentence, frame, signs, waits] = box.children;
  box.hidden = !order;
  if (!order) return;
  const picture = frame.firstChild;
  setText(sentence, order.sentence);
  frame.hidden = !order.picture;
  if (order.picture && picture.getAttribute("src") !== order.picture) picture.setAttribute("src", order.picture);
  picture.alt = order.sentence;
  setText(signs, order.signs);
  setText(waits, outbox.localItems(data.attempt, data.sheet).length ? "The newest taps are not in this yet." : "");
}
