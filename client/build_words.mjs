/**
 * Which words the first load needs: those that its own sources name. A key is named by itself ("go.save"); where it is
 * made of data, its beginning is ("sync." in a template, or the prefix that sayOf is given).
 */
import { readFileSync } from "node:fs";
import { join } from "node:path";

const NAMED = /["'`]([a-z_]+(?:\.[a-z_0-9]+)+)["'`]/g;
const BEGUN = /[`"']([a-z_]+\.)\$\{/g;
const ASKED_BY_PREFIX = /sayOf\(?\s*["']([a-z_]+)["']/g;

const BY_WHAT_IS_NOT_HERE = /sayOf\((?!\s*["'])\s*\S+/;

/** Give the keys, of all that there are, that sources name; a source that does not show its prefix is refused. */
export function keysNamedIn(sources, keys) {
  const found = (pattern) =>
    new Set(sources.flatMap((text) => [...text.matchAll(pattern)].map((hit) => hit[1])));
  const hidden = sources.map((text) => BY_WHAT_IS_NOT_HERE.exec(text)?.[0]).find(Boolean);
  if (hidden)
    throw new Error(`The first load asks for words in a way that cannot be read: ${hidden}`);
  const named = found(NAMED);
  const begun = [...found(BEGUN), ...[...found(ASKED_BY_PREFIX)].map((prefix) => `${prefix}.`)];
  return keys.filter((key) => named.has(key) || begun.some((start) => key.startsWith(start)));
}

/** A plug-in for esbuild: what is imported at once holds these words only, what is fetched later holds all. */
export function firstWords(home, inputs) {
  const path = join(home, "src", "words", "en.json");
  const words = JSON.parse(readFileSync(path, "utf8"));
  const sources = inputs
    .filter((name) => /^src\/.*\.tsx?$/.test(name) && name !== "src/words/index.ts")
    .map((name) => readFileSync(join(home, name), "utf8"));
  const keys = keysNamedIn(sources, Object.keys(words));
  const first = Object.fromEntries(keys.map((key) => [key, words[key]]));
  return {
    name: "first-words",
    setup(build) {
      build.onResolve({ filter: /^\.\/en\.json$/ }, ({ kind, importer }) =>
        kind === "import-statement" && importer.endsWith(join("words", "index.ts"))
          ? { path, namespace: "first-words" }
          : null,
      );
      build.onLoad({ filter: /.*/, namespace: "first-words" }, () => ({
        contents: JSON.stringify(first),
        loader: "json",
      }));
    },
  };
}
