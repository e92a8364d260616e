/** The air as it was measured last, and what it means for wet coats: the twin of the server's `reckoning.weather`. */
import { type AirFacts, latestAir } from "../../clocks/readiness_air.ts";
import { trackOf } from "../../clocks/temperature.ts";
import type { Reading, Track } from "../../clocks/types.ts";
import { type WeatherEdge, weatherEdge } from "../../clocks/weather_edge.ts";
import type { View } from "../types.ts";
import { curveOf, readingOf } from "./sources.ts";

const DEW_HOLDS_MS = 24 * 3600 * 1000;

export class Weather {
  /** When the temperature was measured last. */
  readonly last_at: number | null;
  readonly measured_at: number | null;
  private readonly readings: Reading[];
  private readonly air: AirFacts;
  private made: Track | null = null;

  constructor(
    private readonly rows: View,
    private readonly now_at: number,
  ) {
    this.readings = rows.trees("reading").map((one) => readingOf(one.record));
    this.air = latestAir(this.readings);
    this.measured_at = rows.items("refit")[0] ? this.air.measured_at : null;
    const warm = this.readings.filter((one) => one.air_c !== null || one.surface_c !== null);
    this.last_at = warm.length > 0 ? Math.max(...warm.map((one) => one.at)) : null;
  }

  /** The temperature from the measurement on. */
  get track(): Track {
    const refit = this.rows.items("refit")[0];
    if (!refit) throw new Error("A refit without its own item has no track.");
    const from = this.measured_at ?? this.now_at;
    this.made ??= trackOf(this.readings, curveOf(this.rows, refit, this.now_at), from);
    return this.made;
  }

  speaksOf(at: number): boolean {
    const from = this.measured_at;
    return from !== null && from <= at && at <= from + DEW_HOLDS_MS;
  }

  /** When a coat loses its margin before it is dry; null when it keeps it, or nobody can say. */
  edge(margin_k: number, start_at: number, dry_at: number | null): WeatherEdge | null {
    if (this.measured_at === null || dry_at === null || dry_at <= this.measured_at) return null;
    return weatherEdge(this.air, this.track, margin_k, start_at, dry_at);
  }
}
