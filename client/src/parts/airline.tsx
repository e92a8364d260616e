/** The last reading against what the product can stand: what is too cold, too damp, too near the dew point, too old. */
import { dewMarginC } from "../clocks/air.ts";
import { latestReading } from "../store/derived.ts";
import { now } from "../store/now.ts";
import { number } from "../words/dates.ts";
import { say } from "../words/index.ts";
import { profileOf } from "./care.tsx";
import { when } from "./know.ts";
import { to } from "./router.ts";

const OLD_MS = 3 * 3600_000;
export const LEAST_MARGIN_C = 3;

interface Air {
  air_c?: number | null;
  surface_c?: number | null;
  rh_pct?: number | null;
}

/** Surface less dew point; null where a value is missing or out of the formula's range. */
export function marginOf({ air_c, surface_c, rh_pct }: Air): number | null {
  if (typeof air_c !== "number" || typeof surface_c !== "number" || typeof rh_pct !== "number")
    return null;
  try {
    return dewMarginC(surface_c, air_c, rh_pct);
  } catch {
    return null;
  }
}

function complaints(air: Air, product_id: string): string[] {
  const limits = profileOf(product_id).limits ?? {};
  const found: string[] = [];
  const margin = marginOf(air);
  const least = limits.dew_margin_min_c ?? LEAST_MARGIN_C;
  const temp = air.surface_c ?? air.air_c;
  if (margin !== null && margin < least)
    found.push(say("air.near_dew", { margin: number(margin), least }));
  if (typeof temp === "number" && limits.temp_min_c != null && temp < limits.temp_min_c)
    found.push(say("air.cold", { n: limits.temp_min_c }));
  if (typeof temp === "number" && limits.temp_max_c != null && temp > limits.temp_max_c)
    found.push(say("air.hot", { n: limits.temp_max_c }));
  if (typeof air.rh_pct === "number" && limits.rh_max_pct != null && air.rh_pct > limits.rh_max_pct)
    found.push(say("air.damp", { n: limits.rh_max_pct }));
  return found;
}

export function AirLine({ product_id }: { product_id: string }) {
  const row = latestReading.value;
  const at = row ? Date.parse(String(row.body.taken_at)) : 0;
  const old = now.value - at > OLD_MS;
  const found = row && !old ? complaints(row.body as Air, product_id) : [];
  const tone = old ? "closing" : found.length ? "gone" : "open";
  return (
    <div class="verdict" data-tone={tone} data-testid="air-verdict">
      {!row && <p>{say("basis.no_reading")}</p>}
      {row && old && <p>{say("air.old", { when: when(at) })}</p>}
      {found.map((words) => (
        <p key={words}>{words}</p>
      ))}
      {row && !old && found.length === 0 && <p>{say("air.good", { when: when(at) })}</p>}
      {(old || !row) && <a href={to("log", "reading")}>{say("air.take")}</a>}
    </div>
  );
}
