// What stands on the page before a fault is chosen: choosers, the key of signs.

function byId(id) {
  return document.getElementById(id);
}

function firstTopology() {
  const some = data.topologies.filter((topology) => topology.faults.length);
  return some.find((topology) => topology.offered) ?? some[0];
}

// The dead thing or cut cable that most of the walls notice: something to look at first.
function widestFault(topology) {
  const sizes = topology.sets.map((runs) => runs.reduce((sum, at, n) => sum + (n % 2 ? at + 1 : -at), 0));
  const widths = topology.faults.map(([, mode, , , parts]) => ['dead', 'cut'].includes(topology.modes[mode])
    ? topology.parts[parts].reduce((sum, set) => sum + sizes[set], 0) : -1);
  return Math.max(widths.indexOf(Math.max(...widths)), 0);
}

function fillChoosers() {
  const options = () => data.topologies.map((topology, number) => {
    const option = new Option(topologyLabel(topology), number);
    option.disabled = !topology.faults.length;
    return option;
  });
  byId('bench-topology').replaceChildren(...options());
  byId('bench-beside').replaceChildren(new Option('nothing', ''), ...options());
}

// The states: hatching, letter and word.
function fillLegend() {
  const items = data.states.map((state, number) => {
    const item = cell('li', '');
    const sign = svgElement('svg', { class: 'bench-sample', width: 34, height: 26, 'aria-hidden': 'true' });
    const spot = svgElement('g', { class: 'bench-spot', 'data-state': state });
    spot.append(
      svgElement('rect', { class: 'bench-rect', width: 34, height: 26 }),
      svgElement('text', { class: 'bench-letter', x: 17, y: 19, 'font-size': 17, 'text-anchor': 'middle' }, LETTERS[number]),
    );
    sign.append(spot);
    const letter = LETTERS[number] ? `${LETTERS[number]}: ${state}` : `no letter: ${state}`;
    item.append(sign, cell('span', letter));
    return item;
  });
  byId('bench-legend').replaceChildren(...items);
}
