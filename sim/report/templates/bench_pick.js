// The list of faults: searched, narrowed, gone through with the keyboard.

const ROWS = 120; // so many are in the page at once; more come when they are asked for

function makePicker(choose) {
  const parts = {
    search: byId('bench-search'), mode: byId('bench-mode'), verdict: byId('bench-verdict'),
    list: byId('bench-list'), said: byId('bench-found'), all: byId('bench-all'),
  };
  const picker = { topology: null, names: null, about: '', numbers: [], active: -1, shown: 0, chosen: -1 };

  // `first`: the first of the list is the one that Enter takes; else the one that is shown.
  function refresh(first = false) {
    const { search, mode, verdict } = parts;
    picker.numbers = found(picker.topology, {
      text: search.value, mode: mode.value, verdict: verdict.value, names: picker.names,
    });
    picker.shown = 0;
    picker.active = picker.numbers.indexOf(picker.chosen);
    parts.list.replaceChildren();
    grow(Math.max(picker.active + 10, ROWS));
    say();
    activate(first && picker.numbers.length ? 0 : picker.active);
  }

  function say() {
    const { faults } = picker.topology;
    const many = picker.numbers.length;
    const of = picker.about ? ` of ${clipped(picker.about)}` : '';
    const count = many === faults.length
      ? `${grouped(many)} ${many === 1 ? 'fault' : 'faults'}`
      : `${grouped(many)} of ${grouped(faults.length)} faults${of}`;
    parts.said.textContent = many ? `${count}.` : `No fault${of} fits.`;
    parts.all.hidden = many === faults.length;
  }

  function grow(upTo) {
    const until = Math.min(picker.numbers.length, upTo);
    const rows = picker.numbers.slice(picker.shown, until).map((number, at) => row(number, picker.shown + at));
    parts.list.append(...rows);
    picker.shown = Math.max(picker.shown, until);
  }

  function row(number, place) {
    const { topology } = picker;
    const item = cell('li', '');
    item.id = `bench-option-${place}`;
    item.setAttribute('role', 'option');
    item.setAttribute('aria-selected', String(number === picker.chosen));
    item.setAttribute('aria-setsize', picker.numbers.length);
    item.setAttribute('aria-posinset', place + 1);
    item.dataset.place = place;
    item.append(
      cell('span', faultLabel(topology, number), 'bench-fault'),
      cell('span', topology.outcomes[topology.faults[number][5]].verdict, 'bench-verdict'),
    );
    return item;
  }

  function activate(place) {
    parts.list.querySelector('.bench-active')?.classList.remove('bench-active');
    picker.active = place;
    for (const holder of [parts.search, parts.list]) holder.removeAttribute('aria-activedescendant');
    if (place < 0) return;
    grow(place + 20);
    const item = parts.list.children[place];
    item.classList.add('bench-active');
    for (const holder of [parts.search, parts.list]) holder.setAttribute('aria-activedescendant', item.id);
    keepInView(item);
  }

  function keepInView(item) {
    const { list } = parts;
    const top = item.offsetTop; // the list is what it is counted from
    if (top < list.scrollTop) list.scrollTop = top;
    const bottom = top + item.offsetHeight - list.clientHeight;
    if (bottom > list.scrollTop) list.scrollTop = bottom;
  }

  function take(place) {
    if (!(place in picker.numbers)) return;
    activate(place);
    choose(picker.numbers[place]);
  }

  // The list holds faults of these names only; null: all.
  function narrow(names, about) {
    Object.assign(picker, { names, about });
    if (names) parts.search.value = '';
    refresh();
  }

  function open(topology) {
    if (picker.topology === topology) return;
    const mode = picker.topology?.modes[Number(parts.mode.value)];
    const kept = parts.mode.value !== '' ? topology.modes.indexOf(mode) : -1;
    Object.assign(picker, { topology, names: null, about: '', chosen: -1 });
    const options = topology.modes.map((name, number) => new Option(name, number));
    parts.mode.replaceChildren(new Option('anything', ''), ...options);
    parts.mode.value = kept >= 0 ? String(kept) : '';
    refresh();
  }

  // Marks the fault that is shown.
  function mark(number) {
    picker.chosen = number;
    for (const item of parts.list.querySelectorAll('[aria-selected="true"]')) item.setAttribute('aria-selected', 'false');
    const place = picker.numbers.indexOf(number);
    if (place >= 0) grow(place + 20);
    parts.list.children[place]?.setAttribute('aria-selected', 'true');
    activate(place);
  }

  wirePicker(parts, picker, { refresh, grow, activate, take, narrow });
  return { open, mark, narrow };
}

function wirePicker(parts, picker, { refresh, grow, activate, take, narrow }) {
  const { list, search } = parts;
  search.addEventListener('input', () => refresh(search.value !== ''));
  parts.mode.addEventListener('change', () => refresh());
  parts.verdict.addEventListener('change', () => refresh());
  parts.all.addEventListener('click', () => {
    parts.mode.value = '';
    parts.verdict.value = '';
    search.value = '';
    narrow(null, '');
    search.focus();
  });
  list.addEventListener('click', (event) => {
    const item = event.target.closest('[role=option]');
    if (item) take(Number(item.dataset.place));
  });
  list.addEventListener('scroll', () => {
    if (list.scrollTop + 2 * list.clientHeight > list.scrollHeight) grow(picker.shown + ROWS);
  });
  const ends = (key) => (key === 'Home' ? 0 : picker.numbers.length - 1);
  const press = (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1, PageDown: 8, PageUp: -8 }[event.key];
    const toEnd = event.target === list && (event.key === 'Home' || event.key === 'End');
    if (event.key === 'Enter') take(Math.max(picker.active, 0));
    else if (step || toEnd) {
      const to = toEnd ? ends(event.key) : picker.active + step;
      activate(Math.min(Math.max(to, 0), picker.numbers.length - 1));
    } else return;
    event.preventDefault();
  };
  for (const holder of [search, list]) holder.addEventListener('keydown', press);
}
