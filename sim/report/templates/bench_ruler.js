// The frame ruler: where on a line of frames the events lie; long stretches without any are cut.
const RULER = { pad: 26, above: 40, below: 52, most: 120, letter: 7.5 };
const SVG = 'http://www.w3.org/2000/svg';

function svgElement(kind, attributes, text = '') {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text !== '') made.textContent = text;
  return made;
}

// From frames to pixels: stretches between points that are longer than `most` frames are cut.
function rulerScale(points, wide) {
  const gaps = points.slice(1).map((at, number) => at - points[number]);
  const shown = gaps.map((gap) => Math.min(gap, RULER.most));
  const whole = shown.reduce((a, b) => a + b, 0) || 1;
  const places = [RULER.pad];
  for (const gap of shown) {
    places.push(places[places.length - 1] + (gap / whole) * (wide - 2 * RULER.pad));
  }
  return { points, places, gaps };
}

function rulerPlace(scale, frame) {
  const { points, places } = scale;
  let at = points.length - 1;
  while (at > 0 && points[at] > frame) at -= 1;
  if (at === points.length - 1) return places[at];
  const part = (frame - points[at]) / (points[at + 1] - points[at]);
  return places[at] + part * (places[at + 1] - places[at]);
}

// The points of a recording: first and last frame, events, changes.
function rulerPoints(recording) {
  const last = Math.max(recording.end - 1, 1);
  const events = recording.events.map((event) => event.frame);
  const all = new Set([0, last, ...events, ...changesOf(recording)]);
  return [...all].filter((frame) => frame <= last).sort((a, b) => a - b);
}

// Event numbers (from 1) by frame: `3`, `3 to 5`.
function eventMarks(recording) {
  const marks = new Map();
  recording.events.forEach((event, number) => {
    const [first] = marks.get(event.frame) ?? [number + 1];
    marks.set(event.frame, [first, number + 1]);
  });
  return [...marks].map(([frame, [first, last]]) => [
    frame,
    first === last ? `${first}` : `${first} to ${last}`,
  ]);
}

// Texts on the first level where they meet no other; those that find no room are left out.
function rulerTexts(texts, wide, levels) {
  const taken = levels.map(() => []);
  const made = [];
  for (const { x, text } of texts) {
    const half = (text.length * RULER.letter) / 2;
    const middle = Math.min(Math.max(x, half + 1), wide - half - 1);
    const free = (others) => others.every((other) => Math.abs(other.middle - middle) > other.half + half + 6);
    const level = taken.findIndex(free);
    if (level >= 0) {
      taken[level].push({ middle, half });
      made.push({ x: middle, y: levels[level], text, from: x });
    }
  }
  return made;
}

// The ends first, so that they find room.
function endsFirst(list) {
  return list.length < 3 ? list : [list[0], list.at(-1), ...list.slice(1, -1)];
}

function drawRuler(recording, wide) {
  const tall = RULER.above + RULER.below;
  const scale = rulerScale(rulerPoints(recording), wide);
  const marks = eventMarks(recording);
  const told = marks.map(([frame, text]) => `event ${text} in frame ${frame}`).join(', ');
  const label = `Frame ruler from frame 0 to ${scale.points.at(-1)}: ${told || 'no events'}`;
  const ruler = svgElement('svg', {
    class: 'bench-rule', width: wide, height: tall, viewBox: `0 0 ${wide} ${tall}`,
    role: 'img', 'aria-label': label,
  });
  ruler.append(...rulerLine(scale), ...rulerNumbers(scale, wide), ...rulerEvents(scale, marks, wide));
  ruler.append(svgElement('path', { class: 'bench-here', d: '' }));
  ruler.scaleOfFrames = scale;
  return ruler;
}

// The line, dashed where it is cut, with a tick at each point.
function rulerLine({ places, gaps }) {
  const y = RULER.above;
  const lines = gaps.map((gap, number) =>
    svgElement('path', {
      class: gap > RULER.most ? 'bench-line bench-cut' : 'bench-line',
      d: `M${places[number]} ${y}H${places[number + 1]}`,
    }));
  const ticks = places.map((x) => `M${x} ${y - 4}V${y + 5}`).join('');
  return [...lines, svgElement('path', { class: 'bench-line', d: ticks })];
}

function rulerNumbers({ points, places, gaps }, wide) {
  const y = RULER.above + 28;
  const frames = points.map((frame, number) => ({ x: places[number], text: grouped(frame) }));
  const cuts = gaps
    .map((gap, number) => ({ gap, x: (places[number] + places[number + 1]) / 2 }))
    .filter(({ gap }) => gap > RULER.most)
    .map(({ gap, x }) => ({ x, text: `${grouped(gap)} frames` }));
  return [
    ...rulerTexts(endsFirst(frames), wide, [y]),
    ...rulerTexts(cuts, wide, [y + 16]),
  ].map(({ x, y: base, text }) =>
    svgElement('text', { x, y: base, class: 'bench-tick', 'text-anchor': 'middle' }, text));
}

// Each event's number over its frame.
function rulerEvents(scale, marks, wide) {
  const texts = marks.map(([frame, text]) => ({ x: rulerPlace(scale, frame), text }));
  const levels = [RULER.above - 10, RULER.above - 25];
  const placed = rulerTexts(texts, wide, levels);
  const lines = placed.map(({ y, from }) => `M${from} ${RULER.above}V${y + 2}`).join('');
  return [
    svgElement('path', { class: 'bench-line', d: lines }),
    ...placed.map(({ x, y, text }) =>
      svgElement('text', { x, y, class: 'bench-mark', 'text-anchor': 'middle' }, text)),
  ];
}

// A small open triangle under the line where the frame is that is shown.
function pointRuler(ruler, frame) {
  const x = rulerPlace(ruler.scaleOfFrames, frame);
  const y = RULER.above + 1;
  ruler.querySelector('.bench-here').setAttribute('d', `M${x} ${y}l-5 9h10z`);
}
