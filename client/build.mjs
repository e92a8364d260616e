/**
 * Builds the client into server/tackwatch/web: hashed files under assets/, the page, the service worker with the list of
 * files that it keeps, the manifest, the icons, and a packed twin of every text. Too many bytes at first load fail.
 */
import { createHash } from "node:crypto";
import {
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { basename, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import { build } from "esbuild";
import { png, svg } from "./build_icons.mjs";
import { firstWords } from "./build_words.mjs";

const BUDGET_B = 60_000;
const WORTH_PACKING_B = 500;
const TARGET = ["chrome100", "firefox100", "safari15.4"];

const home = dirname(fileURLToPath(import.meta.url));
const web = join(home, "..", "server", "tackwatch", "web");
const out = join(home, "build", `web-${process.pid}`);

const hashOf = (bytes) => createHash("sha256").update(bytes).digest("hex").slice(0, 10);
const packed = (bytes) => gzipSync(bytes, { level: 9 });

/**
 * Bundle the page; answers esbuild's account of what went where. The first round finds what the first load is made of,
 * the second leaves out the words that none of it says.
 */
async function bundlePage() {
  const languages = readdirSync(join(home, "src", "words"))
    .filter((name) => name.endsWith(".json"))
    .map((name) => basename(name, ".json"));
  const round = async (more) => {
    const { metafile } = await build({
      absWorkingDir: home,
      entryPoints: { app: "src/main.tsx" },
      outdir: join(out, "assets"),
      entryNames: "[name]-[hash]",
      chunkNames: "[name]-[hash]",
      bundle: true,
      splitting: true,
      format: "esm",
      target: TARGET,
      jsx: "automatic",
      jsxImportSource: "preact",
      minify: true,
      legalComments: "none",
      define: { LANGUAGES: JSON.stringify(languages) },
      metafile: true,
      logLevel: "warning",
      ...more,
    });
    return metafile.outputs;
  };
  const whole = await round({ write: false });
  const inputs = firstLoad(whole).scripts.flatMap((path) => Object.keys(whole[path].inputs));
  return round({ plugins: [firstWords(home, inputs)] });
}

/** The files of the first load: the entry, its style sheet, and all that they import at once. */
function firstLoad(outputs) {
  const [entry] = Object.entries(outputs).find(([, one]) => one.entryPoint === "src/main.tsx");
  const scripts = new Set();
  const visit = (path) => {
    if (scripts.has(path)) return;
    scripts.add(path);
    for (const { path: next, kind, external } of outputs[path].imports) {
      if (kind === "import-statement" && !external) visit(next);
    }
  };
  visit(entry);
  return { entry, scripts: [...scripts], style: outputs[entry].cssBundle };
}

const publicPath = (path) => `/assets/${basename(path)}`;

function checkBudget({ scripts }) {
  const sizes = scripts.map((path) => packed(readFileSync(join(home, path))).length);
  const total = sizes.reduce((sum, size) => sum + size, 0);
  console.log(
    `first load: ${total} B of script, packed, in ${scripts.length} files (at most ${BUDGET_B})`,
  );
  if (total > BUDGET_B) throw new Error(`The first load has ${total - BUDGET_B} B too many.`);
}

function writeIcons() {
  const icons = {};
  for (const [name, bytes] of [
    ["icon-192.png", png(192)],
    ["icon-512.png", png(512)],
    ["icon-maskable-512.png", png(512, true)],
    ["icon.svg", Buffer.from(svg())],
  ]) {
    const [stem, ending] = name.split(".");
    const hashed = `${stem}-${hashOf(bytes)}.${ending}`;
    writeFileSync(join(out, "assets", hashed), bytes);
    icons[name] = publicPath(hashed);
  }
  return icons;
}

function writeManifest(icons) {
  const icon = (name, sizes, type, purpose = "any") => ({ src: icons[name], sizes, type, purpose });
  const manifest = {
    id: "/",
    name: "Tackwatch",
    short_name: "Tackwatch",
    description: "Runs a haul-out refit from the crew's phones.",
    start_url: "/#/now",
    scope: "/",
    display: "standalone",
    background_color: "#fffefb",
    theme_color: "#10387f",
    icons: [
      icon("icon-192.png", "192x192", "image/png"),
      icon("icon-512.png", "512x512", "image/png"),
      icon("icon-maskable-512.png", "512x512", "image/png", "maskable"),
      icon("icon.svg", "any", "image/svg+xml"),
    ],
  };
  writeFileSync(join(out, "manifest.webmanifest"), JSON.stringify(manifest));
}

function writePage({ entry, scripts, style }, icons) {
  const rest = scripts.filter((path) => path !== entry);
  const tags = [
    ...(style ? [`<link rel="stylesheet" href="${publicPath(style)}">`] : []),
    ...rest.map((path) => `<link rel="modulepreload" href="${publicPath(path)}">`),
    `<link rel="manifest" href="/manifest.webmanifest">`,
    `<link rel="icon" href="${icons["icon.svg"]}" type="image/svg+xml">`,
    `<link rel="apple-touch-icon" href="${icons["icon-192.png"]}">`,
    `<script type="module" src="${publicPath(entry)}"></script>`,
  ];
  const page = readFileSync(join(home, "src", "index.html"), "utf8");
  writeFileSync(
    join(out, "index.html"),
    page.replace("</head>", `  ${tags.join("\n    ")}\n  </head>`),
  );
}

/** Bundle the worker last: it carries the list of all files, and a name made of what is in them. */
async function bundleWorker(icons) {
  const names = readdirSync(join(out, "assets")).sort();
  const shell = ["index.html", "manifest.webmanifest"].map((name) => readFileSync(join(out, name)));
  const id = hashOf(Buffer.concat([Buffer.from(names.join("\n")), ...shell]));
  const files = [...names.map(publicPath), "/manifest.webmanifest"];
  await build({
    absWorkingDir: home,
    entryPoints: { sw: "src/sw/worker.ts" },
    outdir: out,
    bundle: true,
    format: "iife",
    target: TARGET,
    minify: true,
    legalComments: "none",
    define: {
      PRECACHE: JSON.stringify(files),
      BUILD: JSON.stringify(id),
      ICON: JSON.stringify(icons["icon-192.png"]),
    },
    logLevel: "warning",
  });
  return { id, count: files.length };
}

function packTexts(folder) {
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) packTexts(path);
    else if (/\.(js|css|html|svg|webmanifest)$/.test(entry.name)) {
      const bytes = readFileSync(path);
      if (bytes.length >= WORTH_PACKING_B) writeFileSync(`${path}.gz`, packed(bytes));
    }
  }
}

/** Put the new files in the place of the old ones in one step, so that a running server never serves half. */
function putInPlace() {
  const old = `${out}-old`;
  if (existsSync(web)) renameSync(web, old);
  renameSync(out, web);
  rmSync(old, { recursive: true, force: true });
}

try {
  mkdirSync(join(out, "assets"), { recursive: true });
  const first = firstLoad(await bundlePage());
  checkBudget(first);
  const icons = writeIcons();
  writeManifest(icons);
  writePage(first, icons);
  const { id, count } = await bundleWorker(icons);
  packTexts(out);
  putInPlace();
  console.log(`build ${id}: ${count + 1} files kept on the phone`);
} finally {
  rmSync(out, { recursive: true, force: true });
}
