// Places and directions on WGS 84. T. Vincenty, Survey Review 23 (176), 1975; Krüger's series for the grid.
const WGS_A = 6378137, WGS_F = 1 / 298.257223563, WGS_B = WGS_A * (1 - WGS_F);
const rad = (degrees) => degrees * Math.PI / 180, deg = (radians) => radians * 180 / Math.PI;
const circle = (degrees) => ((degrees % 360) + 360) % 360;

// Distance [m] and azimuth [degrees true]; null for one and the same place, or one nearly opposite.
function inverse(latitude1, longitude1, latitude2, longitude2) {
  const u1 = Math.atan((1 - WGS_F) * Math.tan(rad(latitude1)));
  const u2 = Math.atan((1 - WGS_F) * Math.tan(rad(latitude2)));
  const whole = rad(circle(longitude2 - longitude1 + 180) - 180);
  const s1 = Math.sin(u1), c1 = Math.cos(u1), s2 = Math.sin(u2), c2 = Math.cos(u2);
  let lambda = whole, sinSigma, cosSigma, sigma, cos2, middle;
  for (let i = 0; ; i++) {
    if (i === 100) return null;
    const sl = Math.sin(lambda), cl = Math.cos(lambda);
    sinSigma = Math.hypot(c2 * sl, c1 * s2 - s1 * c2 * cl);
    if (sinSigma === 0) return null;
    cosSigma = s1 * s2 + c1 * c2 * cl;
    sigma = Math.atan2(sinSigma, cosSigma);
    const sinAlpha = c1 * c2 * sl / sinSigma;
    cos2 = 1 - sinAlpha * sinAlpha;
    middle = cos2 === 0 ? 0 : cosSigma - 2 * s1 * s2 / cos2;
    const c = WGS_F / 16 * cos2 * (4 + WGS_F * (4 - 3 * cos2));
    const before = lambda;
    lambda = whole + (1 - c) * WGS_F * sinAlpha
      * (sigma + c * sinSigma * (middle + c * cosSigma * (2 * middle * middle - 1)));
    if (Math.abs(lambda - before) < 1e-12) break;
  }
  const k = cos2 * (WGS_A * WGS_A - WGS_B * WGS_B) / (WGS_B * WGS_B);
  const a = 1 + k / 16384 * (4096 + k * (-768 + k * (320 - 175 * k)));
  const b = k / 1024 * (256 + k * (-128 + k * (74 - 47 * k)));
  const more = b * sinSigma * (middle + b / 4 * (cosSigma * (2 * middle * middle - 1)
    - b / 6 * middle * (4 * sinSigma * sinSigma - 3) * (4 * middle * middle - 3)));
  const azimuth = Math.atan2(c2 * Math.sin(lambda), c1 * s2 - s1 * c2 * Math.cos(lambda));
  return { distance: WGS_B * a * (sigma - more), azimuth: circle(deg(azimuth)) };
}

function fromUtm(zone, northern, easting, northing) {
  const n = WGS_F / (2 - WGS_F), n2 = n * n, n3 = n2 * n;
  const radius = WGS_A / (1 + n) * (1 + n2 / 4 + n2 * n2 / 64);
  const beta = [n / 2 - 2 * n2 / 3 + 37 * n3 / 96, n2 / 48 + n3 / 15, 17 * n3 / 480];
  const delta = [2 * n - 2 * n2 / 3 - 2 * n3, 7 * n2 / 3 - 8 * n3 / 5, 56 * n3 / 15];
  const xi = (northing - (northern ? 0 : 10000000)) / (0.9996 * radius);
  const eta = (easting - 500000) / (0.9996 * radius);
  let x = xi, e = eta;
  beta.forEach((value, i) => {
    const j = 2 * (i + 1);
    x -= value * Math.sin(j * xi) * Math.cosh(j * eta);
    e -= value * Math.cos(j * xi) * Math.sinh(j * eta);
  });
  const chi = Math.asin(Math.sin(x) / Math.cosh(e));
  let latitude = chi;
  delta.forEach((value, i) => { latitude += value * Math.sin(2 * (i + 1) * chi); });
  return [deg(latitude), zone * 6 - 183 + deg(Math.atan2(Math.sinh(e), Math.cos(x)))];
}

// Centre of a square of the military grid; the row letters repeat every 2000 km, the band tells which.
function fromMgrs(zone, band, column, row, digits) {
  const columns = ["STUVWXYZ", "ABCDEFGH", "JKLMNPQR"][zone % 3], rows = "ABCDEFGHJKLMNPQRSTUV";
  const bands = "CDEFGHJKLMNPQRSTUVWX", at = bands.indexOf(band);
  const half = digits.length / 2, step = 10 ** (5 - half);
  const east = columns.indexOf(column), north = rows.indexOf(row);
  if (at < 0 || east < 0 || north < 0) return null;
  const easting = (east + 1) * 100000 + (half ? Number(digits.slice(0, half)) : 0) * step + step / 2;
  const within = ((north - (zone % 2 ? 0 : 5) + 20) % 20) * 100000
    + (half ? Number(digits.slice(half)) : 0) * step + step / 2;
  const south = -80 + 8 * at, north84 = band === "X" ? 84 : south + 8;
  for (let turn = 0; turn < 5; turn++) {
    const place = fromUtm(zone, at >= 10, easting, within + turn * 2000000);
    if (place[0] > south - 1 && place[0] < north84 + 1) return place;
  }
  return null;
}

// Half the sum of a locator's bounds: the centre of its cell.
function fromLocator(text) {
  let east = 0, north = 0, width = 360, height = 180;
  [18, 10, 24, 10, 24].slice(0, text.length / 2).forEach((cells, i) => {
    const value = (c) => (cells === 10 ? Number(c) : c.charCodeAt(0) - 65);
    width /= cells; height /= cells;
    east += value(text[2 * i]) * width; north += value(text[2 * i + 1]) * height;
  });
  return [north + height / 2 - 90, east + width / 2 - 180];
}

function locator(latitude, longitude, length) {
  let east = longitude + 180 + 1e-9, north = latitude + 90 + 1e-9, width = 360, height = 180, text = "";
  [18, 10, 24, 10, 24].slice(0, length / 2).forEach((cells, i) => {
    width /= cells; height /= cells;
    for (const [value, size] of [[east, width], [north, height]]) {
      const index = Math.min(cells - 1, Math.floor(value / size));
      text += cells === 10 ? index : String.fromCharCode((i === 2 ? 97 : 65) + index);
    }
    east -= Math.floor(east / width) * width; north -= Math.floor(north / height) * height;
  });
  return text;
}

// Decimal degrees, degrees and minutes, or with seconds; hemisphere letters or signs; latitude first.
function fromDegrees(text) {
  const letters = text.match(/[NSEWO]/g) || [];
  let halves;
  if (letters.length === 2) {
    const cut = /^[NSEWO]/.test(text) ? text.slice(1).search(/[NSEWO]/) + 1 : text.search(/[NSEWO]/) + 1;
    halves = [text.slice(0, cut), text.slice(cut)];
  } else if (letters.length === 0) {
    const numbers = text.match(/[+-]?\d+(?:\.\d+)?/g) || [];
    if (![2, 4, 6].includes(numbers.length)) return null;
    halves = [numbers.slice(0, numbers.length / 2).join(" "), numbers.slice(numbers.length / 2).join(" ")];
  } else return null;
  const read = halves.map((half) => {
    const numbers = (half.match(/\d+(?:\.\d+)?/g) || []).map(Number);
    if (numbers.length < 1 || numbers.length > 3 || numbers.slice(1).some((n) => n >= 60)) return NaN;
    const size = numbers.reduceRight((rest, n) => n + rest / 60, 0);
    return /-|[SW]/.test(half) ? -size : size;
  });
  if (letters.length && /[EWO]/.test(halves[0])) read.reverse();
  if (letters.length && /[NS]/.test(halves[0]) === /[NS]/.test(halves[1])) return null;
  return read;
}

// [latitude, longitude] of what was typed, null where it is no place.
function readPlace(typed) {
  let text = typed.normalize("NFKC").toUpperCase()
    .replace(/[\u2010-\u2015\u2212\ufe63\uff0d]/g, "-").replace(/[\u200b-\u200f\u2060\ufeff]/g, "").trim();
  const tight = text.replace(/\s+/g, "");
  if (/^[A-R]{2}\d{2}([A-X]{2}(\d{2}([A-X]{2})?)?)?$/.test(tight)) return fromLocator(tight);
  const square = /^(\d{1,2})([C-X])([A-Z])([A-V])((?:\d\d){0,5})$/.exec(tight);
  if (square && square[1] >= 1 && square[1] <= 60) {
    return fromMgrs(Number(square[1]), square[2], square[3], square[4], square[5]);
  }
  const grid = /^(?:UTM )?(\d{1,2}) ?([C-HJ-NP-X]) (\d{5,7}(?:\.\d+)?)[ ,;]+(\d{1,8}(?:\.\d+)?)$/.exec(text);
  if (grid) return fromUtm(Number(grid[1]), grid[2] >= "N", Number(grid[3]), Number(grid[4]));
  const commas = /^([+-]?\d+),(\d+)[\s;]+([+-]?\d+),(\d+)$/.exec(text);
  if (commas) text = `${commas[1]}.${commas[2]} ${commas[3]}.${commas[4]}`;
  if (/[^\d\s.,;:+\-NSEWO°º'"′″’”‘“]/.test(text)) return null;
  const place = fromDegrees(text);
  return place && Math.abs(place[0]) <= 90 && Math.abs(place[1]) <= 180 ? place : null;
}

function writeMinutes(latitude, longitude) {
  const write = (value, letters) => {
    const hundredths = Math.round(Math.abs(value) * 6000);
    const minutes = (hundredths % 6000) / 100;
    return Math.floor(hundredths / 6000) + "°"
      + minutes.toFixed(2).padStart(5, "0") + "'" + letters[value < 0 ? 1 : 0];
  };
  return write(latitude, "NS") + " " + write(longitude, "EW");
}
