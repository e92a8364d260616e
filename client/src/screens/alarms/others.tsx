/** For an owner: on which ways others are told, never where these lead, and how one is taken away. */
import { useEffect, useState } from "preact/hooks";
import { More } from "../../parts/fields.tsx";
import { item, memberName, text, when } from "../../parts/know.ts";
import { Ask, Slab } from "../../parts/page.tsx";
import { attempt, whyNot } from "../../parts/said.tsx";
import {
  type AddressesOfOther,
  addressesOf,
  type Removal,
  stopPushes,
  takeAwayFrom,
} from "../../store/addresses.ts";
import { me, view } from "../../store/view.ts";
import { say, sayOf } from "../../words/index.ts";

export function OthersReach() {
  const others = view.value.items("member").filter((row) => row.id !== me.value?.member_id);
  if (others.length === 0) return null;
  return (
    <Slab title={say("others.title")} testid="others-reach">
      <p class="slab-note">{say("others.why")}</p>
      <div class="slab-note">
        {others.map((row) => (
          <More key={row.id} label={text(row, "name")} testid="others-one">
            <Reach member_id={row.id} />
          </More>
        ))}
      </div>
    </Slab>
  );
}

function Reach({ member_id }: { member_id: string }) {
  const [found, setFound] = useState<AddressesOfOther | null>(null);
  const [wrong, setWrong] = useState("");
  const again = () =>
    addressesOf(member_id).then(
      (answer) => {
        setFound(answer);
        setWrong("");
      },
      (error: unknown) => setWrong(whyNot(error)),
    );
  useEffect(() => void again(), []);
  if (wrong) return <p data-testid="others-wrong">{wrong}</p>;
  if (!found) return <p>{say("app.wait")}</p>;
  const none = found.addresses.length + found.push_device_ids.length === 0;
  return (
    <>
      {none && <p data-testid="others-none">{say("others.none")}</p>}
      {found.addresses.map(({ kind, usable, made_at }) => (
        <Taking
          key={kind}
          kind={kind}
          name={sayOf("reach", kind)}
          since={say(usable ? "others.since" : "others.unconfirmed", { when: when(made_at) })}
          take={() => takeAwayFrom(member_id, kind).then(again)}
        />
      ))}
      {found.push_device_ids.map((id) => (
        <Taking
          key={id}
          kind="push"
          name={say("others.push", { phone: text(item("device", id), "name") || id })}
          since={say("others.push_again")}
          take={() => stopPushes(id).then(again)}
        />
      ))}
      <Removals removed={found.removed} />
    </>
  );
}

function Taking(props: {
  kind: string;
  name: string;
  since: string;
  take: () => Promise<unknown>;
}) {
  const [asking, setAsking] = useState(false);
  return (
    <section class="form" data-testid="others-way" data-kind={props.kind}>
      <p>
        <b>{props.name}</b>: {props.since}
      </p>
      {asking ? (
        <Ask
          question={say("others.sure", { way: props.name })}
          yes={say("reach.remove")}
          testid="others-ask"
          onYes={() => attempt(props.take, say("reach.removed"))}
          onNo={() => setAsking(false)}
        />
      ) : (
        <button
          type="button"
          class="button"
          onClick={() => setAsking(true)}
          data-testid="others-remove"
        >
          {say("reach.remove")}
        </button>
      )}
    </section>
  );
}

/** What an owner took away, and when: for both to see. */
export function Removals({ removed }: { removed: readonly Removal[] }) {
  if (removed.length === 0) return null;
  return (
    <ul class="lines" data-testid="reach-removals">
      {removed.map((one) => (
        <li key={`${one.kind} ${one.removed_at}`} class="line">
          {say("others.removed", {
            way: one.kind === "push" ? pushOf(one.phone_id) : sayOf("reach", one.kind),
            name: memberName(one.by_member_id),
            when: when(one.removed_at),
          })}
        </li>
      ))}
    </ul>
  );
}

const pushOf = (id: string | null) =>
  say("others.push", { phone: text(item("device", id), "name") || (id ?? "") });
