// Frames and time: SMPTE ST 12-1 time code, with numbers left out where the rate has drop-frame.

// Numbers left out each minute but every tenth, as a rate with drop-frame counting has it.
function droppedEachMinute(clock) {
  return clock.drop ? Math.round(clock.nominal / 15) : 0;
}

function framesInDay(clock) {
  return 24 * 60 * 60 * clock.nominal - droppedEachMinute(clock) * (24 * 60 - 24 * 6);
}

// The code of a frame, counted from the first of the show; wraps at 24 hours.
function timeCode(frame, clock) {
  const day = framesInDay(clock);
  const number = (((clock.first + frame) % day) + day) % day;
  return codeOf(number + leftOutBefore(number, clock), clock);
}

function leftOutBefore(number, clock) {
  const left = droppedEachMinute(clock);
  const full = 60 * clock.nominal;
  const short = full - left;
  const ten = full + 9 * short;
  const rest = number % ten;
  const minutes = rest < full ? 0 : 1 + Math.floor((rest - full) / short);
  return left * (9 * Math.floor(number / ten) + minutes);
}

function codeOf(number, clock) {
  const seconds = Math.floor(number / clock.nominal);
  const fields = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  const digits = String(clock.nominal - 1).length;
  const frames = String(number % clock.nominal).padStart(digits, '0');
  const told = fields.map((field) => String(field).padStart(2, '0')).join(':');
  return `${told}${clock.drop ? ';' : ':'}${frames}`;
}

// Seconds of one frame.
function frameSeconds(clock) {
  return clock.seconds_per_frame[0] / clock.seconds_per_frame[1];
}

// A whole number with its digits in groups of three.
function grouped(number) {
  return String(number).replace(/\B(?=(\d{3})+$)/g, '\u00a0');
}

// Seconds as people read them; beyond two minutes so fine that each frame has its own.
function secondsWords(seconds) {
  if (seconds < 120) return `${Number(seconds.toPrecision(3))} s`;
  const hundredths = Math.floor(seconds * 100 + 1e-6);
  return `${grouped(Math.floor(hundredths / 6000))} min ${((hundredths % 6000) / 100).toFixed(2)} s`;
}
