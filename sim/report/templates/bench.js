// The break bench: what is chosen, and what follows from it.

const narrow = matchMedia('(max-width: 63.99rem)');

function startBench() {
  const began = performance.now();
  const body = byId('bench-body');
  if (!data.topologies.some((topology) => topology.faults.length)) return;
  body.hidden = false;
  const view = { topology: null, beside: null, fault: 0, frame: 0 };
  const watch = flashWatch();
  const panes = [];
  let waiting = 0;

  const player = makePlayer(draw, settle);
  const picker = makePicker((number) => choose(number, 0));

  const calls = {
    goTo(frame) {
      player.stop();
      player.goTo(frame);
      settle();
    },
    item(topology, item) {
      narrowTo(topology, namesOfItem(topology, item), topology.items[item][0]);
    },
    cabinet(topology, wall, place) {
      const { title } = data.groups[topology.group].walls[wall];
      narrowTo(topology, namesOfCabinet(topology, wall, place), `${title}, ${place}`);
    },
  };

  // What was pointed at beside is looked up by name in the first topology, whose faults are listed;
  // if they are not there, the two change places.
  function narrowTo(topology, names, about) {
    let known = names;
    if (topology !== view.topology) {
      known = namesElsewhere(topology, names, view.topology);
      if (!view.topology.faults.some((fault) => known.has(fault[0]))) {
        swap(topology);
        known = names;
      }
    }
    picker.narrow(known, about);
    byId('bench-search').focus();
  }

  // What was beside becomes the first, so that its faults can be chosen.
  function swap(topology) {
    const same = sameFault(topology, recordingOf(view.topology, view.fault));
    open({ topology, beside: view.topology, fault: Math.max(same, 0), frame: view.frame });
  }

  // Draws a frame on all panes; a large change waits if too many came within a second.
  function draw(frame) {
    view.frame = frame;
    showCounter(frame);
    clearTimeout(waiting);
    const now = performance.now();
    const large = panes.some((pane) => changeOf(pane, frame) >= QUARTER);
    const wait = large ? watch.wait(now) : 0;
    if (wait > 0) {
      waiting = setTimeout(() => draw(frame), wait);
      body.dataset.held = 'true';
      return;
    }
    if (large) watch.note(now);
    delete body.dataset.held;
    panes.forEach((pane) => showFrame(pane, frame));
  }

  function showCounter(frame) {
    const last = player.state.last;
    const slider = byId('bench-frame');
    const seconds = secondsWords(frame * frameSeconds(data.clock));
    const told = `frame ${grouped(frame)} of ${grouped(last)}, time code ${timeCode(frame, data.clock)}, ${seconds} after the fault`;
    slider.max = last;
    slider.value = frame;
    slider.setAttribute('aria-valuetext', told);
    byId('bench-count').textContent = told;
  }

  // What is said and kept once nothing moves: the live sentence, the link, the buttons.
  function settle() {
    const { playing, frame, last } = player.state;
    byId('bench-play').textContent = playing ? 'Stop' : 'Play';
    for (const id of ['bench-before', 'bench-back']) byId(id).setAttribute('aria-disabled', String(frame <= 0));
    for (const id of ['bench-on', 'bench-after']) byId(id).setAttribute('aria-disabled', String(frame >= last));
    if (playing || !view.topology) return;
    byId('bench-now').textContent = panes.filter((pane) => pane.recording).map((pane) =>
      `Frame ${frame}, ${topologyLabel(pane.topology)}: ${statesSaid(pane.recording, statesIn(pane.recording, frame))}`).join(' ');
    byId('bench-link').value = address();
  }

  function address() {
    return location.href.split('#')[0] + hashOf(view);
  }

  // Keeps the view in the page's address; not before somebody has chosen something.
  function remember() {
    clearTimeout(remember.later);
    remember.later = setTimeout(() => {
      try {
        history.replaceState(null, '', hashOf(view));
      } catch {
        // some browsers keep no history of a file: the button still gives the link
      }
    }, 150);
  }

  // A whole view at once.
  function open(wanted) {
    Object.assign(view, wanted);
    byId('bench-topology').value = data.topologies.indexOf(view.topology);
    byId('bench-beside').value = view.beside ? data.topologies.indexOf(view.beside) : '';
    byId('bench-offer').textContent = view.topology.about;
    picker.open(view.topology);
    arrange();
    choose(view.fault, view.frame);
  }

  function arrange() {
    const wanted = [view.topology, ...(view.beside ? [view.beside] : [])];
    while (panes.length < wanted.length) panes.push(makePane(byId('bench-panes'), calls));
    while (panes.length > wanted.length) panes.pop().root.remove();
    byId('bench-panes').classList.toggle('bench-two', wanted.length > 1);
    panes.forEach((pane, number) => showTopology(pane, wanted[number]));
  }

  // A fault: its recordings, drawn from one frame on; how long that took is kept for tests.
  function choose(number, frame) {
    const from = performance.now();
    view.fault = number;
    const recording = recordingOf(view.topology, number);
    byId('bench-chosen').textContent = titleSaid(recording);
    panes.forEach((pane) => showRecording(pane, ...besideOf(pane.topology, recording)));
    const ends = panes.filter((pane) => pane.recording).map((pane) => pane.recording.end);
    player.load(Math.max(0, ...ends.map((end) => end - 1)), frame);
    picker.mark(number);
    setPace();
    draw(player.state.frame);
    settle();
    body.dataset.choice = (performance.now() - from).toFixed(1);
    afterPaint(() => {
      body.dataset.drawn = (performance.now() - from).toFixed(1);
      panes.filter((pane) => pane.recording).forEach(checkPane);
    });
  }

  // The same fault in a topology, or the sentence that it is not there.
  function besideOf(topology, recording) {
    if (topology === recording.topology) return [recording];
    const number = sameFault(topology, recording);
    if (number >= 0) return [recordingOf(topology, number)];
    const label = labelOf(recording.name, recording.mode, recording.detail);
    const known = topology.names.includes(recording.name);
    const why = known ? 'what has this name there knows no such fault' : 'nothing there has this name';
    return [null, `${topologyLabel(topology)} has no fault \u201c${label}\u201d: ${why}.`];
  }

  function afterPaint(call) {
    requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = call;
      channel.port2.postMessage(null);
    });
  }

  function setPace() {
    const pace = paceOf(panes, Number(byId('bench-speed').value));
    byId('bench-pace').textContent = pace.said;
    byId('bench-play').disabled = pace.speed === 0;
    return pace.speed;
  }

  // The nearest frame before or after in which a pane changes.
  function change(forward) {
    const all = panes.filter((pane) => pane.recording).flatMap((pane) => pane.parts.map(([frame]) => frame));
    const { frame, last } = player.state;
    if (forward) return Math.min(last, ...all.filter((at) => at > frame));
    return Math.max(0, ...all.filter((at) => at < frame));
  }

  function step(to) {
    player.stop();
    player.goTo(to());
    settle();
    remember();
  }

  function wire() {
    byId('bench-play').addEventListener('click', () => {
      if (player.state.playing) player.stop();
      else player.play(setPace());
      settle();
      remember();
    });
    byId('bench-speed').addEventListener('change', () => {
      const speed = setPace();
      if (player.state.playing && speed) player.play(speed);
      else player.stop();
    });
    byId('bench-back').addEventListener('click', () => step(() => player.state.frame - 1));
    byId('bench-on').addEventListener('click', () => step(() => player.state.frame + 1));
    byId('bench-before').addEventListener('click', () => step(() => change(false)));
    byId('bench-after').addEventListener('click', () => step(() => change(true)));
    byId('bench-frame').addEventListener('input', (event) => step(() => Number(event.target.value)));
    byId('bench-copy').addEventListener('click', copyLink);
    wireChoosers();
    stillness.addEventListener('change', () => {
      player.stop();
      setPace();
    });
    addEventListener('hashchange', () => restore());
    new ResizeObserver(resized).observe(byId('bench-panes'));
  }

  function wireChoosers() {
    byId('bench-topology').addEventListener('change', (event) => {
      const topology = data.topologies[Number(event.target.value)];
      const same = sameFault(topology, recordingOf(view.topology, view.fault));
      const beside = view.beside === topology ? null : view.beside;
      open({ topology, beside, fault: Math.max(same, 0), frame: same < 0 ? 0 : view.frame });
      remember();
    });
    byId('bench-beside').addEventListener('change', (event) => {
      const beside = event.target.value === '' ? null : data.topologies[Number(event.target.value)];
      open({ beside: beside === view.topology ? null : beside });
      remember();
    });
    byId('bench-list').addEventListener('click', () => {
      remember();
      if (narrow.matches) byId('bench-chosen').scrollIntoView({ block: 'start' });
    });
    for (const id of ['bench-list', 'bench-search']) {
      byId(id).addEventListener('keydown', (event) => { if (event.key === 'Enter') remember(); });
    }
  }

  function resized() {
    for (const pane of panes) {
      if (pane.recording && Math.abs(pane.part('ruler').clientWidth - pane.ruler.clientWidth) > 1) {
        placeRuler(pane);
        pointRuler(pane.ruler, Math.min(view.frame, pane.recording.end - 1));
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

  function restore() {
    const asked = viewOf(location.hash);
    if (!asked) return false;
    open({ ...asked, beside: asked.beside === asked.topology ? null : asked.beside ?? null });
    byId('bench-chosen').scrollIntoView({ block: 'start' });
    return true;
  }

  fillChoosers();
  fillLegend();
  wire();
  if (!restore()) open({ topology: firstTopology(), beside: null, fault: 0, frame: 0 });
  body.dataset.ready = (performance.now() - began).toFixed(1);
  afterPaint(() => { body.dataset.first = performance.now().toFixed(1); });
}

startBench();
