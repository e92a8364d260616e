/** Crew: me and my alarms, the people and their phones, the refit's own figures. */

import { isOwner } from "../../parts/know.ts";
import { PageHead } from "../../parts/page.tsx";
import { say } from "../../words/index.ts";
import { Alarms } from "./alarms.tsx";
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
          <Alarms />
          <ThisPhone />
          <MySettings />
          <Switch />
        </div>
      </div>
    </>
  );
}
