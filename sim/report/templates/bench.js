// The break bench begins: choosers, buttons, the view that a link asks for.

const small = matchMedia('(max-width: 63.99rem)');

function on(id, kind, call) {
  byId(id).addEventListener(kind, call);
}

function wireButtons() {
  const { player } = bench;
  on('bench-play', 'click', playOrStop);
  on('bench-speed', 'change', changeSpeed);
  on('bench-back', 'click', () => stepTo(player.frame - 1));
  on('bench-on', 'click', () => stepTo(player.frame + 1));
  on('bench-before', 'click', () => stepTo(nextChange(false)));
  on('bench-after', 'click', () => stepTo(nextChange(true)));
  on('bench-frame', 'input', (event) => stepTo(Number(event.target.value)));
  on('bench-copy', 'click', copyLink);
}

function playOrStop() {
  if (bench.player.playing) stop(bench.player);
  else play(bench.player, setPace());
  settle();
  remember();
}

function changeSpeed() {
  const speed = setPace();
  if (bench.player.playing && speed) play(bench.player, speed);
  else stop(bench.player);
}

function wireChoosers() {
  on('bench-topology', 'change', (event) => chooseTopology(data.topologies[event.target.value]));
  on('bench-beside', 'change', (event) => chooseBeside(data.topologies[event.target.value]));
  on('bench-list', 'click', () => {
    remember();
    if (small.matches) byId('bench-chosen').scrollIntoView({ block: 'start' });
  });
  for (const id of ['bench-list', 'bench-search']) {
    on(id, 'keydown', (event) => { if (event.key === 'Enter') remember(); });
  }
}

// Another topology under the same fault, if it is there; else under its first one.
function chooseTopology(topology) {
  const { view } = bench;
  const same = sameFault(topology, recordingOf(view.topology, view.fault));
  const beside = view.beside === topology ? null : view.beside;
  openView({ topology, beside, fault: Math.max(same, 0), frame: same < 0 ? 0 : view.frame });
  remember();
}

function chooseBeside(topology) {
  openView({ beside: topology === bench.view.topology ? null : (topology ?? null) });
  remember();
}

function wirePage() {
  stillness.addEventListener('change', () => {
    stop(bench.player);
    setPace();
  });
  addEventListener('hashchange', openLink);
  new ResizeObserver(redrawRulers).observe(byId('bench-panes'));
}

function redrawRulers() {
  for (const pane of recorded()) {
    if (Math.abs(pane.part('ruler').clientWidth - pane.ruler.clientWidth) > 1) {
      placeRuler(pane);
      pointRuler(pane.ruler, Math.min(bench.view.frame, pane.recording.end - 1));
    }
  }
}

async function copyLink() {
  remember();
  const field = byId('bench-link');
  field.value = address();
  try {
    await navigator.clipboard.writeText(field.value);
    byId('bench-copied').textContent = 'Copied.';
  } catch {
    field.focus();
    field.select();
    byId('bench-copied').textContent = 'Selected: copy it with the keyboard.';
  }
}

// A link from elsewhere, or from a page that has changed since.
function sayMissing() {
  const said = byId('bench-missing');
  said.hidden = !location.hash.startsWith(MARK);
  said.textContent = 'The link asks for a topology or a fault that is not in this page; another is shown.';
  if (!said.hidden) said.scrollIntoView({ block: 'center' });
  return false;
}

// The view that the page's address asks for; whether there is one.
function openLink() {
  const asked = viewOf(location.hash);
  if (!asked) return sayMissing();
  openView({ ...asked, beside: asked.beside === asked.topology ? null : (asked.beside ?? null) });
  byId('bench-chosen').scrollIntoView({ block: 'start' });
  return true;
}

function startBench() {
  const began = performance.now();
  if (!data.topologies.some((topology) => topology.faults.length)) return;
  byId('bench-body').hidden = false;
  bench.player = makePlayer(drawFrame, settle);
  bench.picker = makePicker((number) => chooseFault(number, 0));
  fillChoosers();
  fillLegend();
  wireButtons();
  wireChoosers();
  wirePage();
  const topology = firstTopology();
  openView({ topology, beside: null, fault: widestFault(topology), frame: 0 });
  openLink();
  keepTime('ready', began);
  afterPaint(() => keepTime('first', 0));
}

startBench();
