// The event table, the table of counts, the sentences of a recording.

function cell(kind, text, className = '') {
  const made = document.createElement(kind);
  made.textContent = text;
  if (className) made.className = className;
  return made;
}

// Rows of events; their frame is a button that goes there.
function fillEvents(table, recording, goTo) {
  const rows = recording.events.map((event, number) => {
    const row = document.createElement('tr');
    row.dataset.frame = event.frame;
    const button = cell('button', grouped(event.frame));
    button.type = 'button';
    button.setAttribute('aria-label', `go to frame ${event.frame}, event ${number + 1}`);
    button.addEventListener('click', () => goTo(event.frame));
    const frame = document.createElement('td');
    frame.append(button);
    row.append(
      cell('td', '', 'bench-sign'), cell('td', number + 1), frame, cell('td', event.time),
      cell('td', event.kind), cell('td', event.what, 'bench-what'),
    );
    return row;
  });
  table.tBodies[0].replaceChildren(...rows);
}

// Marks the rows of the last events that have happened by a frame, and keeps them in sight.
function markEvents(table, frame) {
  const rows = [...table.tBodies[0].rows];
  const happened = rows.filter((row) => Number(row.dataset.frame) <= frame);
  const last = happened.length ? Number(happened.at(-1).dataset.frame) : -1;
  for (const row of rows) {
    const at = Number(row.dataset.frame);
    const sign = at > last ? '' : at < last ? 'past' : at === frame ? 'now' : 'latest';
    if (row.dataset.sign === sign) continue;
    row.dataset.sign = sign;
    row.firstElementChild.textContent = sign === 'past' ? '' : sign;
    row.toggleAttribute('aria-current', sign === 'now' || sign === 'latest');
  }
  const now = rows.find((row) => Number(row.dataset.frame) === last);
  if (table.dataset.last !== String(last)) showRow(table, now ?? rows[0]);
  table.dataset.last = last;
}

// Moves the box that the table scrolls in, never the page.
function showRow(table, row) {
  if (!row) return;
  const box = table.parentElement;
  const from = table.getBoundingClientRect().top;
  const { top, bottom } = row.getBoundingClientRect();
  const head = table.tHead.offsetHeight;
  if (bottom - from > box.scrollTop + box.clientHeight || top - from < box.scrollTop + head) {
    box.scrollTop = top - from - head;
  }
}

function span(least, most) {
  return least === most ? grouped(least) : `${grouped(least)} to ${grouped(most)}`;
}

// One row for each target and state that it is ever in.
function countRows(recording) {
  const { targets, walls } = recording.group;
  const played = new Map(recording.played.map(([target, frames]) => [target, frames]));
  const counted = new Map(recording.counts.map((row) => [row[0], row]));
  const shown = [...new Set([...counted.keys(), ...played.keys()])].sort((a, b) => a - b);
  return shown
    .filter((target) => targets[target].kind !== 'group' || walls.length > 1) // else the wall says it
    .flatMap((target) => rowsOf(target, counted.get(target), played.get(target)));
}

function rowsOf(target, counted, drawn) {
  const [, least, most, best, worst] = counted ?? [];
  const settled = counted ? (best === null ? 'never settles' : stays(best, worst)) : '';
  return data.states.slice(0, LIT)
    .map((state, number) => ({
      target, state, settled,
      ever: (most?.[number] ?? 0) + (drawn?.[number] ?? 0) > 0 || number === worst,
      span: most ? lossSaid(least[number], most[number], number, best, worst) : counted ? 'goes on' : '',
      here: drawn ? grouped(drawn[number]) : '',
    }))
    .filter(({ ever }) => ever);
}

// Frames until all has settled; a state that may last goes on after them.
function lossSaid(least, most, state, best, worst) {
  const frames = span(least, most);
  if (state === best) return `for good (${frames} until settled)`;
  return state === worst ? `perhaps for good (${frames} until settled)` : frames;
}

function stays(best, worst) {
  return best === worst ? data.states[best] : `${data.states[best]} to ${data.states[worst]}`;
}

function fillCounts(table, recording) {
  const { targets } = recording.group;
  const rows = countRows(recording);
  const heads = new Map();
  const made = rows.map(({ target, state, span: frames, here, settled }) => {
    const row = document.createElement('tr');
    const first = !heads.has(target);
    heads.set(target, true);
    const head = cell('th', clipped(targets[target].title), first ? '' : 'bench-again');
    head.scope = 'row';
    row.append(head, cell('td', state), cell('td', frames), cell('td', here), cell('td', first ? settled : ''));
    return row;
  });
  table.tBodies[0].replaceChildren(...made);
  table.hidden = !rows.length;
}

function countsSaid(recording) {
  if (!recording.counts.length) {
    return recording.played.length
      ? 'Of this recording alone: what phase and timings make of it was not worked out.'
      : 'Nothing here is ever seen other than lit.';
  }
  const grade = recording.grade ? ` Grade of the timings: ${recording.grade}.` : ' No timing with a range matters.';
  const race = recording.races
    ? ' Two protections race within the ranges of their timings, so that these frames are no bound.'
    : '';
  return `Frames between the first and the last change, least to most over the phase of the frames and the range of the timings.${grade}${race}`;
}

// What the targets show in a frame, in words.
function statesSaid(recording, states) {
  const { targets, walls } = recording.group;
  const told = targets
    .filter(({ kind }) => kind !== 'view' && (kind !== 'group' || walls.length > 1))
    .map((target) => ({ target, ...worstOf(target, states) }))
    .filter(({ worst }) => worst < LIT)
    .map(({ target, worst, whole }) => `${clipped(target.title)} ${whole ? '' : 'in part '}${data.states[worst]}`);
  return told.length ? `${told.join('; ')}.` : 'All lit.';
}

function checkSaid(recording) {
  const found = differences(recording);
  return found.length
    ? `Self-check: what is drawn differs from what was counted: ${found.slice(0, 5).join('; ')}.`
    : 'Self-check: the frames drawn, by state of each wall and region, equal those that were counted.';
}

const VERDICTS = {
  lasting: 'lasting: something is not lit once all has settled',
  blink: 'a blink: all is lit again once it has settled',
  unseen: 'unseen: nothing of it shows on the wall',
};

function titleSaid(recording) {
  return labelOf(recording.name, recording.mode, recording.detail);
}
