/**
 * What the screens of sums and products say, beside the words of the first load: fetched with those screens. English is
 * complete but for what the registry of sums says itself, which is its own key; a language that lacks a text says it in
 * English.
 */
import { effect, signal } from "@preact/signals";
import { fill, language, type Params, sayOf } from "../words/index.ts";
import english from "./en.json" with { type: "json" };

type Entry = string | Partial<Record<Intl.LDMLPluralRule, string>>;
export type Texts = Readonly<Record<string, Entry>>;
export type HandKey = keyof typeof english;

const open = signal<{ language: string; texts: Texts }>({ language: "en", texts: english });

/** Open the handbook in a language; stays with English where there is none or it cannot be fetched. */
export async function openHandbook(wanted = language()): Promise<void> {
  if (wanted === open.peek().language) return;
  try {
    const texts =
      wanted === "en"
        ? english
        : ((await import(`./${wanted}.json`)) as { default: Texts }).default;
    open.value = { language: wanted, texts: { ...english, ...texts } };
  } catch {
    open.value = { language: wanted, texts: english };
  }
}

effect(() => {
  openHandbook(language());
});

function phrase(entry: Entry, params: Params): string {
  const tag = open.value.language;
  if (typeof entry === "string") return fill(entry, params, tag);
  const form = new Intl.PluralRules(tag).select(Number(params.n ?? 0));
  return fill(entry[form] ?? entry.other ?? "", params, tag);
}

/** The text for a key. */
export const tell = (key: HandKey, params: Params = {}): string =>
  phrase(open.value.texts[key] ?? key, params);

/** The text for a key made of data; what has none is shown as it came, without its lines. */
export function tellOf(prefix: string, name: string, params: Params = {}): string {
  const entry = open.value.texts[`${prefix}.${name}`];
  if (entry !== undefined) return phrase(entry, params);
  const plain = name.replaceAll("_", " ");
  return plain.charAt(0).toUpperCase() + plain.slice(1);
}

/** A choice: by the field that it belongs to, else by itself; kinds of step have their words in the first load. */
export function choiceOf(field: string, value: string): string {
  const { texts } = open.value;
  const entry = texts[`choice.${field}.${value}`] ?? texts[`choice.${value}`];
  if (entry !== undefined) return phrase(entry, {});
  return field === "kind" ? sayOf("kind", value) : tellOf("choice", value);
}

/** A text that the registry says in English, in the person's language. */
export const translated = (text: string): string => phrase(open.value.texts[text] ?? text, {});

/** A screen that waits until the handbook is open in the person's language. */
export async function withHandbook<T>(screen: T): Promise<T> {
  await openHandbook();
  return screen;
}
