// A pane: one topology with the recording that is played on it.

function makePane(host, calls) {
  const root = copyOf('bench-pane');
  host.append(root);
  const part = (name) => root.querySelector(`.bench-${name}`);
  return { root, calls, topology: null, recording: null, part };
}

// Draws a topology: its walls, its equipment.
function showTopology(pane, topology) {
  if (pane.topology === topology) return;
  const group = data.groups[topology.group];
  Object.assign(pane, { topology, group, recording: null });
  pane.root.dataset.topology = topology.id;
  drawWalls(pane, topology);
  drawEquipment(pane, topology);
}

function topologyLabel(topology) {
  const group = data.groups.length > 1 ? `${clipped(data.groups[topology.group].name)}: ` : '';
  return `${group}${clipped(topology.label)}${topology.offered ? ' (offered)' : ''}`;
}

function drawWalls(pane, topology) {
  const walls = wallsOf(pane.group);
  pane.part('walls').replaceChildren(...walls.map(({ figure }) => figure));
  walls.forEach(({ drawn }, number) => {
    wakeWall(drawn, pane.group.walls[number].title, (place) => pane.calls.cabinet(topology, number, place));
  });
  const drawn = walls.map((wall) => wall.drawn);
  pane.spots = pane.group.spots.map(() => []);
  for (const spot of drawn.flatMap((wall) => [...wall.querySelectorAll('.bench-spot')])) {
    pane.spots[Number(spot.dataset.spot)].push(spot);
  }
  pane.areas = areasOf(drawn, pane.spots.length);
  pane.painted = new Int8Array(pane.spots.length).fill(-1);
}

function drawEquipment(pane, topology) {
  const box = pane.root.querySelector('.bench-equipment .bench-scroll');
  box.setAttribute('aria-label', `equipment of ${topologyLabel(topology)}`);
  const drawn = copyOf(`${topology.id}-drawing`);
  box.replaceChildren(drawn);
  pane.drawing = drawn;
  pane.part('circuits').textContent = topology.about;
  wakeDrawing(drawn, (item) => pane.calls.item(topology, item));
  wireFit(pane, box);
}

// The drawing as wide as its room, or as large as it is.
function wireFit(pane, box) {
  const button = pane.part('fit');
  button.onclick = () => {
    const fits = box.classList.toggle('bench-fitted');
    button.setAttribute('aria-pressed', String(fits));
  };
}

// Takes a recording, or says why there is none.
function showRecording(pane, recording, none = '') {
  pane.recording = recording;
  const missing = pane.part('none');
  missing.hidden = Boolean(recording);
  missing.textContent = none;
  pane.part('shown').hidden = !recording;
  showStruck(pane, recording);
  const verdict = recording ? ` \u2013 ${VERDICTS[recording.verdict]}` : '';
  pane.part('title').textContent = topologyLabel(pane.topology) + verdict;
  if (!recording) return;
  pane.parts = partsByFrame(recording, pane.areas);
  fillEvents(pane.part('events'), recording, pane.calls.goTo);
  fillCounts(pane.part('counts'), recording);
  pane.part('bound').textContent = countsSaid(recording);
  labelScrolls(pane);
  placeRuler(pane);
  pane.part('check').textContent = '';
  pane.root.dataset.check = '';
}

function showStruck(pane, recording) {
  const struck = recording ? itemsStruck(pane.topology, recording.struck) : [];
  markStruck(pane.drawing, struck);
  const said = struck.length
    ? `Struck here: ${struck.map((item) => clipped(pane.topology.items[item][0])).join(', ')}.`
    : recording && 'What is struck is not drawn here.';
  pane.part('struck-said').textContent = said ?? '';
}

function labelScrolls(pane) {
  const label = topologyLabel(pane.topology);
  pane.root.querySelector('.bench-course .bench-scroll').setAttribute('aria-label', `events, ${label}`);
  pane.root.querySelector('.bench-counted .bench-scroll').setAttribute('aria-label', `frames, ${label}`);
}

function placeRuler(pane) {
  const box = pane.part('ruler');
  pane.ruler = drawRuler(pane.recording, Math.max(Math.floor(box.clientWidth), 280));
  box.replaceChildren(pane.ruler);
}

// Compares what is drawn with what was counted, and says so.
function checkPane(pane) {
  const said = checkSaid(pane.recording);
  pane.part('check').textContent = said;
  pane.root.dataset.check = said.includes('differs') ? 'differs' : 'equal';
}

// How much of a wall would change if this frame were drawn now.
function changeOf(pane, frame) {
  if (!pane.recording) return 0;
  return partChanged(pane.areas, pane.painted, statesIn(pane.recording, frame));
}

function showFrame(pane, frame) {
  const { recording } = pane;
  if (!recording) return;
  const states = statesIn(recording, frame);
  paintSpots(pane.spots, pane.painted, states);
  markEvents(pane.part('events'), frame);
  pointRuler(pane.ruler, Math.min(frame, recording.end - 1));
  const said = statesSaid(recording, states);
  if (pane.part('said').textContent !== said) pane.part('said').textContent = said;
  showOver(pane, frame);
  pane.root.dataset.frame = frame;
}

// Beyond the end of a recording: what is said of it.
function showOver(pane, frame) {
  const { end, repeats } = pane.recording;
  const over = frame >= end ? `The recording ends with frame ${grouped(end - 1)}; ` +
    (repeats ? 'the walls above stand as in its last frame.' : 'from then on all stays as it is.') : '';
  const said = [over, repeats].filter(Boolean).join(' ');
  pane.part('over').hidden = !said;
  pane.part('over').textContent = said;
}
