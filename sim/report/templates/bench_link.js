// The view as a readable fragment: #bench:topology=two-unit&fault=unit-a~dead&frame=12

const MARK = '#bench:';
const LONGEST = 120;

function code(text) {
  return encodeURIComponent(text).replace(/%2F/g, '/').replace(/%20/g, '+').replace(/~/g, '%7E');
}

function decoded(text) {
  return decodeURIComponent(text.replace(/\+/g, '%20'));
}

// A topology by its group and label, if short and its own; else by its id.
function topologyCode(topology) {
  const called = topologyName(topology);
  const alike = data.topologies.filter((other) => topologyName(other) === called);
  return called.length <= LONGEST && alike.length === 1 ? code(called) : topology.id;
}

function topologyName(topology) {
  return data.groups.length > 1
    ? `${data.groups[topology.group].name}: ${topology.label}`
    : topology.label;
}

function topologyCalled(text) {
  const called = decoded(text);
  return data.topologies.find((each) => topologyName(each) === called) ??
    data.topologies.find((each) => each.id === called);
}

// A fault by name, mode and detail; by its number where these are too long.
function faultCode(topology, number) {
  const [name, mode, detail] = topology.faults[number];
  const parts = [topology.names[name], topology.modes[mode], ...(detail ? [detail] : [])];
  return parts.join('').length <= LONGEST ? parts.map(code).join('~') : `number~${number}`;
}

function faultCalled(topology, text) {
  const parts = text.split('~').map(decoded);
  if (parts[0] === 'number' && parts.length === 2 && /^\d+$/.test(parts[1])) {
    const number = Number(parts[1]);
    return number < topology.faults.length ? number : -1;
  }
  return faultNamed(topology, parts[0], parts[1] ?? '', parts[2] ?? '');
}

function hashOf({ topology, beside, fault, frame }) {
  const parts = [`topology=${topologyCode(topology)}`];
  if (beside) parts.push(`beside=${topologyCode(beside)}`);
  parts.push(`fault=${faultCode(topology, fault)}`, `frame=${frame}`);
  return MARK + parts.join('&');
}

// The view that a fragment asks for, or null if it asks for none that is here.
function viewOf(hash) {
  if (!hash.startsWith(MARK)) return null;
  try {
    const asked = new Map(hash.slice(MARK.length).split('&').map((part) => {
      const at = part.indexOf('=');
      return [part.slice(0, at), part.slice(at + 1)];
    }));
    const topology = topologyCalled(asked.get('topology') ?? '');
    if (!topology) return null;
    const fault = faultCalled(topology, asked.get('fault') ?? '');
    if (fault < 0) return null;
    const beside = asked.has('beside') ? topologyCalled(asked.get('beside')) : undefined;
    return { topology, beside, fault, frame: Number.parseInt(asked.get('frame') ?? '0', 10) || 0 };
  } catch {
    return null; // a fragment that nobody could have copied from here
  }
}
