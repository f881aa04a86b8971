// The recorded outcomes: read from the page, looked up, never worked out anew.
const LETTERS = ['D', 'C', 'W', 'F', 'U', ''];
const LIT = 5;

function readJson(id) {
  return JSON.parse(document.getElementById(id).textContent);
}

const data = readJson('bench-data');
const places = readJson('bench-places');

// Calls with every spot of inclusive runs: [first, last, first, last, ...].
function eachSpot(runs, call) {
  for (let at = 0; at < runs.length; at += 2) {
    for (let spot = runs[at]; spot <= runs[at + 1]; spot += 1) call(spot);
  }
}

// Everything about one fault of one topology that is shown.
function recordingOf(topology, number) {
  const [name, mode, detail, words, parts, outcome, counts, played, grade, names, races] =
    topology.faults[number];
  const out = topology.outcomes[outcome];
  return {
    topology,
    number,
    group: data.groups[topology.group],
    struck: struckNames(topology, name, names, out.events),
    name: topology.names[name],
    mode: topology.modes[mode],
    detail,
    words: topology.words[words],
    grade,
    races,
    verdict: out.verdict,
    end: out.end,
    repeats: out.repeats,
    flashes: out.flashes,
    sets: topology.parts[parts].map((set) => topology.sets[set]),
    courses: out.courses.map((course) => topology.courses[course]),
    events: out.events.map((event) => eventOf(topology, names, event)),
    counts: topology.counts[counts],
    played: topology.played[played],
  };
}

// Numbers of the names of all that was struck: the fault's own, and those that its events tell.
function struckNames(topology, name, names, events) {
  const told = events
    .filter(([, , kind]) => data.kinds[kind] === 'struck')
    .flatMap((event) => topology.templates[event[3]])
    .filter((part) => typeof part === 'number');
  return new Set([name, ...told.map((part) => names[part])]);
}

function eventOf(topology, names, [frame, time, kind, template]) {
  const piece = (part) =>
    typeof part === 'number' ? clipped(topology.names[names[part]]) : part;
  return {
    frame,
    time,
    kind: data.kinds[kind],
    what: topology.templates[template].map(piece).join(''),
  };
}

// What a fault is called where one line must do.
function faultLabel(topology, number) {
  const [name, mode, detail] = topology.faults[number];
  return labelOf(topology.names[name], topology.modes[mode], detail);
}

function labelOf(name, mode, detail) {
  return `${clipped(name)}: ${mode}${detail ? ` to ${clipped(detail)}` : ''}`;
}

// A text of any length as people can bear it: its ends.
function clipped(text) {
  return text.length > 160 ? `${text.slice(0, 100)}\u2026${text.slice(-50)}` : text;
}

// The number of the same fault in another topology, or -1.
function sameFault(topology, recording) {
  return faultNamed(topology, recording.name, recording.mode, recording.detail);
}

function faultNamed(topology, name, mode, detail) {
  const nameNumber = topology.names.indexOf(name);
  const modeNumber = topology.modes.indexOf(mode);
  return topology.faults.findIndex(
    (fault) => fault[0] === nameNumber && fault[1] === modeNumber && fault[2] === detail,
  );
}

// A course's state in a frame: that of its last step at or before it.
function stateIn(course, frame) {
  let low = 0;
  let high = course.length / 2 - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (course[2 * middle] <= frame) low = middle;
    else high = middle - 1;
  }
  return course[2 * low + 1];
}

// The state of every spot of the group in a frame.
function statesIn(recording, frame) {
  const states = new Int8Array(recording.group.spots.length).fill(LIT);
  recording.courses.forEach((course, part) => {
    const state = stateIn(course, frame);
    eachSpot(recording.sets[part], (spot) => { states[spot] = state; });
  });
  return states;
}

// The frames in which anything changes, in order, frame 0 left out.
function changesOf(recording) {
  const found = new Set();
  for (const course of recording.courses) {
    for (let at = 2; at < course.length; at += 2) found.add(course[at]);
  }
  return [...found].sort((a, b) => a - b);
}

// The worst state among the spots of a target, and whether all of them are in it.
function worstOf(target, states) {
  let worst = LIT;
  let best = 0;
  eachSpot(target.spots, (spot) => {
    worst = Math.min(worst, states[spot]);
    best = Math.max(best, states[spot]);
  });
  return { worst, whole: worst === best };
}

// Frames in [0, end) by the worst state of each target, from the states that are drawn.
function framesDrawn(recording) {
  const { targets } = recording.group;
  const frames = targets.map(() => [0, 0, 0, 0, 0, 0]);
  const begins = [0, ...changesOf(recording).filter((at) => at < recording.end)];
  begins.forEach((begin, number) => {
    const long = (begins[number + 1] ?? recording.end) - begin;
    const states = statesIn(recording, begin);
    targets.forEach((target, of) => { frames[of][worstOf(target, states).worst] += long; });
  });
  return frames;
}

// What differs between the frames that are drawn and those that were counted: sentences.
function differences(recording) {
  const { targets } = recording.group;
  const counted = new Map(recording.played.map(([target, frames]) => [target, frames]));
  const found = [];
  framesDrawn(recording).forEach((drawn, of) => {
    if (targets[of].kind === 'view') return; // what people see of mirrored walls is counted otherwise
    const told = counted.get(of) ?? [0, 0, 0, 0, 0, recording.end];
    data.states.forEach((state, number) => {
      if (drawn[number] !== told[number]) {
        found.push(`${clipped(targets[of].title)}, ${state}: ${drawn[number]} drawn, ${told[number]} counted`);
      }
    });
  });
  return found;
}
