/**
 * Changing fields in a form. Only what the person changed is sent, and what somebody else changed while the form was
 * open is said before it is overwritten.
 */
import { useState } from "preact/hooks";
import { setFields } from "../store/acts/fields.ts";
import { type ItemRow, type Json, view } from "../store/view.ts";
import { say, sayOf } from "../words/index.ts";
import { attempt } from "./said.tsx";
import { valueInWords } from "./valuewords.ts";

type Fields = Record<string, Json>;

export interface Edit {
  /** What others changed meanwhile, in words; empty while there is nothing to be said. */
  clash: string;
  /** Send what was changed. Answers false when it was not sent, with the reason in sight. */
  save: () => Promise<boolean>;
}

/** The fields that were typed, and others changed to something else since the form was opened. */
function clashes(row: ItemRow, base: Fields, typed: Fields): string[] {
  const current = view.peek().item(row.kind, row.id) ?? row;
  return Object.keys(typed).filter((name) => {
    const value = view.peek().field<Json>(current, name);
    return value !== base[name] && value !== typed[name];
  });
}

function inWords(row: ItemRow, names: string[]): string {
  const current = view.peek().item(row.kind, row.id) ?? row;
  const one = (name: string) => {
    const value = valueInWords(row.kind, name, view.peek().field<Json>(current, name));
    return say("edit.meanwhile", { field: sayOf("field", name), value });
  };
  return names.length ? `${names.map(one).join(" ")} ${say("edit.again")}` : "";
}

/** Watch a form over one item. `fields` is what stands in the form now. */
export function useEdit(row: ItemRow | undefined, fields: Fields): Edit {
  const [base, setBase] = useState(fields);
  const [clash, setClash] = useState("");
  const save = async () => {
    if (!row) return false;
    const changed = Object.entries(fields).filter(([name, value]) => value !== base[name]);
    const typed = Object.fromEntries(changed);
    const words = inWords(row, clashes(row, base, typed));
    setClash(words);
    if (words && words !== clash) return false;
    if (changed.length === 0) return true;
    const done = await attempt(() => setFields(row.kind, row.id, typed), say("said.saved"));
    if (!done) return false;
    setBase(fields);
    setClash("");
    return true;
  };
  return { clash, save };
}
