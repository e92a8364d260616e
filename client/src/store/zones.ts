/** Time zones by the browser's own table. */

const formats = new Map<string, Intl.DateTimeFormat>();

function formatOf(time_zone: string): Intl.DateTimeFormat {
  const known = formats.get(time_zone);
  if (known) return known;
  const numeric = { year: "numeric", month: "numeric", day: "numeric" } as const;
  const clock = {
    hour: "numeric",
    minute: "numeric",
    second: "numeric",
    hourCycle: "h23",
  } as const;
  const made = new Intl.DateTimeFormat("en", { timeZone: time_zone, ...numeric, ...clock });
  formats.set(time_zone, made);
  return made;
}

/** How far a zone's wall clock is ahead of UTC at an instant, in seconds; 0 for a zone that is not known here. */
export function offsetS(time_zone: string, at_ms: number): number {
  try {
    const parts: Record<string, number> = {};
    for (const { type, value } of formatOf(time_zone).formatToParts(at_ms)) parts[type] = +value;
    const { year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0 } = parts;
    const wall_ms = Date.UTC(year, month - 1, day, hour, minute, second);
    return Math.round((wall_ms - Math.floor(at_ms / 1000) * 1000) / 1000);
  } catch {
    return 0;
  }
}
