// Chance of a contact from two margins: the same integrals as the library's, node for node.
const ratio = (db) => 10 ** (db / 10), decibels = (value) => 10 * Math.log10(value);

// Complementary error function: series near zero, continued fraction in the tail.
function erfc(x) {
  if (x < 0) return 2 - erfc(-x);
  if (x < 2.5) {
    let term = x, sum = x;
    for (let n = 1; n < 80; n++) { term *= -x * x / n; sum += term / (2 * n + 1); }
    return 1 - 2 / Math.sqrt(Math.PI) * sum;
  }
  let fraction = 0;
  for (let n = 60; n > 0; n--) fraction = n / 2 / (x + fraction);
  return Math.exp(-x * x) / Math.sqrt(Math.PI) / (x + fraction);
}
const below = (deviate) => 0.5 * erfc(-deviate * Math.SQRT1_2);

// Loss above its median through the time, and the share of the time: [[dB, share], ...].
function timeSpread(deviates, losses, median, nodes) {
  if (deviates.length < 2) return [[0, 1]];
  let highest = -Infinity;
  const level = losses.map((loss) => (highest = Math.max(highest, loss)));
  const edges = [-6, ...deviates.slice(1, -1), 6], spread = [];
  for (let i = 0; i + 1 < deviates.length; i++) {
    const half = (edges[i + 1] - edges[i]) / 2;
    const slope = (level[i + 1] - level[i]) / (deviates[i + 1] - deviates[i]);
    for (const [node, weight] of nodes) {
      const at = edges[i] + half * (1 + node);
      spread.push([level[i] - level[median] + slope * (at - deviates[i]), half * weight * Math.exp(-at * at / 2)]);
    }
  }
  const whole = spread.reduce((sum, [, weight]) => sum + weight, 0);
  return spread.map(([loss, weight]) => [loss, weight / whole]);
}

// Chances of each direction and of both; a direction that is not worked has a margin of null.
function chances(out, back, spread, time, angles) {
  const size = { out: Math.max(spread.out, 1e-3), back: Math.max(spread.back, 1e-3) };
  const clip = (value) => Math.min(37, Math.max(-37, value));
  const correlation = Math.min(spread.shared ** 2 / (size.out * size.back), 1), end = Math.asin(correlation);
  let one = 0, other = 0, both = 0;
  for (const [loss, weight] of time) {
    const h = clip(((out === null ? back : out) - loss) / size.out);
    const k = clip(((back === null ? out : back) - loss) / size.back);
    const first = below(h), last = below(k);
    let joint = first * last;
    if (correlation > 0) {
      let sum = 0;
      for (const [node, w] of angles) {
        const angle = end / 2 * (1 + node);
        sum += w * Math.exp((h * h + k * k - 2 * h * k * Math.sin(angle)) / (-2 * Math.cos(angle) ** 2));
      }
      joint += sum * end / 2 / (2 * Math.PI);
    }
    one += weight * first; other += weight * last; both += weight * joint;
  }
  both = Math.min(Math.max(both, 0), one, other);
  return { out: one, back: other, pair: out === null ? other : back === null ? one : both };
}

// Word and the chance it stands on.
function verdictOf(readable, comfortable, maySolid, limits) {
  if (comfortable >= limits.solid && maySolid) return { word: "solid", chance: readable };
  const word = readable >= limits.workable ? "workable" : readable >= limits.marginal ? "marginal" : "unlikely";
  return { word, chance: readable };
}
function oddsText(chance) {
  if (chance < 0.05) return "below 1 in 20";
  if (chance >= 0.95) return "over 19 in 20";
  const tenths = Math.min(9, Math.max(1, Math.round(chance * 10)));
  const short = (tenths === 3 && chance < 0.3) || (tenths === 7 && chance < 0.7);
  return (short ? "nearly " : "") + tenths + " in 10";
}

// One verdict, or both where the methods part: as words, as odds, and as all of it in a sentence.
function bothVerdicts({ verdict, second, apart }) {
  const about = (chance) => oddsText(chance).replace(/^(?=[0-9])/, "about ");
  const either = (say) => [...new Set([verdict, second].filter(Boolean).map(say))].join(" or ");
  const word = either((each) => each.word), odds = either((each) => about(each.chance));
  if (!second) return { word, parted: "", text: `${word}, ${odds}` };
  const by = `methods part by ${apart.toFixed(0)} dB`, other = oddsText(second.chance);
  return {
    word, parted: `${other === oddsText(verdict.chance) ? "odds alike" : `or ${other}`}: ${by}`,
    text: `${word}: ${odds} (${by})`,
  };
}

// What the listener makes of a level and a signal-to-noise ratio.
function expectation(setting, level, snr) {
  if (!setting.fm) {
    if (level > -93) { const over = 5 * Math.round((level + 93) / 5); return over ? "S9+" + over : "S9"; }
    const units = Math.floor(9 + (level + 93) / 6 + 0.5);
    return units >= 1 ? "S" + units : "below S1";
  }
  if (setting.voice) {
    if (snr < setting.readable) return "too weak";
    if (snr < setting.comfortable) return "noisy";
    return snr < setting.comfortable + 10 ? "readable" : "quiet";
  }
  return snr >= setting.comfortable ? "good" : snr >= setting.readable ? "just" : "too weak";
}

// Noise at the own receiver input less that of the plan.
function moreNoise(setting, extra, line) {
  if (setting.noise !== "outside") return extra;
  const cascade = (outside, loss) =>
    decibels((ratio(outside) + ratio(loss) * ratio(setting.figure) - 1) / ratio(loss));
  return cascade(setting.outside + extra, line) - cascade(setting.outside, setting.line);
}

// The row of figures at a height: stored ones as they are, between two of them in proportion.
function atHeight(rows, height) {
  const inside = Math.min(Math.max(height, rows[0][0]), rows[rows.length - 1][0]);
  let i = 0;
  while (i + 2 < rows.length && rows[i + 1][0] <= inside) i++;
  if (rows.length === 1) return rows[0];
  const share = (inside - rows[i][0]) / (rows[i + 1][0] - rows[i][0]);
  const mix = (a, b) => (a === null || b === null ? a : Array.isArray(a) ? a.map((v, j) => mix(v, b[j]))
    : a + (b - a) * share);
  if (share === 0) return rows[i];
  return share === 1 ? rows[i + 1] : rows[i].map((value, j) => mix(value, rows[i + 1][j]));
}

// One contact with what was changed: margins, chance, verdict, expectations.
function recalculated(call, changed, figures) {
  const setting = call.settings.find((each) => each.mode === changed.mode) || call.settings[0];
  const row = atHeight(setting.heights, changed.mast === null || setting.handheld ? setting.height : changed.mast);
  const [, out, back, parting, vertical, horizontal, losses] = row;
  const turned = changed.polarization && changed.polarization !== setting.polarization
    ? (changed.polarization === "vertical" ? vertical : horizontal) : 0;
  const line = changed.line === null ? setting.line : changed.line;
  const both = setting.line - line - turned;
  const power = changed.power === null ? 0 : decibels(changed.power / setting.power);
  const noise = moreNoise(setting, changed.noise, line);
  const outMargin = out === null ? null : out + both + power;
  const backMargin = back === null ? null : back + both - noise;
  const less = setting.comfortable - setting.readable;
  const time = timeSpread(setting.deviates, losses, setting.median, figures.time);
  const lower = (margin, db) => (margin === null ? null : margin - db);
  const found = (db) => chances(lower(outMargin, db), lower(backMargin, db), setting, time, figures.angle);
  const readable = found(0), comfortable = found(less);
  const second = parting !== null && Math.abs(parting) > figures.limits.parting
    ? verdictOf(found(parting).pair, found(less + parting).pair, true, figures.limits) : null;
  const maySolid = second === null || second.word === "solid";
  const verdict = verdictOf(readable.pair, comfortable.pair, maySolid, figures.limits);
  const level = (margin, floor) => margin + setting.readable + floor;
  const yourNoise = setting.yourNoise + noise;
  return {
    setting, verdict, second, apart: Math.abs(parting), chance: readable.pair, out: outMargin, back: backMargin, less,
    polarization: changed.polarization || setting.polarization,
    outLevel: out === null ? null : level(outMargin, setting.theirNoise), outNoise: setting.theirNoise,
    backLevel: back === null ? null : level(backMargin, yourNoise), backNoise: yourNoise,
    they: out === null ? "–"
      : expectation(setting, level(outMargin, setting.theirNoise), outMargin + setting.readable),
    you: back === null ? "–" : expectation(setting, level(backMargin, yourNoise), backMargin + setting.readable),
  };
}
