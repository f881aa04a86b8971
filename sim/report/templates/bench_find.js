// Finding faults: by words, by what happens, by what comes of it, by what was pointed at.

// All faults of a topology in small letters, once.
function searchable(topology) {
  topology.searched ??= topology.faults.map(
    (fault) =>
      `${topology.words[fault[3]]} ${topology.names[fault[0]]} ${topology.modes[fault[1]]} ${fault[2]}`
        .toLowerCase(),
  );
  return topology.searched;
}

// Numbers of the faults that hold every word of `text` and fit the rest.
function found(topology, { text, mode, verdict, names }) {
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  const texts = searchable(topology);
  const wanted = (number) => {
    const fault = topology.faults[number];
    return (
      (mode === '' || fault[1] === Number(mode)) &&
      (verdict === '' || topology.outcomes[fault[5]].verdict === verdict) &&
      (!names || names.has(fault[0])) &&
      words.every((word) => texts[number].includes(word))
    );
  };
  return topology.faults.map((_, number) => number).filter(wanted);
}

// Numbers of the names that an item of the drawing stands for: things, selectors, routes.
function namesOfItem(topology, item) {
  return new Set([...topology.items[item][1], ...places[topology.id][item]]);
}

// Numbers of the names of a cabinet: its receivers, supply, jumpers.
function namesOfCabinet(topology, wall, place) {
  const { spots } = data.groups[topology.group];
  const spot = spots.find((each) => each[0] === wall && each[1] === place);
  return new Set(spot ? topology.cabinets[spot[3]] : []);
}

// The same names in another topology.
function namesElsewhere(topology, names, other) {
  const texts = new Set([...names].map((name) => topology.names[name]));
  return new Set(other.names.map((_, name) => name).filter((name) => texts.has(other.names[name])));
}

// The items of the drawing that hold any of what was struck.
function itemsStruck(topology, struck) {
  return topology.items
    .map((_, item) => item)
    .filter((item) => [...namesOfItem(topology, item)].some((name) => struck.has(name)));
}
