/**
 * Alarms: what was missed, whether this phone rings, how I am rung, what rings next and who was told. `#/alarms`,
 * `#/alarms/step/<id>`, `#/alarms/answer/<alarm id>`, `#/alarms/health`
 */
import { Icon } from "../../parts/icon.tsx";
import { isOwner } from "../../parts/know.ts";
import { PageHead } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import { say } from "../../words/index.ts";
import { HealthScreen } from "../health.tsx";
import { WhereElse } from "./addresses.tsx";
import { AnswerAlarm } from "./answer.tsx";
import { How } from "./how.tsx";
import { WhatWasMissed } from "./missed.tsx";
import { OthersReach } from "./others.tsx";
import { OfStep } from "./step.tsx";
import { ThisPhoneRings } from "./thisphone.tsx";
import { NextUp, WhoWasTold } from "./told.tsx";

export function AlarmsScreen({ path }: { path: string[] }) {
  const [what = "", id = ""] = path;
  if (what === "step") return <OfStep id={id} />;
  if (what === "answer") return <AnswerAlarm id={id} />;
  if (what === "health") return <HealthScreen />;
  return (
    <>
      <PageHead title={say("ring.title")} otherwise={["now"]} />
      <WhatWasMissed />
      <div class="columns columns-two">
        <div>
          <ThisPhoneRings />
          <How />
          <WhereElse />
        </div>
        <div>
          {isOwner() && (
            <a class="button button-wide" href={to("alarms", "health")} data-testid="to-health">
              <Icon name="bell" />
              {say("health.title")}
            </a>
          )}
          <NextUp />
          <WhoWasTold />
          {isOwner() && <OthersReach />}
        </div>
      </div>
    </>
  );
}
