// What is on the bench: the view, the panes that show it, and what follows from a choice.

const bench = {
  view: { topology: null, beside: null, fault: 0, frame: 0 },
  panes: [],
  watch: flashWatch(),
  waiting: 0,
  saving: 0,
  player: null,
  picker: null,
};

function recorded() {
  return bench.panes.filter((pane) => pane.recording);
}

// A whole view at once.
function openView(wanted) {
  const { view, picker } = bench;
  Object.assign(view, wanted);
  byId('bench-topology').value = data.topologies.indexOf(view.topology);
  byId('bench-beside').value = view.beside ? data.topologies.indexOf(view.beside) : '';
  byId('bench-missing').hidden = true;
  openList(picker, view.topology);
  arrangePanes();
  chooseFault(view.fault, view.frame);
}

function arrangePanes() {
  const { panes, view } = bench;
  const wanted = [view.topology, ...(view.beside ? [view.beside] : [])];
  while (panes.length < wanted.length) panes.push(makePane(byId('bench-panes'), pointing));
  while (panes.length > wanted.length) panes.pop().root.remove();
  byId('bench-panes').classList.toggle('bench-two', wanted.length > 1);
  panes.forEach((pane, number) => showTopology(pane, wanted[number]));
}

// A fault: its recordings, drawn from one frame on; how long that took is kept for tests.
function chooseFault(number, frame) {
  const from = performance.now();
  const { view, panes, player, picker } = bench;
  view.fault = number;
  const recording = recordingOf(view.topology, number);
  byId('bench-chosen').textContent = titleSaid(recording);
  panes.forEach((pane) => showRecording(pane, ...besideOf(pane.topology, recording)));
  load(player, Math.max(0, ...recorded().map((pane) => pane.recording.end - 1)), frame);
  markRow(picker, number);
  setPace();
  drawFrame(player.frame);
  settle();
  keepTime('choice', from);
  afterPaint(() => {
    keepTime('drawn', from);
    recorded().forEach(checkPane);
  });
}

function keepTime(name, from) {
  byId('bench-body').dataset[name] = (performance.now() - from).toFixed(1);
}

function afterPaint(call) {
  requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = call;
    channel.port2.postMessage(null);
  });
}

// The same fault in a topology, or the sentence that it is not there.
function besideOf(topology, recording) {
  if (topology === recording.topology) return [recording];
  const number = sameFault(topology, recording);
  if (number >= 0) return [recordingOf(topology, number)];
  const label = labelOf(recording.name, recording.mode, recording.detail);
  return [null, `${topologyLabel(topology)} has no fault \u201c${label}\u201d: ${whyNot(topology, recording)}.`];
}

function whyNot(topology, recording) {
  if (topology.names.includes(recording.name)) return 'what has this name there knows no such fault';
  const other = topology.group !== recording.topology.group;
  return other ? 'it is another wall group, in which nothing has this name' : 'nothing there has this name';
}

// Draws a frame on all panes; a large change waits if too many came within a second.
function drawFrame(frame) {
  const { view, panes, watch } = bench;
  view.frame = frame;
  showCounter(frame);
  clearTimeout(bench.waiting);
  const now = performance.now();
  const large = panes.some((pane) => changeOf(pane, frame) >= QUARTER);
  const wait = large ? watch.wait(now) : 0;
  byId('bench-body').toggleAttribute('data-held', wait > 0);
  if (wait > 0) {
    bench.waiting = setTimeout(() => drawFrame(frame), wait);
    return;
  }
  if (large) watch.note(now);
  panes.forEach((pane) => showFrame(pane, frame));
}

function showCounter(frame) {
  const { last } = bench.player;
  const seconds = secondsWords(frame * frameSeconds(data.clock));
  const told = `frame ${grouped(frame)} of ${grouped(last)}, time code ${timeCode(frame, data.clock)}, ${seconds} after the fault`;
  const slider = byId('bench-frame');
  slider.max = last;
  slider.value = frame;
  slider.setAttribute('aria-valuetext', told);
  byId('bench-count').textContent = told;
}

// What is said and kept once nothing moves: the live sentence, the link, the buttons.
function settle() {
  const { playing, frame, last } = bench.player;
  byId('bench-play').textContent = playing ? 'Stop' : 'Play';
  const disable = (id, is) => byId(id).setAttribute('aria-disabled', String(is));
  for (const id of ['bench-before', 'bench-back']) disable(id, frame <= 0);
  for (const id of ['bench-on', 'bench-after']) disable(id, frame >= last);
  if (playing) return;
  byId('bench-now').textContent = recorded().map((pane) => frameSaid(pane, frame)).join(' ');
  byId('bench-link').value = address();
}

function frameSaid({ topology, recording }, frame) {
  const said = statesSaid(recording, statesIn(recording, frame));
  return `Frame ${frame}, ${topologyLabel(topology)}: ${said}`;
}

function setPace() {
  const pace = paceOf(bench.panes, Number(byId('bench-speed').value));
  byId('bench-pace').textContent = pace.said;
  byId('bench-play').disabled = pace.speed === 0;
  return pace.speed;
}

// The nearest frame before or after in which a pane changes.
function nextChange(forward) {
  const all = partsOfAll(recorded()).map(([frame]) => frame);
  const { frame, last } = bench.player;
  return forward
    ? (all.find((at) => at > frame) ?? last)
    : (all.findLast((at) => at < frame) ?? 0);
}

// To a frame on request: whatever plays stops.
function stepTo(frame) {
  stop(bench.player);
  goTo(bench.player, frame);
  settle();
  remember();
}

function address() {
  return location.href.split('#')[0] + hashOf(bench.view);
}

// Keeps the view in the page's address; not before somebody has chosen something.
function remember() {
  clearTimeout(bench.saving);
  bench.saving = setTimeout(() => {
    try {
      history.replaceState(null, '', hashOf(bench.view));
    } catch {
      // some browsers keep no history of a file: the button still gives the link
    }
  }, 150);
}

// What is called when something in a pane is pointed at.
const pointing = {
  goTo: stepTo,
  item(topology, item) {
    narrowTo(topology, namesOfItem(topology, item), topology.items[item][0]);
  },
  cabinet(topology, wall, place) {
    const { title } = data.groups[topology.group].walls[wall];
    narrowTo(topology, namesOfCabinet(topology, wall, place), `${title}, ${place}`);
  },
};

// What was pointed at beside is looked up by name in the first topology, whose faults are listed;
// if none of them is there, the two change places.
function narrowTo(topology, names, about) {
  const first = bench.view.topology;
  const known = topology === first ? names : namesElsewhere(topology, names, first);
  const there = topology === first || first.faults.some((fault) => known.has(fault[0]));
  if (!there) changePlaces(topology);
  narrowList(bench.picker, there ? known : names, about);
  byId('bench-search').focus();
}

function changePlaces(topology) {
  const { view } = bench;
  const same = sameFault(topology, recordingOf(view.topology, view.fault));
  openView({ topology, beside: view.topology, fault: Math.max(same, 0) });
}
