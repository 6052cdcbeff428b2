// In which order to call: the same rules as the library's.
function callOrder(calls, order, limits) {
  const everyone = calls.map((_, i) => i);
  if (order === "odds") {
    return everyone.sort((a, b) => calls[b].chance - calls[a].chance || calls[a].key - calls[b].key)
      .map((i) => ({ index: i, part: "odds", sweep: 0, turning: "", together: null }));
  }
  const sure = (call) => (call.second ? Math.min(call.chance, call.second.chance) : call.chance);
  const step = (call) => (sure(call) < limits.workable ? 3 : call.second ? 2 : call.chance >= limits.easy ? 0 : 1);
  const proof = (call) => (step(call) === 3 ? [3, 0, 0, -sure(call), call.key]
    : [step(call), call.receiveOnly ? 0 : 1, call.windows.length ? 1 : 0, -sure(call), call.key]);
  const less = (a, b) => { for (let j = 0; j < a.length; j++) if (a[j] !== b[j]) return a[j] < b[j]; return false; };
  const first = everyone.reduce((best, i) => (less(proof(calls[i]), proof(calls[best])) ? i : best), 0);
  const placed = [{ index: first, part: "prove", sweep: 0, turning: "", together: null }];
  const rest = everyone.filter((i) => i !== first);
  const closing = (i) => Math.min(48 * 60, ...calls[i].windows.map(([, end]) => end));
  const soonest = (name) => Math.min(...rest.filter((i) => calls[i].polarization === name).map(closing));
  const others = [...new Set(rest.map((i) => calls[i].polarization))]
    .filter((name) => name !== calls[first].polarization).sort().sort((a, b) => soonest(a) - soonest(b));
  let heading = calls[first].azimuth;
  for (const name of [calls[first].polarization, ...others]) {
    const group = rest.filter((i) => calls[i].polarization === name);
    rounds(calls, group.filter((i) => calls[i].chance >= limits.marginal)).forEach(({ together, members }, sweep) => {
      const [turned, turning] = turnedFrom(calls, members, heading);
      for (const index of turned) placed.push({ index, part: "sweep", sweep, turning, together });
      heading = calls[turned[turned.length - 1]].azimuth;
    });
    for (const index of group.filter((i) => calls[i].chance < limits.marginal)
      .sort((a, b) => calls[b].chance - calls[a].chance || calls[a].key - calls[b].key)) {
      placed.push({ index, part: "hard", sweep: 0, turning: "", together: null });
    }
  }
  return placed;
}

function turnedFrom(calls, members, heading) {
  const ring = [...members].sort((a, b) => calls[a].azimuth - calls[b].azimuth || calls[a].key - calls[b].key);
  if (ring.length === 1) return [ring, ""];
  const gaps = ring.map((i, place) =>
    circle(calls[i].azimuth - calls[ring[(place + ring.length - 1) % ring.length]].azimuth));
  const begin = gaps.indexOf(Math.max(...gaps)), arc = [...ring.slice(begin), ...ring.slice(0, begin)];
  const apart = (a, b) => Math.abs(circle(a - b + 180) - 180);
  const near = apart(heading, calls[arc[0]].azimuth) <= apart(heading, calls[arc[arc.length - 1]].azimuth);
  return near ? [arc, "clockwise"] : [arc.reverse(), "anticlockwise"];
}

function rounds(calls, group) {
  const openAt = (i, at) => calls[i].windows.find(([start, end]) => start < at && at <= end);
  let timed = group.filter((i) => calls[i].windows.length);
  const free = group.filter((i) => !calls[i].windows.length);
  const closings = [...new Set(timed.flatMap((i) => calls[i].windows.map(([, end]) => end)))].sort((a, b) => a - b);
  const found = [];
  while (timed.length) {
    const count = (at) => timed.filter((i) => openAt(i, at)).length;
    const at = closings.reduce((best, each) => (count(each) > count(best) ? each : best));
    const members = timed.filter((i) => openAt(i, at));
    found.push({ at, members });
    timed = timed.filter((i) => !members.includes(i));
  }
  found.sort((a, b) => a.at - b.at);
  const list = found.map(({ at, members }) =>
    ({ together: [Math.max(...members.map((i) => openAt(i, at)[0])), at], members }));
  if (free.length) {
    if (list.length) list[0].members = [...free, ...list[0].members];
    else list.push({ together: null, members: free });
  }
  return list;
}
