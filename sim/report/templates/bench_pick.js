// The list of faults: searched, narrowed, gone through with the keyboard.

const ROWS = 120; // so many are in the page at once; more come when they are asked for

function makePicker(choose) {
  const picker = {
    topology: null, names: null, about: '', numbers: [], active: -1, shown: 0, chosen: -1, choose,
    search: byId('bench-search'), mode: byId('bench-mode'), verdict: byId('bench-verdict'),
    list: byId('bench-list'), said: byId('bench-found'), all: byId('bench-all'),
  };
  wirePicker(picker);
  return picker;
}

// Lists what fits. `first`: Enter takes the first of the list; else the one that is shown.
function refreshList(picker, first = false) {
  const { search, mode, verdict, names, chosen } = picker;
  const asked = { text: search.value, mode: mode.value, verdict: verdict.value, names };
  picker.numbers = found(picker.topology, asked);
  picker.shown = 0;
  picker.list.replaceChildren();
  const place = picker.numbers.indexOf(chosen);
  growList(picker, Math.max(place + 10, ROWS));
  picker.said.textContent = listSaid(picker);
  picker.all.hidden = picker.numbers.length === picker.topology.faults.length;
  activate(picker, first && picker.numbers.length ? 0 : place);
}

function listSaid({ topology, numbers, about }) {
  const [many, all] = [numbers.length, topology.faults.length];
  const of = about ? ` of ${clipped(about)}` : '';
  if (!many) return `No fault${of} fits.`;
  if (many === all) return `${grouped(many)} ${many === 1 ? 'fault' : 'faults'}.`;
  return `${grouped(many)} of ${grouped(all)} faults${of}.`;
}

function growList(picker, upTo) {
  const until = Math.min(picker.numbers.length, upTo);
  const rows = [];
  for (let place = picker.shown; place < until; place += 1) rows.push(listRow(picker, place));
  picker.list.append(...rows);
  picker.shown = Math.max(picker.shown, until);
}

function listRow({ topology, numbers, chosen }, place) {
  const number = numbers[place];
  const row = cell('li', '');
  row.id = `bench-option-${place}`;
  row.dataset.place = place;
  row.setAttribute('role', 'option');
  row.setAttribute('aria-selected', String(number === chosen));
  row.setAttribute('aria-setsize', numbers.length);
  row.setAttribute('aria-posinset', place + 1);
  row.append(
    cell('span', faultLabel(topology, number), 'bench-fault'),
    cell('span', topology.outcomes[topology.faults[number][5]].verdict, 'bench-verdict'),
  );
  return row;
}

// The row that Enter would take (-1: none).
function activate(picker, place) {
  const { list, search } = picker;
  list.querySelector('.bench-active')?.classList.remove('bench-active');
  picker.active = place;
  for (const holder of [search, list]) holder.removeAttribute('aria-activedescendant');
  if (place < 0) return;
  growList(picker, place + 20);
  const row = list.children[place];
  row.classList.add('bench-active');
  for (const holder of [search, list]) holder.setAttribute('aria-activedescendant', row.id);
  keepInView(list, row);
}

function keepInView(list, row) {
  const top = row.offsetTop; // the list is what it is counted from
  if (top < list.scrollTop) list.scrollTop = top;
  const bottom = top + row.offsetHeight - list.clientHeight;
  if (bottom > list.scrollTop) list.scrollTop = bottom;
}

function takeRow(picker, place) {
  if (!(place in picker.numbers)) return;
  activate(picker, place);
  picker.choose(picker.numbers[place]);
}

// The list holds faults of these names only; null: all.
function narrowList(picker, names, about) {
  Object.assign(picker, { names, about });
  if (names) picker.search.value = '';
  refreshList(picker);
}

// The faults of another topology; what happens is still asked for if it can happen there.
function openList(picker, topology) {
  if (picker.topology === topology) return;
  const { mode } = picker;
  const asked = mode.value === '' ? '' : picker.topology.modes[Number(mode.value)];
  const kept = topology.modes.indexOf(asked);
  Object.assign(picker, { topology, names: null, about: '', chosen: -1 });
  const options = topology.modes.map((name, number) => new Option(name, number));
  mode.replaceChildren(new Option('anything', ''), ...options);
  mode.value = kept >= 0 ? String(kept) : '';
  refreshList(picker);
}

// Marks the fault that is shown.
function markRow(picker, number) {
  const { list, numbers } = picker;
  picker.chosen = number;
  for (const row of list.querySelectorAll('[aria-selected="true"]')) {
    row.setAttribute('aria-selected', 'false');
  }
  const place = numbers.indexOf(number);
  activate(picker, place);
  list.children[place]?.setAttribute('aria-selected', 'true');
}

function wirePicker(picker) {
  const { search, mode, verdict, list, all } = picker;
  search.addEventListener('input', () => refreshList(picker, search.value !== ''));
  mode.addEventListener('change', () => refreshList(picker));
  verdict.addEventListener('change', () => refreshList(picker));
  all.addEventListener('click', () => showAll(picker));
  list.addEventListener('click', (event) => {
    const row = event.target.closest('[role=option]');
    if (row) takeRow(picker, Number(row.dataset.place));
  });
  list.addEventListener('scroll', () => {
    const left = list.scrollHeight - list.scrollTop;
    if (left < 2 * list.clientHeight) growList(picker, picker.shown + ROWS);
  });
  for (const holder of [search, list]) {
    holder.addEventListener('keydown', (event) => pressInList(picker, event));
  }
}

function showAll(picker) {
  for (const field of [picker.search, picker.mode, picker.verdict]) field.value = '';
  narrowList(picker, null, '');
  picker.search.focus();
}

function pressInList(picker, event) {
  const last = picker.numbers.length - 1;
  const step = { ArrowDown: 1, ArrowUp: -1, PageDown: 8, PageUp: -8 }[event.key];
  const end = event.target === picker.list ? { Home: 0, End: last }[event.key] : undefined;
  if (event.key === 'Enter') takeRow(picker, Math.max(picker.active, 0));
  else if (end !== undefined) activate(picker, end);
  else if (step) activate(picker, Math.min(Math.max(picker.active + step, 0), last));
  else return;
  event.preventDefault();
}
