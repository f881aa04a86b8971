// The player: one frame at a time, or at a speed that does not flash.

const SPEED_WORDS = {
  100: '100 times real speed', 10: '10 times real speed', 1: 'real speed',
  0.25: 'a quarter of real speed', 0.1: 'a tenth of real speed',
};
const stillness = matchMedia('(prefers-reduced-motion: reduce)');

// `show` draws a frame; `ended` is told whenever nothing plays any more.
function makePlayer(show, ended) {
  return { show, ended, frame: 0, last: 0, playing: false, speed: 1, began: 0, from: 0 };
}

function goTo(player, frame) {
  const held = Math.min(Math.max(frame, 0), player.last);
  if (held === player.frame) return;
  player.frame = held;
  player.show(held);
}

function play(player, speed) {
  if (player.frame >= player.last) goTo(player, 0);
  const began = performance.now();
  Object.assign(player, { playing: true, speed, began, from: player.frame });
  requestAnimationFrame((now) => tick(player, began, now));
}

// Draws the frame that is due; a later start of the player ends the ticks of this one.
function tick(player, began, now) {
  if (!player.playing || player.began !== began) return;
  const passed = Math.max(0, now - began) / 1000;
  const frame = player.from + Math.floor((passed / frameSeconds(data.clock)) * player.speed);
  goTo(player, frame);
  if (frame >= player.last) stop(player);
  else requestAnimationFrame((later) => tick(player, began, later));
}

function stop(player) {
  if (!player.playing) return;
  player.playing = false;
  player.ended();
}

// A new recording, from one of its frames on.
function load(player, last, frame) {
  Object.assign(player, { playing: false, last, frame: Math.min(Math.max(frame, 0), last) });
}

// How the recordings of all panes may be played at a speed: the safe speed, and a sentence.
function paceOf(panes, asked) {
  if (stillness.matches) {
    return { speed: 0, said: 'Your system asks for less motion: nothing plays by itself here; step or scrub.' };
  }
  const shown = panes.filter((pane) => pane.recording);
  const flashes = Math.max(0, ...shown.map((pane) => pane.recording.flashes));
  const speed = safeSpeed(partsOfAll(shown), data.clock, asked, flashes);
  if (speed === asked) return { speed, said: '' };
  const why = 'At the chosen speed a quarter of a wall or more would flash more than three times a second';
  return speed
    ? { speed, said: `${why}: it plays at ${SPEED_WORDS[speed]}.` }
    : { speed, said: `${why}, and at every slower one: step or scrub.` };
}

// What changes on any pane, frame by frame; of a frame the greatest part.
function partsOfAll(panes) {
  const parts = new Map();
  for (const [frame, part] of panes.flatMap((pane) => pane.parts)) {
    parts.set(frame, Math.max(part, parts.get(frame) ?? 0));
  }
  return [...parts].sort(([one], [other]) => one - other);
}
