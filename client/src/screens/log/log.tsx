/** The log: seven things that people write down, each at most three taps from Now. `#/log/<what>/<for>` */
import type { ComponentType } from "preact";
import { Icon, type IconName } from "../../parts/icon.tsx";
import { canWork } from "../../parts/know.ts";
import { later } from "../../parts/later.tsx";
import { PageHead } from "../../parts/page.tsx";
import { to } from "../../parts/router.ts";
import type { RecordRow } from "../../store/view.ts";
import { view } from "../../store/view.ts";
import { say, sayOf } from "../../words/index.ts";
import { CoatForm } from "./coat.tsx";
import { FoundForm } from "./found.tsx";
import { HoursForm } from "./hours.tsx";
import { MixForm } from "./mix.tsx";
import { NoteForm, PhotoForm } from "./note.tsx";
import { ReadingForm } from "./reading.tsx";

const CorrectSum = later(async () => (await import("../sums/door.ts")).correctSum());

/** What a form gets: what it is for (a step or a job), or the record that it corrects. */
export interface LogForm {
  about: string;
  row: RecordRow | undefined;
}

const FORMS: Record<string, ComponentType<LogForm>> = {
  coat: CoatForm,
  mix: MixForm,
  reading: ReadingForm,
  found: FoundForm,
  note: NoteForm,
  hours: HoursForm,
  photo: PhotoForm,
};

const NAMES: IconName[] = ["coat", "mix", "reading", "found", "photo", "note", "hours"];

export function LogScreen({ path }: { path: string[] }) {
  const [what = "", about = "", id = ""] = path;
  if (!canWork())
    return (
      <>
        <PageHead title={say("log.title")} />
        <p>{say("log.viewer")}</p>
      </>
    );
  if (what === "correct" && about === "sum") return <CorrectSum path={[id]} />;
  if (what === "correct") return <Correct kind={about} id={id} />;
  const Form = FORMS[what];
  if (!Form) return <Choose />;
  return (
    <>
      <PageHead title={sayOf("log", what)} otherwise={["log"]} />
      <Form about={about} row={undefined} />
    </>
  );
}

function Correct({ kind, id }: { kind: string; id: string }) {
  const what = kind === "application" ? "coat" : kind;
  const row = view.value.records(kind).find((one) => one.id === id);
  const Form = FORMS[what];
  if (!row || !Form)
    return (
      <>
        <PageHead title={say("app.not_found")} otherwise={["now"]} />
        <p>{say("app.not_found_why")}</p>
      </>
    );
  return (
    <>
      <PageHead title={sayOf(what, "correct")} otherwise={["now"]} />
      <Form about="" row={row} />
    </>
  );
}

function Choose() {
  return (
    <>
      <PageHead title={say("log.title")} />
      <ul class="log-list">
        {NAMES.map((name) => (
          <li key={name}>
            <a href={to("log", name)} data-testid={`log-${name}`}>
              <Icon name={name} />
              <span>
                <b>{sayOf("log", name)}</b>
                <small>{sayOf("log", `${name}_hint`)}</small>
              </span>
            </a>
          </li>
        ))}
        {(["sums", "product"] as const).map((name) => (
          <li key={name}>
            <a href={to(name)} data-testid={`log-${name}`}>
              <Icon name={name === "sums" ? "sums" : "mix"} />
              <span>
                <b>{sayOf("log", name)}</b>
                <small>{sayOf("log", `${name}_hint`)}</small>
              </span>
            </a>
          </li>
        ))}
      </ul>
    </>
  );
}
