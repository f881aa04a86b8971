// What stands on the page before a fault is chosen: choosers, the key of signs.

function byId(id) {
  return document.getElementById(id);
}

function firstTopology() {
  const some = data.topologies.filter((topology) => topology.faults.length);
  return some.find((topology) => topology.offered) ?? some[0];
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
