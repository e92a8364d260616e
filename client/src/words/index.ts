/**
 * What the screens say. Every language is one JSON file here that is fetched (and precached) by its name, so that one
 * more file is one more language. Of English, the build puts into the first load what that says, and no more: the rest
 * comes with the first screen that is fetched.
 */
import { signal } from "@preact/signals";
import english from "./en.json" with { type: "json" };

export type Words = typeof english;
export type Key = keyof Words;
type Plural = Partial<Record<Intl.LDMLPluralRule, string>>;
export type Params = Record<string, string | number>;

/** Set by the build to the names of the files in this folder. */
declare const LANGUAGES: readonly string[];
export const languages: readonly string[] =
  typeof LANGUAGES === "undefined" ? ["en", "es"] : LANGUAGES;

const spoken = signal<{ language: string; words: Words; whole: boolean }>({
  language: "en",
  words: english,
  whole: false,
});

const fetchWords = async (name: string): Promise<Words> =>
  ((await import(`./${name}.json`)) as { default: Words }).default;

/** The language that is spoken now: for Intl and for the lang attribute. */
export const language = () => spoken.value.language;

/** The language with the phone's own region where it has one, so that dates look as they do elsewhere on it. */
export function region(): string {
  const tag = spoken.value.language;
  const own = typeof navigator === "undefined" ? [] : navigator.languages;
  return own.find((one) => one.toLowerCase().split("-")[0] === tag) ?? tag;
}

/** Speak another language; an unknown one, or one that cannot be fetched, leaves the present one. */
export async function speak(wanted: string): Promise<void> {
  const base = wanted.toLowerCase().split("-")[0] ?? "";
  const name = languages.includes(wanted) ? wanted : base;
  if (!languages.includes(name) || name === spoken.value.language) return;
  try {
    spoken.value = { language: name, words: await fetchWords(name), whole: true };
  } catch {
    return;
  }
  document.documentElement.lang = name;
}

/** All words of the language that is spoken, for what is not in the first load. */
export async function allWords(): Promise<void> {
  const { language: name, whole } = spoken.peek();
  if (whole) return;
  const words = await fetchWords(name);
  if (spoken.peek().language === name) spoken.value = { language: name, words, whole: true };
}

/** The language of this phone, as far as there is a file for it. */
export const phoneLanguage = () =>
  navigator.languages
    .map((tag) => tag.toLowerCase().split("-")[0] ?? "")
    .find((tag) => languages.includes(tag)) ?? "en";

/** A language's own name for itself, with a capital. */
export function languageName(tag: string): string {
  const name = new Intl.DisplayNames([tag], { type: "language" }).of(tag) ?? tag;
  return name.charAt(0).toLocaleUpperCase(tag) + name.slice(1);
}

/** Put parameters into a text; numbers are written as the language writes them. */
export function fill(text: string, params: Params, tag: string): string {
  return text.replace(/\{(\w+)\}/g, (all, name: string) => {
    const value = params[name];
    if (value === undefined) return all;
    return typeof value === "number" ? new Intl.NumberFormat(tag).format(value) : value;
  });
}

/** The text for a key. Where it has plural forms, `n` chooses among them. */
export function say(key: Key, params: Params = {}): string {
  const { language: tag, words } = spoken.value;
  const entry = words[key] as string | Plural;
  if (typeof entry === "string") return fill(entry, params, tag);
  const form = new Intl.PluralRules(tag).select(Number(params.n ?? 0));
  return fill(entry[form] ?? entry.other ?? key, params, tag);
}

/** Says whether there is a text for a key that is made of data. */
export const knows = (key: string): key is Key => key in spoken.value.words;

/** The text for a key that is made of data, such as a kind; what has no text is shown as it came. */
export function sayOf(prefix: string, name: string, params: Params = {}): string {
  const key = `${prefix}.${name}`;
  return knows(key) ? say(key, params) : name.replaceAll("_", " ");
}
