/** Values of fields and the content of operations, as a person reads them. */
import { ITEM_KINDS, RECORD_KINDS } from "../merge/catalogue.ts";
import type { Json } from "../store/view.ts";
import { number, weekdaysInWords } from "../words/dates.ts";
import { say, sayOf } from "../words/index.ts";
import { item, stepName, text, when, zonePath } from "./know.ts";

/** What an item is called. */
export function nameOf(kind: string, id: string): string {
  const row = item(kind, id);
  if (kind === "step" && row)
    return [text(item("job", text(row, "job_id")), "title"), stepName(row)]
      .filter(Boolean)
      .join(": ");
  if (kind === "zone" && row) return zonePath(id);
  const name = text(row, "name") || text(row, "title");
  return name || sayOf("thing", kind);
}

const fieldOf = (kind: string, name: string) =>
  ITEM_KINDS.get(kind)?.fields[name] ?? RECORD_KINDS.get(kind)?.body[name];

function anyName(id: string, kinds: readonly string[]): string {
  const kind = kinds.find((one) => item(one, id) !== undefined);
  return kind ? nameOf(kind, id) : id;
}

const CHOICES: Record<string, string> = {
  kind: "kind",
  role: "role",
  held: "hold",
  mark: "record.mark",
};

/** A value by the type that its field has. */
export function valueInWords(kind: string, name: string, value: Json): string {
  if (value === null || value === "") return say("settle.empty");
  const field = fieldOf(kind, name);
  if (typeof value === "boolean") return say(value ? "go.yes" : "go.no");
  if (typeof value === "number") return number(value, 3);
  if (typeof value !== "string") return sayOf("field", name);
  if (field?.type === "instant") return when(value);
  if (field?.type === "weekdays") return weekdaysInWords(value);
  if (field?.type === "ref") return anyName(value, field.of ?? []);
  if (field?.type === "choice" && name === "mark") return sayOf("record", `mark_${value}`);
  if (field?.type === "choice") return sayOf(CHOICES[name] ?? name, value);
  return value;
}

/** What an operation held: every field and part with its value, so that no text is lost from sight. */
export function actionsInWords(actions: Json[]): [string, string][] {
  const lines: [string, string][] = [];
  for (const action of actions) {
    if (typeof action !== "object" || action === null || Array.isArray(action)) continue;
    const kind = String(action.kind ?? "");
    if (typeof action.id === "string" && item(kind, action.id))
      lines.push([sayOf("thing", kind), nameOf(kind, action.id)]);
    const values = (action.fields ?? action.body ?? {}) as Record<string, Json>;
    for (const [name, value] of Object.entries(values))
      if (name !== "profile" && name !== "rank" && value !== null && value !== "")
        lines.push([sayOf("field", name), valueInWords(kind, name, value)]);
    if (typeof action.member === "string")
      lines.push([sayOf("thing", "member"), nameOf("member", action.member)]);
  }
  return lines;
}
