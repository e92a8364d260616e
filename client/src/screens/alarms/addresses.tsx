/** Where else I am told: mail, my phone's calendar, a web address of my own. Each with its few steps, on the server. */
import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Slab } from "../../parts/page.tsx";
import { attempt, whyNot } from "../../parts/said.tsx";
import {
  type Address,
  type Addresses,
  type AddressKind,
  myAddresses,
  takeAway,
} from "../../store/addresses.ts";
import { OfflineError, ProblemError } from "../../store/view.ts";
import { knows, say, sayOf } from "../../words/index.ts";
import { CalendarAddress } from "./calendar.tsx";
import { MailAddress } from "./mail.tsx";
import { Removals } from "./others.tsx";
import { WebhookAddress } from "./webhook.tsx";

export interface OneAddress {
  /** What the server has; nothing where none was given. */
  own: Address | undefined;
  again: () => Promise<void>;
}

const FORMS = { mail: MailAddress, calendar: CalendarAddress, webhook: WebhookAddress };
const ORDER: AddressKind[] = ["mail", "calendar", "webhook"];

export function WhereElse() {
  const [found, setFound] = useState<Addresses | null>(null);
  const [wrong, setWrong] = useState("");
  const again = async () => {
    try {
      setFound(await myAddresses());
      setWrong("");
    } catch (error) {
      setWrong(whyNot(error));
    }
  };
  useEffect(() => void again(), []);
  return (
    <Slab title={say("reach.title")} testid="reach">
      <p class="slab-note">{say("reach.only_me")}</p>
      {wrong && (
        <div class="slab-note" data-testid="reach-wrong">
          <p>{wrong}</p>
          <button type="button" class="button" onClick={again} data-testid="reach-again">
            {say("reach.again")}
          </button>
        </div>
      )}
      {ORDER.filter((kind) => found?.offers.includes(kind)).map((kind) => {
        const Form = FORMS[kind];
        return (
          <section key={kind} class="form slab-note" data-testid="reach-kind" data-kind={kind}>
            <h3>{sayOf("reach", kind)}</h3>
            <Form own={found?.addresses.find((one) => one.kind === kind)} again={again} />
          </section>
        );
      })}
      <Removals removed={found?.removed ?? []} />
    </Slab>
  );
}

/** What went wrong, in words where they are known here; shown at the field. */
export function wrongInWords(error: unknown): string {
  if (error instanceof OfflineError || !(error instanceof ProblemError)) return whyNot(error);
  const key = `reach.wrong_${(error.type.split(":").at(-1) ?? "").replaceAll("-", "_")}`;
  return knows(key) ? say(key) : whyNot(error);
}

/** What stands there now, how its last message was refused, and the way to be rid of it. */
export function Standing({ own, again, children }: OneAddress & { children: ComponentChildren }) {
  if (!own) return null;
  const remove = () => attempt(() => takeAway(own.kind).then(again), say("reach.removed"));
  return (
    <>
      <p class="strong" data-testid="reach-standing">
        {children}
      </p>
      {own.trouble && (
        <p class="field-wrong" data-testid="reach-trouble">
          {say("reach.trouble", { why: own.trouble })}
        </p>
      )}
      <button type="button" class="button" onClick={remove} data-testid="reach-remove">
        {say("reach.remove")}
      </button>
    </>
  );
}
