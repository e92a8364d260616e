/** The count down to the booked lift, and the way to the plan that leads there. */
import { refit, text, when } from "../parts/know.ts";
import { to } from "../parts/router.ts";
import { now } from "../store/now.ts";
import { span } from "../words/dates.ts";
import { say } from "../words/index.ts";

export function Launch() {
  const at = Date.parse(text(refit(), "launch_at"));
  if (Number.isNaN(at)) return null;
  const ahead = at > now.value;
  return (
    <section class="launch" data-testid="launch" data-tone={ahead ? "plain" : "gone"}>
      <h2>{say("now.launch")}</h2>
      <p class="launch-left figures">{ahead ? span(at - now.value) : say("now.launch_past")}</p>
      <p class="figures">
        {ahead && `${say("now.launch_left")}: `}
        {when(at)}
      </p>
      <a class="button button-wide" href={to("plan")} data-testid="to-plan">
        {say("plan.see")}
      </a>
    </section>
  );
}
