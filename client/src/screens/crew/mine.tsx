/** My own settings, and the other people who share this phone. */
import { useEffect, useState } from "preact/hooks";
import { Pick, TextField } from "../../parts/fields.tsx";
import { myself, text } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { go, to } from "../../parts/router.ts";
import { attempt } from "../../parts/said.tsx";
import { setMyself } from "../../store/acts/index.ts";
import { type Waiting, waitingOf } from "../../store/others.ts";
import { syncState } from "../../store/syncState.ts";
import { type AccountRow, accounts, me, switchAccount } from "../../store/view.ts";
import { languageName, languages, say } from "../../words/index.ts";

export function MySettings() {
  const own = myself();
  return own ? <Settings key={own.id} own={own} /> : null;
}

function Settings({ own }: { own: NonNullable<ReturnType<typeof myself>> }) {
  const [name, setName] = useState(text(own, "name"));
  const [tongue, setTongue] = useState(text(own, "language"));
  const save = () => {
    if (!name.trim()) return;
    const wanted = { name: name.trim(), language: tongue };
    const fields = Object.fromEntries(
      Object.entries(wanted).filter(([field, value]) => (own.fields[field] ?? null) !== value),
    );
    if (Object.keys(fields).length) attempt(() => setMyself(fields), say("said.saved"));
  };
  return (
    <Slab title={say("crew.me")} testid="my-settings">
      <form
        class="form slab-note"
        onSubmit={(event) => {
          event.preventDefault();
          save();
        }}
      >
        <TextField
          label={say("crew.my_name")}
          value={name}
          onInput={setName}
          autocomplete="name"
          wrong={name.trim() ? undefined : say("problem.missing")}
          testid="my-name"
        />
        <LanguagePick label={say("crew.my_language")} value={tongue} onPick={setTongue} />
        <button type="submit" class="button button-main" data-testid="my-save">
          {say("go.save")}
        </button>
      </form>
    </Slab>
  );
}

export function LanguagePick(props: {
  label: string;
  value: string;
  onPick: (value: string) => void;
}) {
  return (
    <Pick
      {...props}
      options={languages.map((tag) => ({ value: tag, label: languageName(tag) }))}
      testid="language"
    />
  );
}

export function Switch() {
  const others = accounts.value.filter((row) => row.device_id !== me.value?.device_id);
  return (
    <Slab title={say("crew.switch")} testid="switch">
      <ul class="lines">
        {others.map((row) => (
          <li key={row.device_id} class="line">
            <button
              type="button"
              class="button button-wide"
              data-testid="switch-to"
              data-device={row.device_id}
              onClick={async () => {
                if (await attempt(() => switchAccount(row.device_id), "")) go("now");
              }}
            >
              {say("crew.switch_to", { name: row.member_name })} ({row.refit_name})
            </button>
            <WaitsFor row={row} />
          </li>
        ))}
      </ul>
      <a class="button button-wide" href={to("welcome")} data-testid="join-more">
        {say("crew.join_more")}
      </a>
    </Slab>
  );
}

/** What somebody else on this phone has written and not sent: how much, never what. */
function WaitsFor({ row }: { row: AccountRow }) {
  const [waits, setWaits] = useState<Waiting>({ words: 0, pictures: 0 });
  const { running } = syncState.value;
  useEffect(() => {
    if (!running) waitingOf(row.device_id).then(setWaits, () => undefined);
  }, [row.device_id, running]);
  const { words, pictures } = waits;
  if (words + pictures === 0) return null;
  const said = [
    words > 0 && say("phone.waits_for", { n: words, name: row.member_name }),
    pictures > 0 && say("phone.waits_pictures", { n: pictures, name: row.member_name }),
  ].filter(Boolean);
  return (
    <p class="slab-note" data-testid="waits-for" data-device={row.device_id}>
      {said.join(" ")}
    </p>
  );
}
