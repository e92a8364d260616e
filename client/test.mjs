/**
 * Runs the client's tests: bundles every tests/**\/*.test.ts into a folder of its own below build/tests
 * and hands them to `node --test`. Words given on the command line keep only the files whose path contains one of them.
 */
import { spawnSync } from "node:child_process";
import { readdirSync, rmSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const home = dirname(fileURLToPath(import.meta.url));
const out = join(home, "build", "tests", String(process.pid));
const wanted = process.argv.slice(2);

const files = readdirSync(join(home, "tests"), { recursive: true })
  .map((name) => join("tests", String(name)))
  .filter((path) => /\.test\.tsx?$/.test(path))
  .filter((path) => wanted.length === 0 || wanted.some((word) => path.includes(word)))
  .sort();

if (files.length === 0) {
  console.error("no test files found");
  process.exit(1);
}

await build({
  absWorkingDir: home,
  entryPoints: files,
  outdir: out,
  outbase: "tests",
  outExtension: { ".js": ".mjs" },
  bundle: true,
  platform: "node",
  format: "esm",
  target: "node20",
  jsx: "automatic",
  jsxImportSource: "preact",
  packages: "external",
  sourcemap: "inline",
  logLevel: "warning",
});

const bundles = files.map((path) => join(out, relative("tests", path).replace(/\.tsx?$/, ".mjs")));
const run = spawnSync(process.execPath, ["--test", "--enable-source-maps", ...bundles], {
  cwd: home,
  stdio: "inherit",
});
rmSync(out, { recursive: true, force: true });
process.exit(run.status ?? 1);
