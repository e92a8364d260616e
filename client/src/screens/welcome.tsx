/** Before anybody is signed in: join by an invite, start a refit, or get back in. */
import { useState } from "preact/hooks";
import { TextField } from "../parts/fields.tsx";
import { Icon } from "../parts/icon.tsx";
import { PageHead, Slab } from "../parts/page.tsx";
import { go, to } from "../parts/router.ts";
import { whyNot } from "../parts/said.tsx";
import { accounts, join, me, recover, switchAccount } from "../store/view.ts";
import { language, languageName, languages, say, speak } from "../words/index.ts";
import { codeToShow, codeWrittenDown } from "./code.ts";
import { CreateForm } from "./create.tsx";

export function WelcomeScreen({ path }: { path: string[] }) {
  const [what, ...rest] = path;
  if (codeToShow.value !== null) return <Code code={codeToShow.value} />;
  return (
    <div class="door">
      <Door what={what ?? ""} rest={rest} />
      <Tongues />
    </div>
  );
}

function Door({ what, rest }: { what: string; rest: string[] }) {
  if (what === "join") return <JoinForm token={rest[0] ?? ""} />;
  if (what === "create") return <CreateForm />;
  if (what === "recover") return <RecoverForm />;
  return <Doors />;
}

function Tongues() {
  return (
    <fieldset class="tongues buttons" aria-label={say("crew.my_language")}>
      {languages.map((tag) => (
        <button
          type="button"
          class="button"
          key={tag}
          lang={tag}
          aria-pressed={tag === language()}
          onClick={() => speak(tag)}
        >
          {languageName(tag)}
        </button>
      ))}
    </fieldset>
  );
}

function Doors() {
  return (
    <>
      <PageHead title={say("welcome.title")} {...(me.value ? { otherwise: ["crew"] } : {})} />
      <p class="lead">{say("welcome.what")}</p>
      <ul class="log-list">
        {(["join", "create", "recover"] as const).map((name) => (
          <li key={name}>
            <a href={to(name)} data-testid={`welcome-${name}`}>
              <Icon name={name === "join" ? "phone" : name === "create" ? "work" : "person"} />
              <span>
                <b>{say(`welcome.${name}`)}</b>
                <small>{say(`welcome.${name}_hint`)}</small>
              </span>
            </a>
          </li>
        ))}
      </ul>
      {!me.value && accounts.value.length > 0 && (
        <Slab title={say("crew.switch")}>
          {accounts.value.map((row) => (
            <button
              type="button"
              class="button button-wide"
              key={row.device_id}
              onClick={() => switchAccount(row.device_id).then(() => go("now"))}
            >
              {say("crew.switch_to", { name: row.member_name })} ({row.refit_name})
            </button>
          ))}
        </Slab>
      )}
    </>
  );
}

/** Do something that needs the server; what goes wrong is said on the form, and what was typed stays. */
export function useDeed() {
  const [busy, setBusy] = useState(false);
  const [wrong, setWrong] = useState("");
  const run = async (deed: () => Promise<void>) => {
    if (busy) return;
    setBusy(true);
    setWrong("");
    try {
      await deed();
    } catch (error) {
      setWrong(whyNot(error));
    }
    setBusy(false);
  };
  return { busy, wrong, run };
}

/** The token, whether the whole link was pasted or only its end. */
const tokenIn = (text: string) => text.trim().split("/").at(-1) ?? "";

function JoinForm({ token }: { token: string }) {
  const [link, setLink] = useState(token);
  const [phone, setPhone] = useState("");
  const [missing, setMissing] = useState(false);
  const { busy, wrong, run } = useDeed();
  const submit = () => {
    setMissing(!tokenIn(link));
    if (!tokenIn(link)) return;
    run(async () => {
      await join(tokenIn(link), phone.trim());
      go("now");
    });
  };
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        submit();
      }}
    >
      <PageHead title={say("join.title")} otherwise={["welcome"]} />
      {me.value && <p class="strong">{say("join.again")}</p>}
      {!token && (
        <TextField
          label={say("welcome.link")}
          hint={say("welcome.join_hint")}
          value={link}
          onInput={setLink}
          most={2000}
          wrong={missing ? say("join.no_token") : undefined}
          testid="join-link"
        />
      )}
      <TextField
        label={say("join.phone_name")}
        hint={`${say("join.phone_name_hint")} (${say("go.optional")})`}
        value={phone}
        onInput={setPhone}
        testid="device-name"
      />
      {wrong && (
        <p class="problem" role="alert" data-testid="problem">
          {wrong}
        </p>
      )}
      <button type="submit" class="button button-main" disabled={busy} data-testid="join">
        {say("join.do")}
      </button>
    </form>
  );
}

function RecoverForm() {
  const [refit, setRefit] = useState("");
  const [code, setCode] = useState("");
  const [phone, setPhone] = useState("");
  const { busy, wrong, run } = useDeed();
  const whole = refit.trim() !== "" && code.trim() !== "";
  return (
    <form
      class="form narrow"
      onSubmit={(event) => {
        event.preventDefault();
        if (whole)
          run(async () => {
            await recover(refit.trim(), code.trim(), phone.trim());
            go("now");
          });
      }}
    >
      <PageHead title={say("recover.title")} otherwise={["welcome"]} />
      <TextField
        label={say("recover.refit_id")}
        value={refit}
        onInput={setRefit}
        testid="recover-refit"
      />
      <TextField label={say("recover.code")} value={code} onInput={setCode} testid="recover-code" />
      <TextField
        label={say("join.phone_name")}
        hint={`${say("join.phone_name_hint")} (${say("go.optional")})`}
        value={phone}
        onInput={setPhone}
        testid="device-name"
      />
      {wrong && (
        <p class="problem" role="alert" data-testid="problem">
          {wrong}
        </p>
      )}
      <button
        type="submit"
        class="button button-main"
        disabled={busy || !whole}
        data-testid="recover"
      >
        {say("recover.do")}
      </button>
    </form>
  );
}

/** Shown once: how to get back in. */
function Code({ code }: { code: string }) {
  return (
    <section class="form narrow door" data-testid="recovery">
      <PageHead title={say("create.code_title")} />
      <p class="lead">{say("create.code_why")}</p>
      <dl class="facts facts-large">
        <div>
          <dt>{say("create.refit_id")}</dt>
          <dd class="figures">{me.value?.refit_id}</dd>
        </div>
        <div>
          <dt>{say("create.code")}</dt>
          <dd class="figures" data-testid="recovery-code">
            {code}
          </dd>
        </div>
      </dl>
      <button
        type="button"
        class="button button-main"
        data-testid="written-down"
        onClick={() => {
          codeWrittenDown();
          go("now");
        }}
      >
        {say("create.code_written")}
      </button>
    </section>
  );
}
