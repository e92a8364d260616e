/** Alarms: whether this phone rings, how I am rung, what rings next and who was told. `#/alarms`, `#/alarms/step/<id>` */
import { PageHead } from "../../parts/page.tsx";
import { say } from "../../words/index.ts";
import { WhereElse } from "./addresses.tsx";
import { How } from "./how.tsx";
import { OfStep } from "./step.tsx";
import { ThisPhoneRings } from "./thisphone.tsx";
import { NextUp, WhoWasTold } from "./told.tsx";

export function AlarmsScreen({ path }: { path: string[] }) {
  const [what = "", id = ""] = path;
  if (what === "step") return <OfStep id={id} />;
  return (
    <>
      <PageHead title={say("ring.title")} otherwise={["now"]} />
      <div class="columns columns-two">
        <div>
          <ThisPhoneRings />
          <How />
          <WhereElse />
        </div>
        <div>
          <NextUp />
          <WhoWasTold />
        </div>
      </div>
    </>
  );
}
