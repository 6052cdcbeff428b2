// The page: reads the fields, rewrites the rows, follows the finger on a profile.
const figures = JSON.parse(document.getElementById("figures").textContent);
const all = (selector, within = document) => [...within.querySelectorAll(selector)];
const byId = (id) => document.getElementById(id);
const three = (azimuth) => String(Math.round(azimuth) % 360).padStart(3, "0");
const magnetic = (azimuth) => circle(azimuth - figures.site.declination);
const write = (root, name, text) => all(`[data-is="${name}"]`, root).forEach((cell) => { cell.textContent = text; });
const rows = new Map(all("tr.call").map((row) => [Number(row.dataset.key), row]));
const paths = new Map(all(".path").map((path) => [Number(path.dataset.path), path]));
const minus = (text) => text.replace("-", "\u2212");
const plus = (value) => (value < 0 ? "" : "+") + value.toFixed(1);
const plannedRead = all("[data-read]").map((cell) => cell.textContent), plannedLabel = byId("read-label").textContent;
// A fix farther off is a slip of the finger: its position must never be the one that is read out.
const FAR_M = 50000;
const plannedKeep = byId("keep").textContent, plannedPowers = byId("powers").textContent;
const homes = [byId("calls"), byId("more")].filter(Boolean).map((body) => [body, all("tr.call", body).length]);

function number(id, low, high) {
  const field = byId(id), text = field.value.trim().replace(",", ".").replace("\u2212", "-"), value = Number(text);
  const wrong = text !== "" && !(value >= low && value <= high);
  field.setAttribute("aria-invalid", String(wrong));
  return text === "" || wrong ? null : value;
}

function apply() {
  const field = byId("fix"), typed = field.value.trim(), read = typed ? readPlace(typed) : null;
  const fix = read && fromPlan(...read) <= FAR_M ? read : null;
  field.setAttribute("aria-invalid", String(Boolean(typed) && !fix));
  const heights = figures.calls[0].settings[0].heights.map((row) => row[0]);
  const changed = {
    power: number("power", 0.001, 10000), line: number("line", 0, 60), noise: number("noise", -60, 60) || 0,
    mast: number("mast", heights[0], heights[heights.length - 1]),
    polarization: byId("polarization").value, mode: byId("mode").value,
  };
  const asPlanned = changed.power === null && changed.line === null && !changed.noise && changed.mast === null
    && !changed.polarization && !changed.mode;
  const here = fix || [figures.site.latitude, figures.site.longitude];
  const now = figures.calls.map((call) => {
    const leg = (fix && inverse(here[0], here[1], call.latitude, call.longitude)) || call;
    const found = recalculated(call, changed, figures);
    if (call.area && asPlanned) {
      found.chance = call.area.chance;
      found.verdict = { word: call.area.word, chance: call.area.chance };
      found.second = call.area.second;
      found.apart = call.area.apart;
    }
    return { ...call, ...found, asPlanned, better: call.area ? "" : better(call, found, changed), azimuth: leg.azimuth, distance: leg.distance };
  });
  const order = byId("order").value;
  now.forEach(writeCall);
  const placed = callOrder(now, order, figures.limits);
  reorder(now, placed, order);
  aim(now, here, fix);
  keepAway(changed);
  tell(read, fix, typed, changed, order, now);
}

// Metres from the planned spot; places at or nearly opposite one another have no geodesic of their own.
function fromPlan(latitude, longitude) {
  const { latitude: north, longitude: east } = figures.site, leg = inverse(latitude, longitude, north, east);
  return leg ? leg.distance : Math.abs(latitude - north) + Math.abs(longitude - east) < 1 ? 0 : 2e7;
}

// Voice or Morse that is a verdict better than what is shown.
function better(call, found, changed) {
  if (found.verdict.word === "solid") return "";
  const others = call.settings
    .filter((each) => each !== found.setting && ["fm", "fm-narrow", "ssb", "morse"].includes(each.mode)
      && each.polarization === found.setting.polarization)
    .map((each) => recalculated(call, { ...changed, mode: each.mode }, figures))
    .filter((each) => each.verdict.word !== found.verdict.word && each.chance > found.chance);
  if (!others.length) return "";
  const best = others.reduce((one, other) => (other.chance > one.chance ? other : one));
  return `; ${best.setting.label}: ${oddsText(best.verdict.chance)}`;
}

function writeCall(call) {
  const row = rows.get(call.key), path = paths.get(call.key), odds = oddsText(call.verdict.chance), both = bothVerdicts(call);
  write(row, "magnetic", three(magnetic(call.azimuth)));
  write(row, "true", three(call.azimuth));
  write(row, "within", call.setting.within === null ? "all round" : `±${call.setting.within.toFixed(0)}°`);
  // Recalculated are the figures of one point, and an area is more than that: it is said.
  write(row, "odds", call.area && call.asPlanned ? call.area.odds : odds);
  write(row, "parted", both.parted);
  write(row, "word", both.word + (call.area && !call.asPlanned ? ", at its typical point" : ""));
  write(row, "better", call.better);
  write(row, "mode", call.setting.label);
  if (call.frequencies) write(row, "frequency", call.frequencies[call.setting.mode]);
  write(row, "polarization", call.polarization);
  write(row, "you", call.you);
  write(row, "they", call.they);
  const strokes = Math.min(10, Math.max(0, Math.floor(call.verdict.chance * 10 + 0.5)));
  all(".strokes rect", row).forEach((stroke, i) => stroke.setAttribute("class", i < strokes ? "full" : "bare"));
  row.dataset.chance = call.chance;
  row.dataset.azimuth = call.azimuth;
  row.dataset.distance = call.distance;
  write(path, "verdict", both.text);
  for (const [way, margin, level, floor] of [["out", call.out, call.outLevel, call.outNoise],
    ["back", call.back, call.backLevel, call.backNoise]]) {
    if (margin === null) continue;
    write(path, `${way}-margin`, `${minus(plus(margin))} dB`);
    write(path, `${way}-comfortable_margin`, `${minus(plus(margin - call.less))} dB`);
    write(path, `${way}-level`, `${minus(level.toFixed(1))} dBm`);
    write(path, `${way}-noise`, `${minus(floor.toFixed(1))} dBm`);
  }
}

function clock(minutes) {
  const day = ((minutes % 1440) + 1440) % 1440;
  return `${String(Math.floor(day / 60)).padStart(2, "0")}:${String(day % 60).padStart(2, "0")}`;
}

function roundWords({ together, turning }) {
  let text = "";
  if (together) {
    const span = (shift) => together.map((at) => clock(at + shift).replace(/:00$/, "")).join("–");
    text += ` · those with stated hours listen ${span(0)} local = ${span(figures.offset)} UTC`;
  }
  return text + (turning ? ` · beam turns ${turning}` : "");
}

function reorder(now, placed, order) {
  const lines = [];
  let before = null;
  for (const place of placed) {
    const call = now[place.index], name = call.polarization.toUpperCase();
    let heading = "", turn = false;
    if (order === "sweep") {
      turn = !before || before.polarization !== call.polarization;
      if (turn) heading = (before ? `Lower the mast, turn to ${name}` : `${name} first`) + roundWords(place);
      else if (place.part === "hard" && before.part !== "hard") heading = "The hard ones";
      else if (place.part === "sweep" && (before.part !== "sweep" || before.sweep !== place.sweep)) {
        heading = roundWords(place).slice(3);
      }
    }
    lines.push([heading.slice(0, 1).toUpperCase() + heading.slice(1), turn, call.key]);
    rows.get(call.key).querySelector(".prove").hidden = place.part !== "prove";
    before = { ...place, polarization: call.polarization };
  }
  const typing = document.activeElement;
  for (const [body, count] of homes) {
    body.replaceChildren(...lines.splice(0, count).flatMap(([heading, turn, key]) => {
      if (!heading) return [rows.get(key)];
      const row = document.createElement("tr"), cell = document.createElement("th");
      row.className = turn ? "group turn" : "group"; cell.colSpan = 7; cell.scope = "colgroup"; cell.textContent = heading;
      row.append(cell);
      return [row, rows.get(key)];
    }));
  }
  if (typing && typing !== document.activeElement && typing.isConnected) typing.focus();
  placed.forEach(({ index }, place) => all(`[data-no="${now[index].key}"]`).forEach((cell) => {
    cell.textContent = place + 1;
  }));
  byId("paths").append(...placed.map(({ index }) => paths.get(now[index].key)));
  const first = now[placed[0].index], row = rows.get(first.key);
  const say = (name, text) => all(`[data-first="${name}"]`).forEach((cell) => { cell.textContent = text; });
  say("number", 1);
  say("name", first.name);
  say("set", `${row.querySelector(".set b").textContent} ${first.setting.label}`);
  say("expect", first.back === null ? first.they : first.you);
  say("aim", `${three(magnetic(first.azimuth))} magnetic`);
  say("polarization", first.polarization);
}

function aim(now, here, fix) {
  const azimuths = new Map(now.map((call) => [call.key, call.azimuth]));
  figures.beams.forEach((beam, i) => {
    let azimuth = beam.azimuth;
    if (fix) {
      const off = beam.keys.map((key) => circle(azimuths.get(key) - beam.azimuth + 180) - 180);
      azimuth = circle(beam.azimuth + (Math.min(...off) + Math.max(...off)) / 2);
    }
    const row = document.querySelector(`[data-beam="${i}"]`);
    write(row, "magnetic", three(magnetic(azimuth)));
    write(row, "true", three(azimuth));
    all(`[data-arc="${i}"]`).forEach((part) => part.setAttribute("transform", `rotate(${azimuth.toFixed(2)})`));
    const letter = document.querySelector(`[data-letter="${i}"]`);
    letter.setAttribute("x", (letter.dataset.out * Math.sin(rad(azimuth))).toFixed(1));
    letter.setAttribute("y", (-letter.dataset.out * Math.cos(rad(azimuth))).toFixed(1));
  });
  figures.landmarks.forEach((mark, i) => {
    const leg = inverse(here[0], here[1], mark.latitude, mark.longitude);
    const row = document.querySelector(`[data-landmark="${i}"]`);
    if (!leg) return;
    write(row, "magnetic", three(magnetic(leg.azimuth)));
    write(row, "true", three(leg.azimuth));
    write(row, "distance", short(leg.distance));
  });
}

// Distance to keep people away: as the square root of what is radiated, rounded up to a tenth of a metre.
function keepAway(changed) {
  const asPlanned = changed.power === null && changed.line === null;
  const metres = figures.keeps.map(({ power, line, keep }) => {
    const louder = (changed.power === null ? 1 : changed.power / power)
      * ratio(changed.line === null ? 0 : line - changed.line);
    return keep * Math.sqrt(louder);
  });
  const most = metres.length ? Math.ceil(Math.max(...metres) * 10 - 1e-9) / 10 : null;
  byId("keep").textContent = asPlanned || most === null ? plannedKeep
    : `Keep ${most.toFixed(1)} m from the antenna with what you typed: it covers every mode.`;
  byId("powers").textContent = changed.power === null ? plannedPowers : `${changed.power} W`;
}

function short(metres) {
  return metres < 1000 ? `${metres.toFixed(0)} m` : `${(metres / 1000).toFixed(metres < 100000 ? 1 : 0)} km`;
}

function tell(read, fix, typed, changed, order, now) {
  const said = [];
  const shown = fix ? [writeMinutes(...fix), locator(...fix, 8)] : plannedRead;
  all("[data-read]").forEach((cell) => { cell.textContent = shown[Number(cell.dataset.read)]; });
  byId("read-label").textContent = plannedLabel.replace("planned spot", fix ? "your fix" : "planned spot");
  if (typed && !read) said.push("That fix cannot be read: type 46.2057 -21.3126, 46°12.34'N 21°18.76'W, a locator, UTM or MGRS.");
  if (read && !fix) {
    const swapped = Math.abs(read[1]) <= 90 ? fromPlan(read[1], read[0]) : Infinity;
    said.push(`That fix is ${short(fromPlan(...read))} from the planned spot, more than ${FAR_M / 1000} km: it is not taken; `
      + "the position to read out and all azimuths are still those of the planned spot."
      + (swapped <= FAR_M ? ` Swapped it would be ${short(swapped)} from the planned spot: latitude comes first.` : ""));
  }
  if (fix) {
    const metres = fromPlan(...fix);
    if (metres > figures.site.cell) {
      said.push(`You are ${short(metres)} from the planned spot: azimuths updated, strengths are still for the planned spot.`
        + (metres > 5000 ? " That is far: check the fix." : ""));
    } else said.push(`You are at the planned spot (${metres.toFixed(0)} m off): azimuths updated.`);
  }
  const parts = [];
  if (changed.power !== null) parts.push(`${changed.power} W`);
  if (changed.line !== null) parts.push(`feedline ${changed.line} dB`);
  if (changed.noise) parts.push(`${minus(plus(changed.noise))} dB noise`);
  if (changed.mast !== null) {
    const held = now.some((call) => call.setting.handheld);
    parts.push(`mast ${changed.mast} m${held ? " (a handheld keeps its height)" : ""}`);
  }
  if (changed.polarization) parts.push(changed.polarization);
  if (changed.mode) {
    const without = now.filter((call) => call.setting.mode !== changed.mode).length;
    const label = byId("mode").selectedOptions[0].textContent;
    parts.push(label + (without ? ` where both have it (${without} have not)` : ""));
  }
  if (parts.length) said.push(`Recalculated with ${parts.join(", ")}; the plan stands in the grey of the fields.`);
  for (const field of all('#live [aria-invalid="true"]')) {
    if (field.id !== "fix") said.push(`${field.parentNode.firstChild.textContent.trim()}: not understood, the plan is kept.`);
  }
  byId("altered").hidden = said.length === 0;
  byId("altered").textContent = said.join(" ");
  if (parts.length || order !== figures.order) document.body.classList.add("changed");
  else document.body.classList.remove("changed");
}

function follow(drawing) {
  const profile = figures.profiles[drawing.dataset.profile], finger = drawing.querySelector(".finger");
  const output = document.querySelector(`[data-readout="${drawing.dataset.profile}"]`);
  const whole = profile.d[profile.d.length - 1];
  let at = profile.at;
  const show = (index) => {
    at = Math.min(profile.d.length - 1, Math.max(0, index));
    const x = (14 + 452 * profile.d[at] / whole).toFixed(1), clearance = profile.c[at];
    finger.setAttribute("d", `M${x} 0V146`);
    finger.setAttribute("visibility", "visible");
    output.textContent = `${(profile.d[at] / 1000).toFixed(1)} km: ground ${minus(String(profile.g[at]))} m, `
      + `${Math.abs(clearance)} m ${clearance >= 0 ? "below" : "above"} the line`;
  };
  const point = (event) => {
    const box = drawing.getBoundingClientRect();
    const wanted = ((event.clientX - box.left) / box.width * 480 - 14) / 452 * whole;
    let index = 0;
    profile.d.forEach((d, i) => { if (Math.abs(d - wanted) < Math.abs(profile.d[index] - wanted)) index = i; });
    show(index);
  };
  drawing.addEventListener("pointerdown", point);
  drawing.addEventListener("pointermove", (event) => { if (event.pointerType === "mouse" || event.buttons) point(event); });
  drawing.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, PageDown: -20, PageUp: 20 }[event.key];
    if (step) { event.preventDefault(); show(at + step); }
  });
}

// Notes are kept by the browser where it allows that; it is said where it does not.
function keepNotes() {
  const name = `pathprofile sheet ${document.title}`;
  let kept = {};
  try {
    kept = JSON.parse(localStorage.getItem(name) || "{}");
    localStorage.setItem(name, JSON.stringify(kept));
    byId("kept").textContent = "What you type under Heard stays in this browser.";
  } catch {
    byId("kept").textContent = "This browser keeps nothing: what you type is gone when the page closes.";
  }
  for (const field of all("[data-log]")) {
    const call = figures.calls.find((each) => each.key === Number(field.dataset.log)).name;
    if (typeof kept[call] === "string") field.value = kept[call];
    field.addEventListener("input", () => {
      kept[call] = field.value;
      try { localStorage.setItem(name, JSON.stringify(kept)); } catch { /* said above */ }
    });
  }
}

byId("live").hidden = false;
for (const field of all("#live input, #live select")) field.addEventListener("input", apply);
byId("planned").addEventListener("click", () => {
  for (const field of all("#live input")) field.value = "";
  for (const id of ["polarization", "mode"]) byId(id).value = "";
  byId("order").value = figures.order;
  apply();
});
all(".profile").forEach(follow);
keepNotes();
