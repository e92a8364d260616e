/** What can hurt a person at this sum: its own cautions and those of the product at hand, and whose word comes first. */
import { Icon } from "../../parts/icon.tsx";
import { language, say } from "../../words/index.ts";
import { cautionIn, DEFERENCE } from "./registry.ts";

export function SumCare({ ids, typical }: { ids: readonly string[]; typical?: boolean }) {
  const tag = language();
  return (
    <section class="care" data-testid="cautions">
      <h2>
        <Icon name="care" />
        {say("caution.label")}
      </h2>
      <ul>
        {[...new Set(ids)].map((id) => (
          <li key={id}>{cautionIn(id, tag)}</li>
        ))}
        {typical && <li class="strong">{say("caution.typical")}</li>}
        <li>{DEFERENCE[tag] ?? DEFERENCE.en}</li>
      </ul>
    </section>
  );
}
