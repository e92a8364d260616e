/** The launch in one glance: when, how likely, and how much is left or lacking. */
import { Icon } from "../../parts/icon.tsx";
import { chanceOf, percentOf, spareOf } from "../../plan/chance.ts";
import type { Forecast, Proposal } from "../../plan/types.ts";
import { wholePlan } from "../../store/plans.ts";
import { number } from "../../words/dates.ts";
import { type Key, say } from "../../words/index.ts";
import { launchAt, mustBeDone, shownProposal } from "./facts.ts";
import { at, dayWritten, minute, spanTogether } from "./instants.ts";
import { lateInWords, saysInWords } from "./planwords.ts";

const TONES = { sure: "open", likely: "open", even: "closing", unlikely: "gone", hardly: "gone" };

export function Glance() {
  const launch = launchAt();
  const proposal = shownProposal();
  const forecast = wholePlan.value?.forecast ?? null;
  const chance = forecast && chanceOf(forecast.p_launch);
  const tone = forecast?.never_ends ? "gone" : chance ? TONES[chance] : "plain";
  return (
    <section class="launch plan-glance" data-testid="plan-glance" data-tone={tone}>
      <h2>{say("now.launch")}</h2>
      <p class="big-time figures">{at(launch)}</p>
      {launch > minute.value && (
        <p class="figures">{say("plan.in", { span: spanTogether(launch - minute.value) })}</p>
      )}
      {forecast?.never_ends && (
        <p class="verdict" data-tone="gone" data-testid="plan-never-ends">
          <Icon name="care" /> {say("plan.never_ends")}
        </p>
      )}
      {forecast && chance && (
        <p class="launch-left" data-testid="plan-chance" data-chance={chance}>
          {say(`plan.chance_${chance}` as Key)}
        </p>
      )}
      {forecast && (
        <p class="strong figures">{say("plan.chance_n", { n: percentOf(forecast.p_launch) })}</p>
      )}
      {proposal && <Spare proposal={proposal} launch={launch} />}
      {forecast && <Days forecast={forecast} />}
      {forecast && <Finds forecast={forecast} />}
    </section>
  );
}

/** What the plan itself says, if everything goes as it is written. */
function Spare({ proposal, launch }: { proposal: Proposal; launch: number }) {
  const { late_s } = proposal.score;
  const spare = spareOf(proposal.steps, mustBeDone, launch);
  const missed = proposal.steps.filter((step) => step.missed).length;
  const words =
    late_s > 0 || spare === null || spare < 60_000
      ? lateInWords(late_s)
      : say("plan.spare", { span: spanTogether(spare) });
  return (
    <p class="strong figures" data-testid="plan-spare">
      {say("plan.by_plan", { words })}
      {missed > 0 && ` ${say("plan.missed_n", { n: missed })}`}
    </p>
  );
}

function Days({ forecast }: { forecast: Forecast }) {
  const days = [
    ["plan.p10", forecast.p10_on],
    ["plan.p50", forecast.p50_on],
    ["plan.p90", forecast.p90_on],
  ] as const;
  return (
    <dl class="facts figures" data-testid="plan-days">
      {days.map(([key, on]) => (
        <div key={key}>
          <dt>{say(key)}</dt>
          <dd>{on === null ? say("plan.no_day") : dayWritten(on)}</dd>
        </div>
      ))}
    </dl>
  );
}

/** What the forecast says that stands here in other words. */
const SAID_ALREADY = new Set(["never_ends", "found_from_prior"]);

/** How much work finds work. */
function Finds({ forecast }: { forecast: Forecast }) {
  const { r, r_low, r_high, r_from, says } = forecast;
  const others = says.filter((code) => !SAID_ALREADY.has(code));
  return (
    <div class="plan-finds">
      <p data-testid="plan-r">
        {say(r_from === "record" ? "plan.r_record" : "plan.r_prior", {
          r: number(r, 2),
          low: number(r_low, 2),
          high: number(r_high, 2),
        })}
      </p>
      {others.map((code) => (
        <p key={code}>{saysInWords(code)}</p>
      ))}
    </div>
  );
}
