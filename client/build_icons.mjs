/**
 * The project's own mark, an hourglass made fast on a cleat, as PNG and SVG.
 *
 * PNG by the W3C recommendation (third edition): signature, IHDR, one IDAT with unfiltered rows, IEND.
 */
import { crc32, deflateSync } from "node:zlib";

const GROUND = [16, 56, 127];
const SIGN = [255, 254, 251];
const CORNER = 0.18;
const SAMPLES = 4;
const MASKED_SCALE = 0.74;

/** The sign in a unit square, as polygons. */
const SHAPES = [
  [
    [0.27, 0.14],
    [0.73, 0.14],
    [0.53, 0.4],
    [0.73, 0.66],
    [0.27, 0.66],
    [0.47, 0.4],
  ],
  [
    [0.14, 0.66],
    [0.22, 0.66],
    [0.26, 0.74],
    [0.74, 0.74],
    [0.78, 0.66],
    [0.86, 0.66],
    [0.8, 0.84],
    [0.2, 0.84],
  ],
];

/** Say whether a point lies in a polygon: an odd number of its edges crosses the ray to the right. */
function isIn(polygon, x, y) {
  let inside = false;
  for (let i = 0, j = polygon.length - 1; i < polygon.length; j = i++) {
    const [xi, yi] = polygon[i];
    const [xj, yj] = polygon[j];
    if (yi > y !== yj > y && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi) inside = !inside;
  }
  return inside;
}

/** Say whether a point lies in the unit square with rounded corners. */
function isOnGround(x, y) {
  const dx = Math.max(CORNER - x, x - (1 - CORNER), 0);
  const dy = Math.max(CORNER - y, y - (1 - CORNER), 0);
  return dx * dx + dy * dy <= CORNER * CORNER;
}

/** Colour and cover of one pixel, from a grid of samples in it. */
function pixel(px, py, size, maskable) {
  const sums = [0, 0, 0, 0];
  for (let n = 0; n < SAMPLES * SAMPLES; n++) {
    const x = (px + ((n % SAMPLES) + 0.5) / SAMPLES) / size;
    const y = (py + (Math.floor(n / SAMPLES) + 0.5) / SAMPLES) / size;
    if (!maskable && !isOnGround(x, y)) continue;
    const scale = maskable ? MASKED_SCALE : 1;
    const [u, v] = [(x - 0.5) / scale + 0.5, (y - 0.5) / scale + 0.5];
    const colour = SHAPES.some((shape) => isIn(shape, u, v)) ? SIGN : GROUND;
    for (let c = 0; c < 3; c++) sums[c] += colour[c];
    sums[3] += 1;
  }
  const covered = sums[3] || 1;
  const alpha = (255 * sums[3]) / (SAMPLES * SAMPLES);
  return [...sums.slice(0, 3).map((sum) => sum / covered), alpha].map(Math.round);
}

function chunk(name, data) {
  const body = Buffer.concat([Buffer.from(name, "latin1"), data]);
  const framed = Buffer.alloc(body.length + 8);
  framed.writeUInt32BE(data.length, 0);
  body.copy(framed, 4);
  framed.writeUInt32BE(crc32(body), body.length + 4);
  return framed;
}

/** The mark as a square PNG; a maskable one has no corners of its own and keeps to the safe middle. */
export function png(size, maskable = false) {
  const rows = Buffer.alloc(size * (size * 4 + 1));
  for (let y = 0; y < size; y++) {
    for (let x = 0; x < size; x++) {
      rows.set(pixel(x, y, size, maskable), y * (size * 4 + 1) + 1 + x * 4);
    }
  }
  const head = Buffer.alloc(13);
  head.writeUInt32BE(size, 0);
  head.writeUInt32BE(size, 4);
  head.set([8, 6, 0, 0, 0], 8);
  const signature = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
  const data = chunk("IDAT", deflateSync(rows, { level: 9 }));
  return Buffer.concat([signature, chunk("IHDR", head), data, chunk("IEND", Buffer.alloc(0))]);
}

/** The mark as SVG. */
export function svg() {
  const colour = (rgb) => `rgb(${rgb.join(",")})`;
  const shapes = SHAPES.map(
    (shape) => `<polygon points="${shape.map((point) => point.join(",")).join(" ")}"/>`,
  );
  const ground = `<rect width="1" height="1" rx="${CORNER}" fill="${colour(GROUND)}"/>`;
  const sign = `<g fill="${colour(SIGN)}">${shapes.join("")}</g>`;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1">${ground}${sign}</svg>\n`;
}
