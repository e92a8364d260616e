/** The usual cautions for what is in the tin, and whose word comes before ours. */
import { type Json, view } from "../store/view.ts";
import { say, sayOf } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { item } from "./know.ts";
import { to } from "./router.ts";

interface Profile {
  typical?: boolean;
  product_class?: string;
  cautions?: string[];
  mix?: {
    by_mass?: { base: number; hardener: number } | null;
    by_volume?: { base: number; hardener: number } | null;
    catalyst?: { min_pct: number; usual_pct: number; max_pct: number } | null;
    induction_minutes?: number | null;
  };
  limits?: {
    temp_min_c?: number | null;
    temp_max_c?: number | null;
    rh_max_pct?: number | null;
    dew_margin_min_c?: number | null;
  };
}

export function profileOf(product_id: string): Profile {
  const row = item("product", product_id);
  return (row ? (view.value.field<Json>(row, "profile") as Profile | null) : null) ?? {};
}

export function Care({ product_id }: { product_id: string }) {
  const { cautions = [], typical } = profileOf(product_id);
  if (!product_id) return null;
  return (
    <section class="care" data-testid="cautions">
      <h2>
        <Icon name="care" />
        {say("caution.label")}
      </h2>
      <ul>
        {cautions.map((caution) => (
          <li key={caution}>{sayOf("caution", caution)}</li>
        ))}
        {typical && (
          <li class="strong">
            {say("caution.typical")}{" "}
            <a class="line-link" href={to("product", product_id)} data-testid="to-product">
              {say("log.product")}
            </a>
          </li>
        )}
        <li>{say("caution.defer")}</li>
      </ul>
    </section>
  );
}
