/** Crew: me and my alarms, the people and their phones, the refit's own figures. */

import { Icon } from "../../parts/icon.tsx";
import { isOwner } from "../../parts/know.ts";
import { PageHead } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import { say } from "../../words/index.ts";
import { MySettings, Switch } from "./mine.tsx";
import { People } from "./people.tsx";
import { ThisPhone } from "./phone.tsx";
import { RefitForm } from "./refit.tsx";

export function CrewScreen(_: { path: string[] }) {
  return (
    <>
      <PageHead title={say("crew.title")} otherwise={["now"]} />
      <div class="columns columns-two">
        <div>
          <People />
          {isOwner() && <RefitForm />}
        </div>
        <div>
          <a class="button button-wide" href={to("alarms")} data-testid="to-alarms">
            <Icon name="bell" />
            {say("ring.open")}
          </a>
          <ThisPhone />
          <MySettings />
          <Switch />
        </div>
      </div>
    </>
  );
}
