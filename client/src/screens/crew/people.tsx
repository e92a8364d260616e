/** The people, their phones, and how another comes on board. */
import { useState } from "preact/hooks";
import { Choices, TextField } from "../../parts/fields.tsx";
import { Icon } from "../../parts/icon.tsx";
import { flag, isOwner, text, when } from "../../parts/know.ts";
import { Ask, Slab } from "../../parts/page.tsx";
import { attempt, tell, whyNot } from "../../parts/said.tsx";
import {
  drop,
  type Invitation,
  type InviteBody,
  invite,
  revokeDevice,
  setFields,
} from "../../store/acts/index.ts";
import { type ItemRow, me, view } from "../../store/view.ts";
import { language, languageName, say, sayOf } from "../../words/index.ts";
import { LanguagePick } from "./mine.tsx";
import { WhatWasSent } from "./sent.tsx";

export function People() {
  const crew = view.value.items("member");
  return (
    <Slab title={say("crew.people")} testid="people">
      <ul class="lines">
        {crew.map((one) => (
          <Person key={one.id} one={one} />
        ))}
      </ul>
      {isOwner() && <InviteSomebody />}
    </Slab>
  );
}

const phonesOf = (member_id: string) =>
  view.value.items("device").filter((row) => text(row, "member_id") === member_id);

function Person({ one }: { one: ItemRow }) {
  const [made, setMade] = useState<Invitation | null>(null);
  const [asking, setAsking] = useState(false);
  const name = text(one, "name");
  const phones = phonesOf(one.id);
  const addPhone = async () => {
    const role = text(one, "role") as InviteBody["role"];
    setMade(await invited({ role, name, language: text(one, "language"), member_id: one.id }));
  };
  return (
    <li class="line person" data-testid="member" data-member={one.id}>
      <h3>
        {name}
        {one.id === me.value?.member_id && <span class="quiet"> · {say("crew.me")}</span>}
      </h3>
      <p>
        {sayOf("role", text(one, "role"))}, {languageName(text(one, "language") || "en")}
      </p>
      <details>
        <summary>{say("crew.devices", { n: phones.length })}</summary>
        <ul>
          {phones.map((row) => (
            <Phone key={row.id} row={row} />
          ))}
        </ul>
        {isOwner() && one.id !== me.value?.member_id && <RolePick one={one} />}
        {isOwner() && !asking && (
          <div class="buttons">
            <button type="button" class="button" onClick={addPhone} data-testid="add-phone">
              {say("crew.add_phone")}
            </button>
            {one.id !== me.value?.member_id && (
              <button type="button" class="button" onClick={() => setAsking(true)}>
                {say("crew.drop_member")}
              </button>
            )}
          </div>
        )}
      </details>
      {asking && (
        <Ask
          question={say("crew.drop_member_sure", { name })}
          yes={say("crew.drop_member")}
          onYes={() => attempt(() => drop("member", one.id), say("said.saved"))}
          onNo={() => setAsking(false)}
        />
      )}
      {made && <Ticket made={made} name={name} onClose={() => setMade(null)} />}
    </li>
  );
}

/** What somebody may do; one's own role is another owner's to change. */
function RolePick({ one }: { one: ItemRow }) {
  return (
    <Choices
      column
      label={say("crew.role")}
      value={text(one, "role")}
      options={roles()}
      onPick={(role) => attempt(() => setFields("member", one.id, { role }), say("said.saved"))}
      testid="member-role"
    />
  );
}

function Phone({ row }: { row: ItemRow }) {
  const [asking, setAsking] = useState(false);
  const [looking, setLooking] = useState(false);
  const mine = text(row, "member_id") === me.value?.member_id;
  const own = row.id === me.value?.device_id;
  const name = text(row, "name") || row.id;
  const gone = flag(row, "revoked");
  return (
    <li class="phone" data-testid="device" data-device={row.id}>
      <p>
        <Icon name="phone" /> {name}
        {own && ` · ${say("crew.this_phone")}`}
        {gone && <b> · {say("crew.revoked")}</b>}
      </p>
      {(isOwner() || own) && !gone && !asking && (
        <button
          type="button"
          class="button button-line"
          onClick={() => setAsking(true)}
          data-testid="revoke"
        >
          {say("crew.revoke")}
        </button>
      )}
      {(isOwner() || mine) && (
        <button
          type="button"
          class="button button-line"
          aria-expanded={looking}
          onClick={() => setLooking(!looking)}
          data-testid="see-sent"
        >
          {say("phone.see_sent")}
        </button>
      )}
      {looking && <WhatWasSent device_id={row.id} />}
      {asking && (
        <Ask
          question={say("crew.revoke_sure", { name })}
          yes={say("crew.revoke")}
          testid="revoke-ask"
          onYes={async () => {
            if (await attempt(() => revokeDevice(row.id), say("said.revoked"))) setAsking(false);
          }}
          onNo={() => setAsking(false)}
        />
      )}
    </li>
  );
}

/** Ask the server for an invite; says so where there is no signal. */
async function invited(body: InviteBody): Promise<Invitation | null> {
  try {
    return await invite(body);
  } catch (error) {
    tell(whyNot(error), true);
    return null;
  }
}

const roles = () =>
  ["hand", "viewer", "owner"].map((value) => ({
    value,
    label: `${sayOf("role", value)}: ${sayOf("role", `${value}_may`)}`,
  }));

function InviteSomebody() {
  const [open, setOpen] = useState(false);
  const [name, setName] = useState("");
  const [role, setRole] = useState<InviteBody["role"]>("hand");
  const [tongue, setTongue] = useState(language());
  const [missing, setMissing] = useState(false);
  const [busy, setBusy] = useState(false);
  const [made, setMade] = useState<Invitation | null>(null);
  const close = () => {
    setOpen(false);
    setMade(null);
    setName("");
  };
  if (!open)
    return (
      <button
        type="button"
        class="button button-main"
        onClick={() => setOpen(true)}
        data-testid="invite"
      >
        <Icon name="add" />
        {say("crew.invite")}
      </button>
    );
  if (made) return <Ticket made={made} name={name} onClose={close} />;
  const make = async () => {
    setMissing(!name.trim());
    if (!name.trim() || busy) return;
    setBusy(true);
    setMade(await invited({ role, name: name.trim(), language: tongue }));
    setBusy(false);
  };
  return (
    <form
      class="ask"
      data-testid="invite-form"
      onSubmit={(event) => {
        event.preventDefault();
        make();
      }}
    >
      <TextField
        label={say("crew.invite_name")}
        value={name}
        onInput={setName}
        wrong={missing ? say("problem.missing") : undefined}
        testid="invite-name"
      />
      <Choices
        column
        label={say("crew.invite_role")}
        value={role}
        options={roles()}
        onPick={(value) => setRole(value as InviteBody["role"])}
        testid="invite-role"
      />
      <LanguagePick label={say("crew.invite_language")} value={tongue} onPick={setTongue} />
      <div class="buttons">
        <button type="submit" class="button button-main" disabled={busy} data-testid="invite-make">
          {say("crew.invite_do")}
        </button>
        <button type="button" class="button" onClick={close}>
          {say("go.leave")}
        </button>
      </div>
    </form>
  );
}

/** The drawing of a code as an address: as a picture of its own it must name what it is written in. */
function pictureOf(svg: string): string {
  const named = svg.includes("xmlns=")
    ? svg
    : svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"');
  return `data:image/svg+xml,${encodeURIComponent(named)}`;
}

/** The invite as a code to scan and a link to send. */
function Ticket({ made, name, onClose }: { made: Invitation; name: string; onClose: () => void }) {
  const copy = () =>
    attempt(() => navigator.clipboard.writeText(made.link), say("crew.invite_copied"));
  const share = () => navigator.share({ url: made.link }).catch(() => undefined);
  return (
    <div class="ask ticket" data-testid="ticket">
      <p class="strong">{say("crew.invite_scan", { name })}</p>
      <img class="code" src={pictureOf(made.qr_svg)} alt={say("crew.invite_code", { name })} />
      <p class="figures">{say("crew.invite_expires", { when: when(made.expires_at) })}</p>
      <TextField
        label={say("crew.invite_link")}
        value={made.link}
        onInput={() => undefined}
        most={2000}
        testid="invite-link"
      />
      <div class="buttons">
        <button type="button" class="button" onClick={copy}>
          {say("crew.invite_copy")}
        </button>
        {"share" in navigator && (
          <button type="button" class="button" onClick={share}>
            {say("crew.invite_share")}
          </button>
        )}
        <button type="button" class="button" onClick={onClose}>
          {say("go.close")}
        </button>
      </div>
    </div>
  );
}
