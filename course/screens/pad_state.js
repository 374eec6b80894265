// What the pad shows: the ledger's answer, then this tablet's own taps on top, told apart by event id. No drawing here.

const ACTS = ["done", "error", "prompted"]; // something was seen to happen: only these have an order
const ORDER_KINDS = ["order_answered/1", "order_answered/2"];

/** Fold the page's data and local items (in order of tapping) into what holds now. */
function foldPad(data, items) {
  const inData = new Set([
    ...data.marks.map((one) => one.event), ...data.values.map((one) => one.event),
    ...data.orders.map((one) => one.event), data.whole_clean,
  ]);
  const own = items.filter((item) => !inData.has(item.id));
  const withdrawn = new Set(items.filter((item) => item.kind === "withdrawn/1").map((item) => item.body.withdraws));
  const holds = (event) => !withdrawn.has(event);
  const marks = liveMarks(data, own, holds);
  const values = liveLines(data.values, own, ["value_measured/1"], holds);
  const orders = liveLines(data.orders, own, ORDER_KINDS, holds);
  const clean = [
    ...(data.whole_clean ? [{ event: data.whole_clean }] : []),
    ...own.filter((item) => item.kind === "whole_attempt_clean/1").map((item) => ({ event: item.id, waiting: item.waiting })),
  ].filter((one) => holds(one.event));
  const closing = own.find((item) => item.kind === "attempt_closed/1");
  return {
    marks: byStep(marks), values: byStep(values), orders,
    wholeClean: clean.at(-1) || null,
    firstTaps: firstTaps(data, own),
    ending: data.ending || (closing ? { ...closing.body, waiting: closing.waiting } : null),
    last: lastAct(marks, values, orders, clean),
  };
}

function liveMarks(data, own, holds) {
  const lines = data.marks.map((line) => ({ ...line, replaces: [] }));
  for (const item of own)
    if (item.kind === "marks_given/1")
      for (const line of item.body.marks)
        lines.push({ ...line, event: item.id, note: item.body.notes?.[line.step] ?? null, waiting: item.waiting });
  const standing = lines.filter((line) => holds(line.event));
  const replaced = new Set(standing.flatMap((line) => line.replaces.map((event) => line.step + " " + event)));
  return standing.filter((line) => !replaced.has(line.step + " " + line.event));
}

function liveLines(lines, own, kinds, holds) {
  const all = lines.map((line) => ({ ...line, replaces: [] }));
  for (const item of own) if (kinds.includes(item.kind)) all.push({ ...item.body, event: item.id, waiting: item.waiting });
  const standing = all.filter((line) => holds(line.event));
  const replaced = new Set(standing.flatMap((line) => line.replaces || []));
  return standing.filter((line) => !replaced.has(line.event));
}

/** For each step its latest line, with the events of all that stand (a new mark replaces every one of them). */
function byStep(lines) {
  const found = new Map();
  for (const line of [...lines].sort((a, b) => (a.event < b.event ? -1 : 1)))
    found.set(line.step, { ...line, events: [...(found.get(line.step)?.events || []), line.event] });
  return found;
}

function firstTaps(data, own) {
  const order = [...data.first_taps].sort((a, b) => (a[1] < b[1] ? -1 : 1)).map(([step]) => step);
  for (const item of own)
    if (item.kind === "marks_given/1" && item.body.marks.length === 1 && !order.includes(item.body.marks[0].step))
      order.push(item.body.marks[0].step);
  return order;
}

function lastAct(marks, values, orders, clean) {
  const acts = [
    ...marks.map((line) => ({ kind: "mark", ...line })), ...values.map((line) => ({ kind: "value", ...line })),
    ...orders.map((line) => ({ kind: "order", ...line })), ...clean.map((line) => ({ kind: "clean", ...line })),
  ];
  return acts.sort((a, b) => (a.event < b.event ? -1 : 1)).at(-1) || null;
}

/** Whether a step is filled by "whole attempt clean". */
function filled(step, state) {
  return Boolean(state.wholeClean) && step.applies && !step.can_be_critical && !state.marks.has(step.id);
}

/** How a person names what was done last: "step 3 error a". */
function actName(data, act) {
  const number = (id) => data.steps.find((step) => step.id === id)?.number ?? "?";
  if (act.kind === "clean") return "whole attempt clean";
  if (act.kind === "order") return orderName(data, act);
  if (act.kind === "value") return `step ${number(act.step)} ${act.value} ${act.unit === "1" ? "" : act.unit}`.trim();
  return `step ${number(act.step)} ${markName(data, act)}`;
}

/** How a person reads an answer on the order: "5 before 4: yes, F". */
function orderName(data, line) {
  const number = (id) => data.steps.find((step) => step.id === id)?.number ?? "?";
  const answer = line.seen_so ? `yes${line.fixed_self ? ", F" : ""}` : "no";
  return `${number(line.first_done)} before ${number(line.should_come_first)}: ${answer}`;
}

/** How a person reads a mark: "error a b, prompted too". */
function markName(data, line) {
  const step = data.steps.find((one) => one.id === line.step);
  const letters = (line.errors || []).map((id) => (id === "x" ? "x" : step?.errors.find((error) => error.id === id)?.letter ?? "?"));
  const words = { done: "done", prompted: "prompted", not_seen: "not seen", left_out: "left out" };
  const name = line.mark === "error" ? `error ${letters.join(" ")}` : words[line.mark];
  return name + (line.prompted ? ", prompted too" : "") + (line.fixed_self ? ", F" : "");
}

/** A plain decimal number as the ledger writes it, or null; a comma is read as the decimal point. */
function decimal(text) {
  const plain = text.trim().replace(",", ".");
  return /^-?\d{1,12}(\.\d{1,6})?$/.test(plain) ? plain : null;
}

/** How a value misses its limit, in words such as "41 s of 60 s asked", or null. A bound's own value is good. */
function missed(limit, value) {
  const unit = limit.unit === "1" ? "" : ` ${limit.unit}`;
  if (limit.at_least !== null && Number(value) < Number(limit.at_least)) return `${value}${unit} of ${limit.at_least}${unit} asked`;
  if (limit.at_most !== null && Number(value) > Number(limit.at_most)) return `${value}${unit}, ${limit.at_most}${unit} allowed`;
  return null;
}

/** What a step's value says against whatever was ticked: {words, error}, or null where it keeps its limit. */
function overruled(step, state) {
  const value = step.limit && state.values.get(step.id);
  const words = value ? missed(step.limit, value.value) : null;
  return words ? { words, error: step.errors.find((one) => one.id === step.limit.error) ?? null } : null;
}

/** Everything critical that stands marked on this sheet, as short names. */
function criticals(data, state) {
  const found = [];
  for (const step of data.steps.filter((one) => one.applies)) {
    const line = state.marks.get(step.id);
    const value = state.values.get(step.id);
    const bad = new Set(line?.errors || []);
    if (step.limit && value && missed(step.limit, value.value) && step.limit.error) bad.add(step.limit.error);
    const letters = step.errors.filter((error) => error.critical && bad.has(error.id)).map((error) => error.letter);
    if (letters.length) found.push(`${step.number} ${letters.join(" ")}`);
    if (line?.mark === "left_out" && step.if_left_out === "critical") found.push(`${step.number} left out`);
  }
  for (const line of state.orders) {
    const first = data.steps.find((one) => one.id === line.first_done);
    const late = data.steps.find((one) => one.id === line.should_come_first);
    if (line.seen_so && first?.after_critical.includes(line.should_come_first)) found.push(`${first.number} before ${late.number}`);
  }
  return found;
}

/** Pairs tapped in an order that the rubric does not have and that nobody has answered for; one late step, one question; critical ones first. */
function orderQuestions(data, state) {
  const acted = (id) => ACTS.includes(state.marks.get(id)?.mark) && state.firstTaps.includes(id);
  const answered = new Set(state.orders.map((line) => line.first_done + " " + line.should_come_first));
  const questions = new Map();
  for (const step of data.steps.filter((one) => one.applies && acted(one.id)))
    for (const late of step.after) {
      if (!acted(late) || state.firstTaps.indexOf(step.id) > state.firstTaps.indexOf(late)) continue;
      if (answered.has(step.id + " " + late)) continue;
      const critical = step.after_critical.includes(late);
      const key = critical ? step.id + " " + late : late;
      if (!questions.has(key)) questions.set(key, { key, late, firsts: [], critical });
      questions.get(key).firsts.push(step.id);
    }
  return [...questions.values()].sort((a, b) => b.critical - a.critical);
}

/** What an attempt lacks before it is closed. */
function gaps(data, state) {
  const applying = data.steps.filter((step) => step.applies);
  const unseen = applying.filter((step) => !state.marks.has(step.id) && !filled(step, state));
  return {
    unseen,
    critical: unseen.filter((step) => step.can_be_critical),
    values: applying.filter((step) => step.limit?.needs_value && !state.values.has(step.id) && !unseen.includes(step)),
  };
}
