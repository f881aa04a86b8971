// The player: one frame at a time, or at a speed that does not flash.

function makePlayer(show, ended) {
  const player = { frame: 0, last: 0, playing: false, speed: 1, began: 0, from: 0 };

  function tick(now) {
    if (!player.playing) return;
    const passed = Math.max(0, now - player.began) / 1000;
    const frame = player.from + Math.floor((passed / frameSeconds(data.clock)) * player.speed);
    goTo(Math.min(frame, player.last));
    if (frame >= player.last) stop();
    else requestAnimationFrame(tick);
  }

  function goTo(frame) {
    const held = Math.min(Math.max(frame, 0), player.last);
    if (held === player.frame) return;
    player.frame = held;
    show(held);
  }

  function play(speed) {
    if (player.frame >= player.last) goTo(0);
    Object.assign(player, { playing: true, speed, began: performance.now(), from: player.frame });
    requestAnimationFrame(tick);
  }

  function stop() {
    if (!player.playing) return;
    player.playing = false;
    ended();
  }

  // A new recording: from its first frame, or another.
  function load(last, frame) {
    player.playing = false;
    player.last = last;
    player.frame = Math.min(Math.max(frame, 0), last);
    ended();
  }

  return { state: player, goTo, play, stop, load };
}

const SPEED_WORDS = { 100: '100 times real speed', 10: '10 times real speed', 1: 'real speed', 0.25: 'a quarter of real speed', 0.1: 'a tenth of real speed' };

// How the recordings of all panes may be played at a speed: the safe speed, and a sentence.
function paceOf(panes, asked) {
  const shown = panes.filter((pane) => pane.recording);
  const safe = Math.min(asked, ...shown.map((pane) =>
    safeSpeed(pane.parts, data.clock, asked, pane.recording.flashes)));
  if (stillness.matches) {
    return { speed: 0, said: 'Your system asks for less motion: nothing plays by itself here; step or scrub.' };
  }
  if (safe === asked) return { speed: asked, said: '' };
  const why = 'At the chosen speed a quarter of a wall or more would flash more than three times a second';
  return safe
    ? { speed: safe, said: `${why}: it plays at ${SPEED_WORDS[safe]}.` }
    : { speed: 0, said: `${why}, and at every slower one: step or scrub.` };
}

const stillness = matchMedia('(prefers-reduced-motion: reduce)');
