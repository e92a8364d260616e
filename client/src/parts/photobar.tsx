/** How far a photo came on its way to the server: in words, and as a bar. */
import type { ComponentChildren } from "preact";
import { photoProgress } from "../store/photos.ts";
import { number } from "../words/dates.ts";
import { say } from "../words/index.ts";

const MB = 1_000_000;

/** The bar of one photo, or of whichever is under way; its children stand while none is. */
export function PhotoBar({ sha256, children }: { sha256?: string; children?: ComponentChildren }) {
  const now = photoProgress.value;
  if (!now || (sha256 && now.sha256 !== sha256)) return <>{children}</>;
  const n = Math.floor((100 * now.sent_b) / now.size_b);
  const size = number(Math.max(0.1, Math.round((10 * now.size_b) / MB) / 10));
  return (
    <div class="photo-bar" data-testid="photo-bar" data-pct={n}>
      <progress max={100} value={n} aria-label={say("photo.sending")} />
      <span class="figures">{say("photo.sent_part", { n, size })}</span>
    </div>
  );
}
