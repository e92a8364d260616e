/** A kept sum as a line of the record: what was asked, the answer, and behind a tap what it was given. */
import { tellOf, translated } from "../../handbook/index.ts";
import { type Json, view } from "../../store/view.ts";
import { say } from "../../words/index.ts";
import { sumNamed } from "./registry.ts";
import { inWords, largeOf } from "./result.tsx";

type Values = { [name: string]: Json };

export function KeptSum({ path }: { path: string[] }) {
  const body = view.value.record("sum", path[0] ?? "")?.body;
  if (!body) return null;
  const sum = sumNamed(String(body.name));
  const takes = body.takes as Values;
  const gives = body.gives as Values;
  if (!sum) return <p>{tellOf("title", String(body.name))}</p>;
  const large = largeOf(sum, gives);
  const schema = sum.gives.properties?.[large ?? ""] ?? {};
  return (
    <div data-testid="kept-sum" data-name={sum.name}>
      <p class="strong">{tellOf("title", sum.name)}</p>
      {large && (
        <p class="figures">
          {translated(schema.description ?? large)}:{" "}
          <b>{inWords(large, schema, gives[large] ?? null)}</b>
        </p>
      )}
      <details>
        <summary>{say("field.takes")}</summary>
        <dl class="facts figures">
          {Object.entries(sum.takes.properties ?? {})
            .filter(([name]) => takes[name] !== null && takes[name] !== undefined)
            .map(([name, field]) => (
              <div key={name}>
                <dt>{translated(field.description ?? name)}</dt>
                <dd>{inWords(name, field, takes[name] ?? null)}</dd>
              </div>
            ))}
        </dl>
      </details>
    </div>
  );
}
