// No flashing: how often large parts of a wall change within a second, and the speed that is safe.
const MOST_CHANGES = 6; // in any second: three flashes are six changes (WCAG 2.3.1, ITU-R BT.1702)
const QUARTER = 0.25;
const TOGETHER = 0.05; // seconds: smaller changes so close together add up to one
const SPEEDS = [100, 10, 1, 0.25, 0.1];

// For each wall the drawn area of every spot: { wall: [area of spot 0, ...] } by number of the wall.
function areasOf(walls, spots) {
  const areas = walls.map(() => new Float64Array(spots));
  walls.forEach((wall, number) => {
    for (const spot of wall.querySelectorAll('.bench-spot')) {
      let area = 0;
      for (const rect of spot.querySelectorAll('rect')) {
        area += rect.getAttribute('width') * rect.getAttribute('height');
      }
      areas[number][Number(spot.dataset.spot)] = area;
    }
  });
  return areas.map((spotsOf) => ({ spots: spotsOf, whole: spotsOf.reduce((a, b) => a + b, 0) }));
}

// The greatest part of any wall that differs between two rows of states.
function partChanged(areas, before, after) {
  const parts = areas.map(({ spots, whole }) => {
    let changed = 0;
    spots.forEach((area, spot) => { if (before[spot] !== after[spot]) changed += area; });
    return whole ? changed / whole : 0;
  });
  return Math.max(0, ...parts);
}

// Frames in which something changes, with the part of a wall that does: [[frame, part], ...].
function partsByFrame(recording, areas) {
  let before = statesIn(recording, 0);
  return changesOf(recording).map((frame) => {
    const after = statesIn(recording, frame);
    const part = partChanged(areas, before, after);
    before = after;
    return [frame, part];
  });
}

// Instants (seconds of playing) at which a quarter of a wall or more changes, at once or in steps.
function largeChanges(parts, seconds) {
  const found = [];
  let begin = -Infinity;
  let sum = 0;
  for (const [frame, part] of parts) {
    const at = frame * seconds;
    if (at - begin >= TOGETHER) {
      begin = at;
      sum = 0;
    }
    sum += part;
    if (sum >= QUARTER) {
      found.push(at);
      sum = 0;
    }
  }
  return found;
}

// The most large changes within any second of playing at a speed.
function mostInASecond(parts, clock, speed) {
  const at = largeChanges(parts, frameSeconds(clock) / speed);
  let most = 0;
  let first = 0;
  at.forEach((instant, number) => {
    while (at[first] <= instant - 1) first += 1;
    most = Math.max(most, number - first + 1);
  });
  return most;
}

// The speed to play at: the one that is asked for, or the next slower one that is safe; 0 if none.
function safeSpeed(parts, clock, asked, flashes) {
  const safe = (speed) =>
    mostInASecond(parts, clock, speed) <= MOST_CHANGES && (speed < 1 || flashes <= 3);
  return SPEEDS.find((speed) => speed <= asked && safe(speed)) ?? 0;
}

// Watches what is drawn: says for how long (ms) the next large change has to wait.
function flashWatch() {
  const large = [];
  return {
    wait(now) {
      while (large.length && now - large[0] >= 1000) large.shift();
      return large.length < MOST_CHANGES ? 0 : 1000 - (now - large[0]);
    },
    note(now) {
      large.push(now);
    },
  };
}
