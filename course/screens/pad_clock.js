// The stopwatch of a step with a time limit. It is started and stopped by the observer's taps, runs on over a reload,
// and what it read goes nowhere before the observer keeps it.

const LONGEST_MS = 6 * 3600 * 1000; // beyond it the tablet's clock was changed, or the stopwatch forgotten

function clockKey(attempt, step) {
  return `course.clock.${attempt}.${step}`;
}

/** {from, tapped} of a clock that runs: from when it counts and when Start was tapped, in ms; null where none runs. */
function clockOf(attempt, step) {
  try {
    const kept = JSON.parse(localStorage.getItem(clockKey(attempt, step)));
    return typeof kept?.from === "number" ? kept : null;
  } catch { return null; }
}

function keepClock(attempt, step, clock) {
  try {
    if (clock) localStorage.setItem(clockKey(attempt, step), JSON.stringify(clock));
    else localStorage.removeItem(clockKey(attempt, step));
  } catch { /* a browser that keeps nothing has no clock here; the value can still be typed */ }
}

function isTimed(step) {
  return step.applies && step.limit?.quantity === "time";
}

/** When the step that a limit runs from was first tapped here, on this tablet's clock in ms, or null. */
function fromTap(data, items, step, offsetMs) {
  const from = step.limit.from;
  const saved = data.first_taps.find(([id]) => id === from);
  if (saved) return Date.parse(saved[1].replace(/(\.\d{3})\d+Z$/, "$1Z")) - (offsetMs ?? 0);
  const local = items.find((item) => item.kind === "marks_given/1" && item.body.marks[0].step === from);
  return local ? Date.parse(local.tapped_at) : null;
}

function minutesAndSeconds(ms) {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

/** A reading as the unit asks, in whole tenths, or as finely as the limit is written.
 * It is never rounded over a bound: towards less where at least so much is asked, towards more where at most. */
function reading(limit, ms) {
  const value = limit.unit === "min" ? ms / 60000 : ms / 1000;
  const bounds = [limit.at_least, limit.at_most].filter((bound) => bound !== null);
  const digits = Math.max(1, ...bounds.map((bound) => (bound.split(".")[1] || "").length));
  const scale = 10 ** digits;
  const down = limit.at_most === null || (limit.at_least !== null && value < Number(limit.at_least));
  return ((down ? Math.floor(value * scale + 1e-9) : Math.ceil(value * scale - 1e-9)) / scale).toFixed(digits);
}

/** What the two buttons of a clock say now. */
function paintClock(part, step, running, { tapped, nowMs, closed, again }) {
  if (!part.start) return;
  const ago = tapped !== null && nowMs - tapped < LONGEST_MS ? minutesAndSeconds(nowMs - tapped) : null;
  const proposal = ago ? `from step ${step.fromNumber}, ${ago} ago` : again ? "once more" : "at your tap";
  setText(part.start.querySelector(".word"), running ? "Runs" : "Start");
  setText(part.start.querySelector(".small"), running ? `since ${running.from === running.tapped ? "your tap" : `step ${step.fromNumber}`}` : proposal);
  setText(part.stop.querySelector(".word"), running ? `Stop ${minutesAndSeconds(nowMs - running.from)}` : "Stop");
  part.start.setAttribute("aria-pressed", String(Boolean(running)));
  part.start.setAttribute("aria-label", `${running ? "Runs" : "Start"}, clock of step ${step.number}${running ? "" : `, ${proposal}`}`);
  part.stop.setAttribute("aria-label", `Stop clock of step ${step.number}`);
  part.start.disabled = closed;
  part.stop.disabled = closed || !running;
}
