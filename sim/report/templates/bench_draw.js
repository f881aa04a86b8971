// Walls and drawings of a topology: copies of the page's own, made to be pointed at and painted.

function copyOf(id) {
  return document.importNode(document.getElementById(id).content, true).firstElementChild;
}

// The walls of a group, each with its title.
function wallsOf(group) {
  return group.walls.map((wall, number) => {
    const figure = document.createElement('figure');
    const title = document.createElement('figcaption');
    title.textContent = clipped(wall.title);
    const scroll = scrolling(`${clipped(wall.title)}, cabinets`);
    const drawn = copyOf(wall.id);
    drawn.dataset.wall = number;
    const wide = Number(drawn.getAttribute('width'));
    drawn.style.minWidth = `${Math.round(wide * 0.6)}px`;
    drawn.style.maxWidth = `${Math.round(Math.max(wide * 1.4, Math.min(wide * 2.2, 420)))}px`;
    scroll.append(drawn);
    figure.append(title, scroll);
    return { figure, drawn };
  });
}

function scrolling(label) {
  const box = document.createElement('div');
  box.className = 'bench-scroll';
  box.tabIndex = 0;
  box.setAttribute('role', 'group');
  box.setAttribute('aria-label', label);
  return box;
}

// One stop of the Tab key for many things; arrow keys go from one to the next.
function roving(elements, call) {
  elements.forEach((element, number) => {
    element.setAttribute('role', 'button');
    element.setAttribute('tabindex', number ? '-1' : '0');
    element.addEventListener('click', () => call(element));
    element.addEventListener('keydown', (event) => rove(event, elements, number, call));
  });
}

const STEPS = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: 1, ArrowUp: -1 };

function rove(event, elements, number, call) {
  if (event.key === 'Enter' || event.key === ' ') {
    event.preventDefault();
    call(elements[number]);
    return;
  }
  const next = nextElement(event.key, elements, number);
  if (!next) return;
  event.preventDefault();
  elements[number].setAttribute('tabindex', '-1');
  next.setAttribute('tabindex', '0');
  next.focus();
}

// On a wall up and down go by rows; else all arrows go through the order.
function nextElement(key, elements, number) {
  if (key === 'Home') return elements[0];
  if (key === 'End') return elements.at(-1);
  const step = STEPS[key];
  if (!step) return null;
  const columns = Number(elements[number].dataset.columns ?? 1);
  return elements[number + (key.endsWith('n') || key.endsWith('p') ? step * columns : step)];
}

// Makes the cabinets of a wall buttons.
function wakeWall(drawn, title, call) {
  const cabinets = [...drawn.querySelectorAll('.bench-cabinet')];
  const columns = new Set(cabinets.map((cabinet) => cabinet.getAttribute('x'))).size;
  cabinets.forEach((cabinet) => {
    cabinet.dataset.columns = columns;
    cabinet.setAttribute('aria-label', `${title}, ${cabinet.textContent}`);
  });
  roving(cabinets, (cabinet) => call(cabinet.dataset.cabinet));
}

// Makes the items of a drawing buttons, each with room to be hit.
function wakeDrawing(drawn, call) {
  const items = [...drawn.querySelectorAll('[data-item]')];
  const boxes = items.map((item) => item.getBBox());
  items.forEach((item, number) => {
    const { x, y, width, height } = boxes[number];
    const more = Math.max(0, 26 - height) / 2;
    item.prepend(svgElement('rect', {
      class: 'bench-hit', x: x - 2, y: y - more, width: width + 4, height: height + 2 * more,
    }));
    const title = item.querySelector('title');
    item.setAttribute('aria-label', title.textContent.slice(0, 300));
    item.prepend(title);
  });
  roving(items, (item) => call(Number(item.dataset.item)));
}

// Marks what the fault strikes: a thick outline and a word; brings the first of it into view.
function markStruck(drawn, struck) {
  const box = drawn.parentElement;
  const first = struck.length ? drawn.querySelector(`[data-item="${struck[0]}"] .bench-hit`) : null;
  if (first) {
    box.scrollLeft = first.getAttribute('x') - 40;
    box.scrollTop = first.getAttribute('y') - 80;
  }
  drawn.querySelectorAll('[data-item]').forEach((item) => {
    const hit = struck.includes(Number(item.dataset.item));
    if (item.classList.contains('bench-struck') !== hit) strike(item, hit);
  });
}

function strike(item, hit) {
  item.classList.toggle('bench-struck', hit);
  const title = item.querySelector('title').textContent.slice(0, 300);
  item.setAttribute('aria-label', hit ? `${title}, struck` : title);
  item.querySelector('.bench-word')?.remove();
  if (!hit) return;
  const box = item.querySelector('.bench-hit');
  const [x, y] = [Number(box.getAttribute('x')), Number(box.getAttribute('y'))];
  item.append(svgElement('text', { class: 'bench-word', x: x + 2, y: y - 2 }, 'struck'));
}

// Shows the states of all spots; only what has changed is touched.
function paintSpots(spots, painted, states) {
  spots.forEach((elements, spot) => {
    if (painted[spot] === states[spot]) return;
    painted[spot] = states[spot];
    for (const element of elements) {
      element.dataset.state = data.states[states[spot]];
      element.lastElementChild.textContent = LETTERS[states[spot]];
    }
  });
}
