// The pad itself: a tap becomes an item with its own id and with attempt, sheet and student as they stand on the screen.

const TELL_MS = 4000;
const GUARD_MS = 400; // a wet finger taps twice: the same button is deaf for this long
const outbox = new Outbox();
const pads = new WeakMap();

/** When Streamlit loses its own connection it lays a dialog over the page and makes the page deaf. The pad has its own
 * way to the server and keeps every tap, so it puts that dialog away as soon as it comes. */
function stayAwake() {
  const wake = () => {
    const dialog = document.querySelector('[data-testid="stDialog"]');
    dialog?.querySelector('button[aria-label="Close"], button')?.click();
  };
  const watch = new MutationObserver(wake);
  watch.observe(document.body, { childList: true });
  wake();
  return watch;
}

function isLarge() {
  try { return localStorage.getItem("course.large") === "yes"; } catch { return false; }
}

class Pad extends Acts {
  constructor(parent) {
    super();
    this.parent = parent;
    this.asked = null; // what the tray asks
    this.tapped = new Map(); // button -> when
    this.deaf = null; // {until, top}: where the tray just opened or shut, a second tap is not meant
    this.later = new Set(); // order questions put off on this screen
    this.newest = 0;
    this.line = new Line();
    this.repaint = (saved = []) => this.onOutbox(saved);
    outbox.listeners.add(this.repaint);
    this.watching = () => this.line.watched();
    outbox.watched = this.watching;
    outbox.newStates = (states) => this.take(states);
    this.ticking = setInterval(() => this.tick(), 200);
  }

  get data() {
    return this.line.current;
  }

  update(component) {
    this.component = component;
    const { route, pulse, centre } = component.data;
    Object.assign(outbox, { route, pulseRoute: pulse, centre });
    this.line.update(component.data);
    for (const pad of this.line.pads.values()) outbox.known(pad.events);
    this.showWanted();
    this.redraw();
    outbox.flush();
    if (this.newest === 0) outbox.pulse();
    this.newest += 1;
  }

  /** Another tablet marked, or a session was closed: the server says what stands now. */
  take(states) {
    const read = JSON.stringify(this.data.read);
    if (!this.line.take(states)) return;
    for (const { events } of states) outbox.known(events);
    if (this.parts) this.redraw();
    if (JSON.stringify(this.data.read) !== read) this.deafen(0); // a line of a reading moves the steps below it
  }

  redraw() {
    const { attempt, sheet, steps, student, skill, unit, observer } = this.data;
    outbox.observer = observer.id;
    const shapeOf = JSON.stringify([attempt, sheet, steps, student, skill, unit, this.line.data.students]);
    if (shapeOf !== this.shape) this.draw(shapeOf);
    this.paint();
  }

  draw(shapeOf) {
    this.shape = shapeOf;
    this.asked = null;
    this.trayKey = "";
    const data = this.data;
    this.current = data.steps.find((step) => step.applies && !data.marks.some((line) => line.step === step.id))?.id ?? data.steps[0].id;
    this.parts?.root.remove();
    this.parts = drawPad(data, this.line);
    const root = this.parts.root;
    root.addEventListener("click", (event) => this.onClick(event));
    root.addEventListener("keydown", (event) => this.onKey(event));
    root.addEventListener("focusin", (event) => this.follow(event.target.closest?.("[data-row]")?.dataset.row));
    root.addEventListener("input", (event) => this.onInput(event.target));
    this.parent.append(root);
    this.paintLarge();
    this.awake ??= stayAwake();
    // a keyboard finds its place at once; on a touch screen a frame round a step would look like a choice
    if (matchMedia("(pointer: fine)").matches && document.activeElement === document.body) this.rowOf(this.current).focus({ preventScroll: true });
  }

  // --- whose turn it is ---

  /** Put another attempt on the screen: of the next student, another try, or one seen inside this act. */
  show(turn, attempt) {
    this.line.show(turn, attempt);
    this.later.clear();
    this.redraw();
    this.deafen(0);
    const { root, turns } = this.parts;
    if (root.getBoundingClientRect().top < 0) root.scrollIntoView({ block: "start" });
    turns.querySelector('[aria-pressed="true"]')?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  showAttempt(attempt) {
    const pad = this.line.pads.get(attempt);
    if (pad) this.show(pad.turn, attempt);
  }

  /** A skill that this tablet has no steps of yet is asked for; it is shown as soon as Python hands it over. */
  askAlso(skill) {
    this.wanted = { skill, host: (this.line.hostOf(this.data) ?? this.data).attempt };
    this.shut();
    this.trigger("also", skill);
  }

  showWanted() {
    if (!this.wanted) return;
    const { skill, host } = this.wanted;
    const pad = [...this.line.pads.values()].find((one) => one.within === host && one.skill.id === skill);
    if (!pad) return;
    this.wanted = null;
    this.line.show(pad.turn, pad.attempt);
  }

  leave() {
    this.trigger("leave", this.line.data.line);
  }

  // --- large targets ---

  switchLarge() {
    const on = !isLarge();
    try { localStorage.setItem("course.large", on ? "yes" : ""); } catch { this.large = on; }
    this.paintLarge();
    this.parts.large.scrollIntoView({ block: "nearest" });
  }

  paintLarge() {
    const on = isLarge() || Boolean(this.large);
    this.parts.root.classList.toggle("large", on);
    this.parts.large.setAttribute("aria-pressed", String(on));
  }

  remove() {
    if (outbox.watched === this.watching) outbox.watched = () => []; // another pad may be drawn already
    this.awake?.disconnect();
    clearInterval(this.ticking);
    outbox.listeners.delete(this.repaint);
    this.parts?.root.remove();
  }

  // --- painting ---

  get state() {
    return foldPad(this.data, outbox.localItems(this.data.attempt, this.data.sheet));
  }

  paint() {
    const state = this.state;
    paintPad(this.parts, this.data, state, outbox, this.current, this.line);
    const question = orderQuestions(this.data, state).find((one) => !this.later.has(one.key));
    if (this.asked?.kind === "order") this.asked = null;
    if (!this.asked && question && !state.ending && !this.data.shut) this.asked = { kind: "order", question: this.each ? { ...question, firsts: question.firsts.slice(0, 1) } : question };
    if (!question) this.each = false;
    this.paintTray(state);
  }

  paintTray(state) {
    const tray = this.parts.tray;
    const key = this.asked ? JSON.stringify([this.asked.kind, this.asked.step, this.asked.question, this.asked.problem, this.asked.readings]) : "";
    const changing = ["errors", "close", "void", "see"].includes(this.asked?.kind);
    if (key === this.trayKey && !changing) return;
    const opened = key !== this.trayKey;
    const focused = focusedIn(this.parent, tray);
    this.trayKey = key;
    tray.hidden = !this.asked;
    tray.replaceChildren(...(this.asked ? drawTray(this.asked, this.data, state, outbox, this.line) : []));
    if (!this.asked) return;
    tray.setAttribute("aria-label", tray.querySelector("h2").textContent);
    if (opened) this.deafen(tray.getBoundingClientRect().top);
    if (opened && this.asked.kind !== "order") focusFirst(tray, this.asked);
    else if (focused) (tray.querySelector(focused) || tray.querySelector("button"))?.focus({ preventScroll: true });
  }

  onOutbox(saved) {
    if (!this.parts) return;
    this.paint();
    const own = saved.filter((item) => this.line.pads.has(item.attempt));
    if (!own.length) return;
    this.savedSince = (this.savedSince || 0) + own.length;
    this.tellSoon();
    const closed = own.find((item) => item.kind === "attempt_closed/1");
    if (closed) this.trigger("closed", closed.attempt);
    if (closed) outbox.pulse();
  }

  /** Once the taps pause, since the pad itself needs nothing of it; while nothing can be read, no page can be drawn. */
  tellSoon() {
    clearTimeout(this.telling);
    this.telling = setTimeout(() => {
      if (outbox.trouble) { this.tellSoon(); return; }
      this.trigger("saved", this.savedSince);
      this.savedSince = 0;
    }, TELL_MS);
  }

  trigger(name, value) {
    try { this.component.setTriggerValue(name, value); } catch { /* Python asks again at its next run */ }
  }

  say(sentence) {
    setText(this.parts.said, sentence);
    clearTimeout(this.hushing);
    this.hushing = setTimeout(() => setText(this.parts.said, ""), 8000);
  }

  rowOf(step) {
    return this.parts.rows.get(step).row;
  }

  follow(step) {
    if (!step || step === this.current) return;
    const before = this.parts.rows.get(this.current);
    before.row.tabIndex = -1;
    before.item.classList.remove("current");
    this.current = step;
    this.parts.rows.get(step).row.tabIndex = 0;
    this.parts.rows.get(step).item.classList.add("current");
  }

  // --- what a tap does ---

  deafen(top) {
    this.deaf = { until: performance.now() + GUARD_MS, top };
  }

  /** An order question that was put off is asked again before the attempt is closed: afterwards nobody can answer it. */
  asksOrderFirst() {
    if (!orderQuestions(this.data, this.state).length) return false;
    this.later.clear();
    this.asked = null;
    this.paint();
    return true;
  }

  ask(asked) {
    this.asked = asked;
    this.paint();
  }

  shut() {
    if (!this.asked) return;
    if (this.asked.kind === "order") this.later.add(this.asked.question.key);
    const top = this.parts.tray.getBoundingClientRect().top;
    const had = focusedIn(this.parent, this.parts.tray);
    this.asked = null;
    this.paint();
    this.deafen(top);
    if (had) this.rowOf(this.current).focus({ preventScroll: true });
  }

  onClick(event) {
    const target = event.target.closest("[data-act]");
    const row = event.target.closest("[data-row]");
    this.follow(row?.dataset.row);
    if (!target || target.disabled) return;
    const at = event.timeStamp; // when it was tapped: a busy tablet may hear of it much later
    const byFinger = event.detail > 0; // a key's click has no detail
    if (byFinger && this.deaf && at < this.deaf.until && event.clientY >= this.deaf.top) return;
    const name = [...Object.values(target.dataset), this.data.attempt].join(" ");
    if (at - (this.tapped.get(name) ?? -GUARD_MS) < GUARD_MS) return;
    this.tapped.set(name, at);
    if (row && this.asked && this.asked.kind !== "order" && target.dataset.act !== "errors") this.asked = null;
    this.act(target.dataset);
  }

  act({ act, step, mark, error, ask, by, id, turn, of, skill, value }) {
    const acts = {
      mark: () => this.mark(step, mark),
      errors: () => this.ask({ kind: "errors", step }),
      error: () => { this.addError(step, error); this.shut(); },
      "error-off": () => this.give(step, { errors: this.errorsOf(step).filter((one) => one !== error) }),
      other: () => this.ask({ kind: "other", step, text: this.state.marks.get(step)?.note || "" }),
      "keep-other": () => this.keepOther(step, this.asked.text || ""),
      "words-later": () => this.keepOther(step, "Words to follow."),
      "prompt-too": () => this.give(step, { prompted: !this.state.marks.get(step).prompted }),
      fixed: () => this.fixed(step),
      value: () => this.ask({ kind: "value", step, text: "" }),
      "keep-value": () => this.keepValue(step),
      "clock-start": () => this.startClock(step),
      "clock-stop": () => this.stopClock(step),
      "clock-drop": () => { keepClock(this.data.attempt, step, null); this.shut(); },
      "keep-reading": () => { this.keepReading(step, value); this.shut(); },
      turn: () => this.show(turn),
      show: () => this.showAttempt(of),
      also: () => this.askAlso(skill),
      leave: () => this.leave(),
      large: () => this.switchLarge(),
      "send-again": () => { outbox.sendAgain(); this.shut(); },
      "order-yes": () => this.answerOrder(true),
      "order-fixed": () => this.answerOrder(true, true),
      "order-no": () => this.answerOrder(false),
      "order-each": () => { this.each = true; this.paint(); },
      clean: () => this.clean(),
      go: () => this.go(step),
      undo: () => this.undo(),
      ask: () => (ask === "close" && this.asksOrderFirst()) || this.ask({ kind: ask }),
      close: () => this.close({ how: "completed" }),
      stop: () => this.close({ how: "stopped", stopped_by: by, ...(this.asked.text?.trim() ? { reason: this.asked.text.trim() } : {}) }),
      void: () => this.voidAttempt(),
      shut: () => this.shut(),
      see: () => this.ask({ kind: "see" }),
      again: () => outbox.hurry(),
      "put-away": () => outbox.putAway(id),
      "sign-in": () => { location.href = "/course/enter?then=" + encodeURIComponent(location.pathname + location.search); },
      file: () => saveAsFile([...outbox.waiting(), ...outbox.refusals.values()], outbox.centre, outbox.tablet),
    };
    acts[act]();
  }

  tick() {
    if (!this.parts) return;
    if (!this.parts.root.isConnected && this.newest) { this.remove(); return; }
    const closed = Boolean(this.data.shut || endingOf(this.data));
    for (const step of this.data.steps.filter(isTimed)) {
      const running = clockOf(this.data.attempt, step.id);
      const again = this.state.values.has(step.id);
      const tapped = running || again ? null : this.tapOf(step);
      paintClock(this.parts.rows.get(step.id), step, running, { tapped, nowMs: Date.now(), closed, again });
    }
  }

  // --- keys and fields ---

  onInput(input) {
    if (!this.asked || !input.dataset?.field) return;
    this.asked[input.dataset.field] = input.value;
    const keep = this.parts.tray.querySelector('[data-act="keep-value"] .word');
    if (keep) setText(keep, decimal(input.value) === null ? "Keep" : `Keep ${decimal(input.value)}`);
  }

  onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape" && this.asked) { event.preventDefault(); this.shut(); return; }
    const target = event.target;
    if (/^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName)) {
      if (event.key === "Enter" && this.asked) { event.preventDefault(); this.act(this.parts.tray.querySelector(".main").dataset); }
      return;
    }
    const isRow = target.dataset.row !== undefined;
    if ((event.key === "Enter" || event.key === " ") && !isRow) return; // the button's own click
    if (this.press(event.key)) event.preventDefault();
  }

  press(key) {
    const move = { ArrowDown: 1, ArrowUp: -1 }[key];
    if (move) return this.move(move);
    if (key === "?") { this.parts.legend.open = !this.parts.legend.open; return true; }
    const step = this.data.steps.find((one) => one.id === this.current);
    if (this.state.ending || this.data.shut) return false;
    if (key === "u") { this.undo(); return true; }
    if (key === "w") { this.clean(); return true; }
    if (!step?.applies) return false;
    const marks = { Enter: "done", " ": "done", p: "prompted", "-": "not_seen", o: "left_out" };
    if (marks[key]) { this.mark(step.id, marks[key]); return true; }
    if (key === "f") { this.fixed(step.id); return true; }
    if (key === "x") { this.ask({ kind: "other", step: step.id, text: this.state.marks.get(step.id)?.note || "" }); return true; }
    const error = step.errors.find((one) => one.letter === key);
    if (error) { this.addError(step.id, error.id); if (this.asked?.kind === "errors") this.shut(); return true; }
    return false;
  }

  move(by) {
    const order = this.data.steps.map((step) => step.id);
    const next = order[order.indexOf(this.current) + by];
    if (!next) return true;
    const row = this.rowOf(next);
    this.follow(next);
    row.focus({ preventScroll: true });
    row.scrollIntoView({ block: "nearest" });
    return true;
  }
}

export default function (component) {
  const { parentElement } = component;
  if (!pads.has(parentElement)) pads.set(parentElement, new Pad(parentElement));
  pads.get(parentElement).update(component);
  return () => {
    pads.get(parentElement)?.remove();
    pads.delete(parentElement);
  };
}
